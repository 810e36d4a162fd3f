//! What a limit is and what a verdict says of it.

use std::fmt;

use serde::Serialize;

use crate::body::Place;

use super::{Moment, Owner};

/// What must hold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// The node must be at least this hot, degC.
    MinC(f64),
    /// The node must be at most this hot, degC.
    MaxC(f64),
    /// The two nodes may differ by at most this much, K.
    MaxDifferenceK(f64),
}

/// A limit: what must hold, at which node and which moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// Stage name; `None` means every stage.
    pub stage: Option<String>,
    /// When it must hold.
    pub moment: Moment,
    /// Node name.
    pub node: String,
    /// Second node of a difference limit.
    pub other: Option<String>,
    /// What must hold.
    pub bound: Bound,
    /// Who set it.
    pub owner: Owner,
    /// Where it comes from: the line file, or the steel's source.
    pub source: String,
}

/// The limit as data files name it: stable, in English, for example `surface >= 1150 degC, first blow, upsetter`.
/// What a reader sees is made of its parts, in his language, by what shows results.
impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.bound, &self.other) {
            (Bound::MinC(value), _) => write!(f, "{} >= {value} degC", self.node)?,
            (Bound::MaxC(value), _) => write!(f, "{} <= {value} degC", self.node)?,
            (Bound::MaxDifferenceK(value), Some(other)) => write!(f, "{} - {other} <= {value} K", self.node)?,
            (Bound::MaxDifferenceK(value), None) => write!(f, "{} spread <= {value} K", self.node)?,
        }
        write!(f, ", {}", self.moment)?;
        match &self.stage {
            Some(stage) => write!(f, ", {stage}"),
            None => Ok(()),
        }
    }
}

impl Limit {
    /// Whether it says how hot the part may be anywhere when it leaves the heater.
    pub fn is_of_the_heat(&self) -> bool {
        let there = match self.stage.as_deref() {
            None | Some("heater") => matches!(self.moment, Moment::Exit | Moment::Always),
            Some(_) => false,
        };
        there && self.node == Place::Hottest.word() && matches!(self.bound, Bound::MaxC(_))
    }

    /// How hot the part may be anywhere at any time in the heater, degC, where it says that.
    pub fn never_in_heater_c(&self) -> Option<f64> {
        match self.bound {
            Bound::MaxC(max_c) if self.is_of_the_heat() && self.moment == Moment::Always => Some(max_c),
            _ => None,
        }
    }

    /// Whether this is `general` as judged in one section of a long part, or that limit itself.
    pub fn is_case_of(&self, general: &Limit) -> bool {
        let same = |own: &str, of: &str| own == of || own.strip_suffix(of).is_some_and(|s| s.ends_with('.'));
        let others = match (&self.other, &general.other) {
            (Some(own), Some(of)) => same(own, of),
            (None, None) => true,
            _ => false,
        };
        let rest = (&self.stage, &self.moment, &self.bound, self.owner, &self.source)
            == (
                &general.stage,
                &general.moment,
                &general.bound,
                general.owner,
                &general.source,
            );
        rest && others && same(&self.node, &general.node)
    }

    /// Columns of the limited node, and of its second node, among `nodes`. On a long part a node
    /// without a section's name stands for that node of every section; `mean`, `coldest` and
    /// `hottest` are those of the whole part.
    pub(crate) fn columns(&self, nodes: &[String], sections: &[String]) -> Vec<(usize, Option<usize>)> {
        let whole = |name: &str| nodes.iter().position(|n| n == name);
        let within = |section: Option<&str>, name: &str| match section {
            Some(section) if !WHOLE.iter().any(|whole| whole.word() == name) => {
                let full = format!("{section}.{name}");
                nodes.iter().position(|n| *n == full)
            }
            _ => None,
        };
        let mut columns = Vec::new();
        for section in std::iter::once(None).chain(sections.iter().map(|s| Some(s.as_str()))) {
            let (node, other) = (within(section, &self.node), self.other.as_deref());
            let second = other.and_then(|name| within(section, name));
            if section.is_some() && node.is_none() && second.is_none() {
                continue;
            }
            let node = node.or_else(|| whole(&self.node));
            let second = second.or_else(|| whole(other?));
            match (node, second) {
                (Some(node), None) if other.is_none() => columns.push((node, None)),
                (Some(node), Some(second)) => columns.push((node, Some(second))),
                _ => {}
            }
        }
        columns
    }
}

/// Nodes that a long part has as a whole.
const WHOLE: [Place; 3] = [Place::Mean, Place::Coldest, Place::Hottest];

/// Why a limit is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Above a maximum.
    TooHot,
    /// Below a minimum.
    TooCold,
    /// Two nodes too far apart.
    TooUneven,
}

/// How one limit fared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verdict {
    /// The limit; on a long part its node is that of the worst section.
    pub limit: Limit,
    /// Whether it held.
    pub holds: bool,
    /// Index of the stage (0 is the heater) of the worst moment.
    pub stage: usize,
    /// The worst moment; `Always` where the limit holds at every instant.
    pub moment: Moment,
    /// Time of the worst moment in s after heater exit.
    pub time_s: f64,
    /// Value there: degC, or K for a difference.
    pub value: f64,
    /// Distance to the limit in K, positive when it holds.
    pub margin_k: f64,
    /// Seconds that the hand-over into this moment (or the stage itself, if it is one) could have
    /// lasted longer (positive), or by which it was too long or, for a part still too hot, too short
    /// (negative); `None` where its length neither breaks nor mends the limit, or was not asked for.
    pub margin_s: Option<f64>,
    /// Name of the stage whose length `margin_s` is about.
    pub margin_stage: Option<String>,
    /// Earliest and latest seconds of that stage for this limit, where there are such.
    pub earliest_s: Option<f64>,
    /// See `earliest_s`.
    pub latest_s: Option<f64>,
    /// First crossing in s after heater exit, to 1 ms, for limits broken during a stage.
    pub crossing_s: Option<f64>,
    /// Cause when broken.
    pub cause: Option<Cause>,
}

/// Something the user should know that is not a broken limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Warning {
    /// Short name for programs, for example `property-extrapolated`.
    pub code: String,
    /// One sentence with the numbers, in English.
    pub message: String,
    /// The names and numbers of the sentence by their places in the message files, for other languages.
    #[serde(skip)]
    pub values: Vec<(&'static str, Datum)>,
}

/// A name or a number of a warning.
#[derive(Debug, Clone, PartialEq)]
pub enum Datum {
    /// A name of the file, or a path.
    Name(String),
    /// A name that the program gives.
    Term(String),
    /// A temperature, degC.
    Celsius(f64),
    /// A time, s.
    Seconds(f64),
    /// A frequency, Hz.
    Hertz(f64),
    /// An energy, J.
    Joules(f64),
    /// How many times.
    Times(f64),
    /// A number in the unit that its key says.
    Plain(f64),
}

impl Warning {
    /// A warning without values.
    pub fn new(code: &str, message: String) -> Warning {
        Warning {
            code: code.to_owned(),
            message,
            values: Vec::new(),
        }
    }

    /// Tells one of its values.
    pub fn tell(&mut self, place: &'static str, value: Datum) -> &mut Warning {
        self.values.push((place, value));
        self
    }
}
