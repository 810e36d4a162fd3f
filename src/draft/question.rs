//! One question: what is asked, what may be answered, what counts without an answer.

use super::answer::Refused;
use super::profile;
use crate::steel::Library;
use crate::text::{Allowed, nearest};

/// A question.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Short name: what an answer is given by on the command line.
    pub key: String,
    /// The question in words.
    pub words: String,
    /// Unit of a number; empty for others.
    pub unit: &'static str,
    /// What may be answered.
    pub answer: Takes,
    /// What counts without an answer, and why.
    pub default: Option<(String, String)>,
    /// An answer as it might look, where there is no default.
    pub example: String,
}

/// What may be answered.
#[derive(Debug, Clone, PartialEq)]
pub enum Takes {
    /// A number in a range.
    Number(Allowed),
    /// A whole number in a range.
    Whole(u32, u32),
    /// A number in a range, or a word.
    NumberOr(Allowed, &'static str),
    /// One of some words.
    Word(Vec<&'static str>),
    /// A grade of the library.
    Grade,
    /// Some text.
    Text,
    /// A name of a stage, unlike these.
    Name(Vec<String>),
    /// A name of a cross-section, unlike these.
    Section(Vec<String>),
    /// Rings about the axis: `[zone] diameter x height, ...`, of this volume in mm³.
    Rings(f64),
}

/// Longest text.
const LONGEST: usize = 120;

impl Question {
    pub(super) fn new(key: impl Into<String>, words: impl Into<String>, answer: Takes) -> Question {
        Question {
            key: key.into(),
            words: words.into(),
            unit: "",
            answer,
            default: None,
            example: String::new(),
        }
    }

    /// A number between two ends.
    pub(super) fn number(key: impl Into<String>, words: &str, unit: &'static str, (low, high): (f64, f64)) -> Question {
        let low_open = low == 0.0;
        let allowed = Allowed { low, high, low_open };
        Question {
            unit,
            ..Question::new(key, words, Takes::Number(allowed))
        }
    }

    /// With what counts without an answer.
    pub(super) fn or(mut self, value: impl ToString, reason: &str) -> Question {
        self.default = Some((value.to_string(), reason.to_owned()));
        self
    }

    /// With an answer as it might look.
    pub(super) fn like(mut self, example: &str) -> Question {
        self.example = example.to_owned();
        self
    }

    /// What may be answered, in words.
    pub fn range(&self) -> String {
        let unit = |text: String| format!("{text} {}", self.unit).trim_end().to_owned();
        match &self.answer {
            Takes::Number(allowed) => unit(allowed.to_string()),
            Takes::NumberOr(allowed, word) => format!("{}, or {word}", unit(allowed.to_string())),
            Takes::Whole(low, high) => format!("{low} to {high}"),
            Takes::Word(words) => words.join(", "),
            Takes::Grade => "a grade of the library: `billet steels` lists them".to_owned(),
            Takes::Text => format!("text of at most {LONGEST} characters"),
            Takes::Name(_) => format!("a name of at most {LONGEST} characters that no other stage has"),
            Takes::Section(_) => {
                "letters, digits, `_` and `-`, as no other cross-section and no node is called".to_owned()
            }
            Takes::Rings(_) => profile::HELP.to_owned(),
        }
    }

    /// The answer as it is kept, or why it is none.
    ///
    /// # Errors
    /// One sentence with what may be answered.
    pub fn accept(&self, given: &str) -> Result<String, Refused> {
        let given = given.trim();
        let refused = |why: &str| Refused {
            key: self.key.clone(),
            why: why.to_owned(),
            range: self.range(),
        };
        if given.is_empty() {
            return match &self.default {
                Some((value, _)) => Ok(value.clone()),
                None => Err(refused("an answer is needed")),
            };
        }
        match &self.answer {
            Takes::Number(allowed) => self.within(given, *allowed).map_err(|why| refused(&why)),
            Takes::NumberOr(_, word) if given.eq_ignore_ascii_case(word) => Ok((*word).to_owned()),
            Takes::NumberOr(allowed, _) => self.within(given, *allowed).map_err(|why| refused(&why)),
            Takes::Whole(low, high) => match given.parse::<u32>() {
                Ok(number) if (*low..=*high).contains(&number) => Ok(number.to_string()),
                Ok(_) => Err(refused(&format!("{given} is out of range"))),
                Err(_) => Err(refused(&format!("`{given}` is no whole number"))),
            },
            Takes::Word(words) => match words.iter().find(|word| word.eq_ignore_ascii_case(given)) {
                Some(word) => Ok((*word).to_owned()),
                None => Err(refused(&format!("`{given}` is none of the words"))),
            },
            Takes::Grade => grade(given).map_err(|why| refused(&why)),
            Takes::Text | Takes::Name(_) if given.chars().count() > LONGEST || given.chars().any(char::is_control) => {
                Err(refused("that is no text for a title or a name"))
            }
            Takes::Name(taken) if taken.iter().any(|name| name == given) => {
                Err(refused(&format!("`{given}` is taken by another stage")))
            }
            Takes::Section(taken) if taken.iter().any(|name| name == given) => Err(refused(&format!(
                "`{given}` is taken by another cross-section or a node"
            ))),
            Takes::Section(_) => profile::zone(given).map_err(|why| refused(&why)),
            Takes::Text | Takes::Name(_) => Ok(given.to_owned()),
            Takes::Rings(volume_mm3) => profile::parse(given)
                .and_then(|rings| profile::heights_mm(&rings, *volume_mm3))
                .map(|_| given.to_owned())
                .map_err(|why| refused(&why)),
        }
    }

    /// A number of the range, with or without its unit and with either decimal sign.
    fn within(&self, given: &str, allowed: Allowed) -> Result<String, String> {
        let bare = given.strip_suffix(self.unit).unwrap_or(given).trim();
        let number = bare.replace(',', ".").parse::<f64>().ok().filter(|n| n.is_finite());
        match number {
            Some(number) if allowed.contains(number) => Ok(number.to_string()),
            Some(_) => Err(format!("{given} is out of range")),
            None => Err(format!("`{given}` is no number")),
        }
    }
}

/// The name of a grade as the library has it.
fn grade(given: &str) -> Result<String, String> {
    let library = Library::builtin().map_err(|error| error.to_string())?;
    match library.find(given) {
        Ok(steel) => Ok(steel.name.clone()),
        Err(_) => Err(match nearest(given, library.names().iter().map(String::as_str)) {
            Some(near) => format!("no grade is called `{given}`; did you mean `{near}`?"),
            None => format!("no grade is called `{given}`"),
        }),
    }
}
