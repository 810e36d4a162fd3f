//! How finely a run resolves the part.

use serde::{Serialize, Serializer};

/// How finely a run resolves the part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Resolution {
    /// Coarse, for searches and scatter.
    Quick,
    /// Numerical error within 1 K at nearly every node, up to 2 K at the root of a flash and at corners under water
    /// (`tests/outside/numerical_error.rs`); the physics is less certain than that.
    #[default]
    Standard,
    /// For checking the others.
    Fine,
}

impl Resolution {
    /// All, from the coarsest.
    pub const ALL: [Resolution; 3] = [Resolution::Quick, Resolution::Standard, Resolution::Fine];

    /// Reads the word of a line file or a command line.
    pub fn parse(word: &str) -> Option<Resolution> {
        Self::ALL.into_iter().find(|resolution| resolution.word() == word)
    }

    /// The word used in the line file.
    pub fn word(self) -> &'static str {
        match self {
            Resolution::Quick => "quick",
            Resolution::Standard => "standard",
            Resolution::Fine => "fine",
        }
    }
}

impl Serialize for Resolution {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.word())
    }
}
