//! Moments: the instants of a stage at which temperatures are recorded, and those that limits speak of.

use std::fmt;

use serde::{Serialize, Serializer};

/// A moment in a stage.
///
/// A run records temperatures at `Start`, `End`, `Exit` and each `Blow`; the other words are those
/// of limits, and stand for one or more of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Moment {
    /// Start of the stage.
    Start,
    /// End of the stage.
    End,
    /// Heater exit, time zero.
    Exit,
    /// The first blow.
    FirstBlow,
    /// The last blow.
    LastBlow,
    /// Every blow.
    EveryBlow,
    /// Blow by number, from 1.
    Blow(u32),
    /// Every instant.
    Always,
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl Moment {
    /// The words of the line file, `blow N` aside.
    pub const WORDS: [(&'static str, Moment); 7] = [
        ("start", Moment::Start),
        ("end", Moment::End),
        ("exit", Moment::Exit),
        ("first blow", Moment::FirstBlow),
        ("last blow", Moment::LastBlow),
        ("every blow", Moment::EveryBlow),
        ("always", Moment::Always),
    ];

    /// Reads a moment as the line file writes it.
    pub fn parse(word: &str) -> Option<Moment> {
        if let Some((_, moment)) = Self::WORDS.iter().find(|(name, _)| *name == word) {
            return Some(*moment);
        }
        let number = word.strip_prefix("blow ")?;
        if !number.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        match number.parse() {
            Ok(number) if number > 0 => Some(Moment::Blow(number)),
            _ => None,
        }
    }

    /// Whether a recorded moment of a stage with `blows` blows is one that this word stands for.
    pub fn covers(self, recorded: Moment, blows: u32) -> bool {
        match recorded {
            Moment::Blow(number) => self
                .blow_range(blows)
                .is_some_and(|(first, last)| (first..=last).contains(&number)),
            other => self == other,
        }
    }

    /// Whether it is, or stands for, a blow.
    pub fn is_blow(self) -> bool {
        matches!(
            self,
            Moment::FirstBlow | Moment::LastBlow | Moment::EveryBlow | Moment::Blow(_)
        )
    }

    /// Which blows of a stage with `blows` blows it means, from 1; `None` for other moments or none.
    pub fn blow_range(self, blows: u32) -> Option<(u32, u32)> {
        match self {
            _ if blows == 0 => None,
            Moment::FirstBlow => Some((1, 1)),
            Moment::LastBlow => Some((blows, blows)),
            Moment::EveryBlow => Some((1, blows)),
            Moment::Blow(number) if number <= blows => Some((number, number)),
            _ => None,
        }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        if let Moment::Blow(number) = self {
            return write!(out, "blow {number}");
        }
        let word = Self::WORDS.iter().find(|(_, moment)| moment == self);
        out.write_str(word.map_or("", |(name, _)| name))
    }
}

#[cfg(test)]
mod tests {
    use super::Moment;

    #[test]
    fn words_of_limits_stand_for_recorded_moments() {
        let covered = |word: Moment, blows: u32| -> Vec<u32> {
            (1..=blows).filter(|n| word.covers(Moment::Blow(*n), blows)).collect()
        };
        assert_eq!(covered(Moment::FirstBlow, 3), [1]);
        assert_eq!(covered(Moment::LastBlow, 3), [3]);
        assert_eq!(covered(Moment::EveryBlow, 3), [1, 2, 3]);
        assert_eq!(covered(Moment::Blow(2), 3), [2]);
        assert_eq!(covered(Moment::Blow(4), 3), [0; 0]);
        assert!(Moment::End.covers(Moment::End, 0) && !Moment::End.covers(Moment::Start, 3));
        assert!(
            !Moment::Always.covers(Moment::End, 3),
            "followed through every step, not at moments"
        );
    }

    #[test]
    fn words_are_read_back() {
        for (word, moment) in Moment::WORDS {
            assert_eq!(Moment::parse(word), Some(moment));
            assert_eq!(moment.to_string(), word);
        }
        assert_eq!(Moment::parse("blow 3"), Some(Moment::Blow(3)));
        for wrong in ["blow 0", "blow -1", "blow +1", "blow", "blow 99999999999", "Start"] {
            assert_eq!(Moment::parse(wrong), None, "{wrong}");
        }
    }
}
