//! Kinds of stages.

use std::fmt;

use serde::{Serialize, Serializer};

/// What happens in a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Kind {
    /// Heating, before time zero.
    Heater,
    /// Moved through air, perhaps held by jaws.
    Carry,
    /// Held in free air.
    Wait,
    /// Resting on a support.
    Rest,
    /// Sprayed with water to take off the scale.
    Descale,
    /// Struck or pressed between dies.
    Forge,
    /// Flash or web taken off.
    Trim,
    /// Cooled after the last tool.
    Cool,
}

impl Kind {
    /// All kinds, in the order of a line.
    pub const ALL: [Kind; 8] = [
        Kind::Heater,
        Kind::Carry,
        Kind::Wait,
        Kind::Rest,
        Kind::Descale,
        Kind::Forge,
        Kind::Trim,
        Kind::Cool,
    ];

    /// The word of line files and results.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Heater => "heater",
            Kind::Carry => "carry",
            Kind::Wait => "wait",
            Kind::Rest => "rest",
            Kind::Descale => "descale",
            Kind::Forge => "forge",
            Kind::Trim => "trim",
            Kind::Cool => "cool",
        }
    }

    /// Reads the word of a line file or a result.
    pub fn parse(word: &str) -> Option<Kind> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// Whether tools strike or cut the part in it.
    pub fn has_tools(self) -> bool {
        matches!(self, Kind::Forge | Kind::Trim)
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(self.word())
    }
}

impl Serialize for Kind {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_read_from_its_own_word() {
        for kind in Kind::ALL {
            assert_eq!(Kind::parse(kind.word()), Some(kind));
        }
        assert_eq!(Kind::parse("anneal"), None);
    }

    /// A press and a trimming tool touch the part; nothing else strikes or cuts it.
    #[test]
    fn tools_are_those_of_forging_and_trimming() {
        let with: Vec<Kind> = Kind::ALL.into_iter().filter(|kind| kind.has_tools()).collect();
        assert_eq!(with, [Kind::Forge, Kind::Trim]);
    }
}
