//! How results are shown: units, decimal sign, language.

use super::language::Language;
use super::words::Words;
use crate::judge::Moment;
use crate::picture::Style;
use crate::text::number::{down, fixed, up};
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
        Words::of(self.language).fill(key, None, |place| {
            places
                .iter()
                .find(|(name, _)| *name == place)
                .map(|(_, v)| (*v).to_owned())
        })
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
        format!("{}{}{}", word(zone, zone), self.language.colon(), word(place, place))
    }

    /// The short name of a node: its name in the file with the words of the language, `flash.mean`.
    pub fn curve(&self, node: &str) -> String {
        let word = |part: &str| match self.say(&format!("zone.{part}")) {
            "" => part.to_owned(),
            known => known.to_owned(),
        };
        node.split('.').map(word).collect::<Vec<_>>().join(".")
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

    /// A name that the program gives (a tool, a phase of a stage, a kind of heat) in plain words; any
    /// other name as it is.
    pub fn term(&self, name: &str) -> String {
        if let Some(of) = name.strip_prefix("jaws of ") {
            return self.say_with("term.jaws_of", &[("name", of)]);
        }
        let words: Vec<&str> = name
            .split(|c: char| !c.is_ascii_alphanumeric())
            .filter(|word| !word.is_empty())
            .collect();
        match self.say(&format!("term.{}", words.join("_"))) {
            "" => Moment::parse(name).map_or_else(|| name.to_owned(), |moment| self.moment(moment)),
            known => known.to_owned(),
        }
    }

    /// A chart style with this decimal sign.
    pub fn style(&self) -> Style {
        Style {
            decimal_comma: self.decimal_comma,
            no_data: self.say("map.no_data"),
            ..Style::default()
        }
    }

    /// Unit of temperatures.
    pub fn temperature_unit(&self) -> &'static str {
        self.display.temperature_unit()
    }

    /// Unit of temperature differences.
    pub fn difference_unit(&self) -> &'static str {
        self.display.difference_unit()
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
