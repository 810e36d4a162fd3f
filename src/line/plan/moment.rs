//! Moments that limits speak of.

use std::fmt;

/// A moment in a stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
