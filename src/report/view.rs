//! How results are shown: units, decimal sign, language.

use super::chart::Style;
use super::number::{down, fixed, up};
use super::words::Language;
use crate::judge::Moment;
use crate::units::Display;

/// Units, decimal sign and language of tables, pictures and pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct View {
    /// Metric or US units.
    pub display: Display,
    /// Whether numbers are written with a decimal comma.
    pub decimal_comma: bool,
    /// Language of the words.
    pub language: Language,
}

impl From<Display> for View {
    fn from(display: Display) -> Self {
        View {
            display,
            ..View::default()
        }
    }
}

/// To which side a number is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// To the nearest.
    Nearest,
    /// Never above the exact value (an allowed time, a margin, a maximum to be kept).
    Down,
    /// Never below the exact value (a minimum to be kept).
    Up,
}

impl View {
    /// A view in a language with its usual decimal sign.
    pub fn new(display: Display, language: Language) -> Self {
        View {
            display,
            decimal_comma: language.decimal_comma(),
            language,
        }
    }

    /// The words for a key of the message file.
    pub fn say(&self, key: &str) -> &'static str {
        self.language.say(key)
    }

    /// The words for a key with its places in braces filled.
    pub fn say_with(&self, key: &str, places: &[(&str, &str)]) -> String {
        // one pass, so that a value with braces cannot be taken for a place
        let mut rest = self.say(key);
        let mut out = String::new();
        while let Some(open) = rest.find('{') {
            out.push_str(&rest[..open]);
            let Some(close) = rest[open..].find('}') else {
                break;
            };
            let name = &rest[open + 1..open + close];
            if let Some((_, value)) = places.iter().find(|(n, _)| *n == name) {
                out.push_str(value);
            }
            rest = &rest[open + close + 1..];
        }
        out.push_str(rest);
        out
    }

    /// A node in plain words; `flash.mean` becomes the zone and the place in it.
    pub fn node(&self, node: &str) -> String {
        let known = self.say(&format!("node.{node}"));
        if !known.is_empty() {
            return known.to_owned();
        }
        let Some((zone, place)) = node.rsplit_once('.') else {
            return node.to_owned();
        };
        let word = |key: &str, text: &str| {
            let found = self.say(&format!("zone.{key}"));
            if found.is_empty() {
                text.to_owned()
            } else {
                found.to_owned()
            }
        };
        format!("{}: {}", word(zone, zone), word(place, place))
    }

    /// A moment in plain words.
    pub fn moment(&self, moment: Moment) -> String {
        match moment {
            Moment::Blow(number) => self.say_with("moment.blow", &[("n", &number.to_string())]),
            other => self
                .say(&format!("moment.{}", other.to_string().replace(' ', "_")))
                .to_owned(),
        }
    }

    /// A chart style with this decimal sign.
    pub fn style(&self) -> Style {
        Style {
            decimal_comma: self.decimal_comma,
            ..Style::default()
        }
    }

    /// Unit of temperatures with the degree sign.
    pub fn temperature_unit(&self) -> &'static str {
        match self.display {
            Display::Metric => "\u{b0}C",
            Display::Us => "\u{b0}F",
        }
    }

    /// Unit of temperature differences.
    pub fn difference_unit(&self) -> &'static str {
        match self.display {
            Display::Metric => "K",
            Display::Us => "F\u{b0}",
        }
    }

    /// A number with fixed decimals.
    pub fn number(&self, value: f64, decimals: usize) -> String {
        fixed(value, decimals, self.decimal_comma)
    }

    /// A temperature in whole degrees of the display scale, without unit.
    pub fn degrees(&self, temp_c: f64, side: Side) -> String {
        self.whole(self.display.temperature(temp_c), side)
    }

    /// A temperature difference in whole degrees of the display scale, without unit.
    pub fn kelvins(&self, diff_k: f64, side: Side) -> String {
        self.whole(self.display.difference(diff_k), side)
    }

    /// A time in s with one decimal, without unit.
    pub fn seconds(&self, time_s: f64, side: Side) -> String {
        self.number(
            match side {
                Side::Nearest => time_s,
                Side::Down => down(time_s, 1),
                Side::Up => up(time_s, 1),
            },
            1,
        )
    }

    fn whole(&self, value: f64, side: Side) -> String {
        self.number(
            match side {
                Side::Nearest => value,
                Side::Down => down(value, 0),
                Side::Up => up(value, 0),
            },
            0,
        )
    }
}
