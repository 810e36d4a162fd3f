//! What every check works with: the place of things, the problems found, the inputs recorded.

use std::borrow::Cow;
use std::ops::Range;

use crate::judge::Warning;
use crate::line::file::keys::{Key, Without};
use crate::line::file::metals::Metals;
use crate::line::file::problem::{Problem, ProblemKind, nearest};
use crate::line::file::raw::{At, Fields};
use crate::line::plan::{Input, InputValue};
use crate::line::trace::Owner;

/// Working state of one check.
pub(crate) struct Check<'t> {
    pub text: &'t str,
    line_starts: Vec<usize>,
    pub metals: &'t Metals,
    pub problems: Vec<Problem>,
    pub inputs: Vec<Input>,
    pub warnings: Vec<Warning>,
}

impl<'t> Check<'t> {
    pub fn new(text: &'t str, metals: &'t Metals) -> Check<'t> {
        let mut line_starts = vec![0];
        line_starts.extend(text.match_indices('\n').map(|(at, _)| at + 1));
        Check {
            text,
            line_starts,
            metals,
            problems: Vec::new(),
            inputs: Vec::with_capacity(128),
            warnings: Vec::new(),
        }
    }

    /// Line of a byte, from 1.
    pub fn line(&self, byte: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= byte)
    }

    pub fn problem(&mut self, kind: ProblemKind, span: Range<usize>) {
        // What the billet lacks is told once, not at every stage that asks for it.
        let lacks = |kind: &ProblemKind| match kind {
            ProblemKind::Needs { needs, .. } if needs.contains("[billet]") => Some(*needs),
            _ => None,
        };
        if lacks(&kind).is_some() && self.problems.iter().any(|told| lacks(&told.kind) == lacks(&kind)) {
            return;
        }
        let line = self.line(span.start);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let before = self.text.get(start..span.start).unwrap_or("");
        self.problems.push(Problem {
            kind,
            span,
            line,
            column: before.chars().count() + 1,
            other: None,
        });
    }

    /// A conflict between two places.
    pub fn conflict(&mut self, kind: ProblemKind, span: Range<usize>, other: Range<usize>, word: &'static str) {
        self.problem(kind, span);
        if let Some(problem) = self.problems.last_mut() {
            problem.other = Some((other, word));
        }
    }

    pub fn missing(&mut self, span: Range<usize>, what: &str, hint: &str) {
        let kind = ProblemKind::Missing {
            what: what.to_owned(),
            hint: hint.to_owned(),
        };
        self.problem(kind, span);
    }

    pub fn warn(&mut self, code: &str, message: String) {
        self.warnings.push(Warning {
            code: code.to_owned(),
            message,
        });
    }

    /// A number where given: in range, recorded. NaN stands in for a refused one, so that what
    /// follows can go on; the plan is thrown away in the end.
    pub fn number(&mut self, base: &str, key: &Key, raw: &At<f64>) -> Option<f64> {
        let raw = raw.as_ref()?;
        Some(self.given(base, key, *raw.get_ref(), raw.span()))
    }

    /// A given number: checked and recorded.
    pub fn given(&mut self, base: &str, key: &Key, value: f64, span: Range<usize>) -> f64 {
        if !key.allowed.contains(value) {
            let kind = ProblemKind::OutOfRange {
                key: key.name,
                value,
                unit: key.unit,
                allowed: key.allowed,
            };
            self.problem(kind, span);
            return f64::NAN;
        }
        let line = self.line(span.start);
        self.record(base, key, value, Owner::Given, format!("line {line}").into());
        value
    }

    /// A number that must be there.
    pub fn required(&mut self, base: &str, key: &Key, raw: &At<f64>, place: Range<usize>, hint: &str) -> f64 {
        match self.number(base, key, raw) {
            Some(value) => value,
            None => {
                self.missing(place, &format!("`{}`", key.name), hint);
                f64::NAN
            }
        }
    }

    /// A number, or its own default.
    pub fn or_default(&mut self, base: &str, key: &Key, raw: &At<f64>) -> f64 {
        match (self.number(base, key, raw), key.without) {
            (Some(value), _) => value,
            (None, Without::Default(value, reason)) => {
                self.record(base, key, value, Owner::Default, reason.into());
                value
            }
            (None, _) => f64::NAN,
        }
    }

    /// A number, or a value computed here.
    pub fn or_follow(&mut self, base: &str, key: &Key, raw: &At<f64>, value: f64) -> f64 {
        match self.number(base, key, raw) {
            Some(value) => value,
            None => {
                let reason = match key.without {
                    Without::Follows(reason) | Without::Default(_, reason) => reason,
                    Without::Nothing | Without::Required => "",
                };
                self.record(base, key, value, Owner::Default, reason.into());
                self.follows();
                value
            }
        }
    }

    /// Marks the input recorded last as following from others.
    pub fn follows(&mut self) {
        if let Some(input) = self.inputs.last_mut() {
            input.follows = true;
        }
    }

    pub fn record(&mut self, base: &str, key: &Key, value: f64, owner: Owner, source: Cow<'static, str>) {
        self.inputs.push(Input {
            path: join(base, key.name),
            value: InputValue::Number(value),
            unit: key.unit,
            owner,
            source,
            follows: false,
            allowed: Some(key.allowed),
        });
    }

    pub fn record_word(&mut self, base: &str, key: &str, word: &str, owner: Owner, source: Cow<'static, str>) {
        self.inputs.push(Input {
            path: join(base, key),
            value: InputValue::Word(word.to_owned()),
            unit: "",
            owner,
            source,
            follows: false,
            allowed: None,
        });
    }

    /// A word of a list, where given.
    pub fn word<T: Copy>(&mut self, base: &str, key: &'static str, raw: &At<String>, words: &[(&str, T)]) -> Option<T> {
        let raw = raw.as_ref()?;
        let word = raw.get_ref().as_str();
        match words.iter().find(|(name, _)| *name == word) {
            Some((name, value)) => {
                let line = self.line(raw.span().start);
                self.record_word(base, key, name, Owner::Given, format!("line {line}").into());
                Some(*value)
            }
            None => {
                let names = words.iter().map(|(name, _)| *name);
                self.unknown_word(key, word, raw.span(), names);
                None
            }
        }
    }

    /// A word of a list, or a default that is one of them.
    pub fn word_or<T: Copy + PartialEq>(
        &mut self,
        base: &str,
        key: &'static str,
        raw: &At<String>,
        words: &[(&str, T)],
        (default, reason): (T, &'static str),
    ) -> T {
        if raw.is_some() {
            return self.word(base, key, raw, words).unwrap_or(default);
        }
        if let Some((name, _)) = words.iter().find(|(_, value)| *value == default) {
            self.record_word(base, key, name, Owner::Default, reason.into());
        }
        default
    }

    pub fn unknown_word<'a>(
        &mut self,
        what: &'static str,
        word: &str,
        span: Range<usize>,
        names: impl Iterator<Item = &'a str>,
    ) {
        let allowed: Vec<String> = names.map(str::to_owned).collect();
        let kind = ProblemKind::UnknownWord {
            what,
            word: word.to_owned(),
            nearest: nearest(word, allowed.iter().map(String::as_str)),
            allowed,
        };
        self.problem(kind, span);
    }

    /// A text of 1 to `most` characters without control characters; only a note may have line breaks.
    pub fn text(&mut self, key: &'static str, raw: &At<String>, most: usize) -> Option<String> {
        let raw = raw.as_ref()?;
        let text = raw.get_ref();
        let characters = text.chars().count();
        if characters > most || text.trim().is_empty() {
            let kind = ProblemKind::TextLength {
                key,
                characters: if characters > most { characters } else { 0 },
                low: 1,
                high: most,
            };
            self.problem(kind, raw.span());
        }
        let bad = |c: &char| c.is_control() && !(key == "note" && matches!(c, '\n' | '\r' | '\t'));
        if let Some(c) = text.chars().find(bad) {
            let code = u32::from(c);
            self.problem(ProblemKind::ControlCharacter { key, code }, raw.span());
        }
        Some(text.clone())
    }

    /// Refuses keys of a table that are not in `allowed`, saying where they would have a meaning.
    pub fn only(&mut self, table: &impl Fields, allowed: &[&str], place: &str, hint: impl Fn(&str) -> String) {
        for (key, span) in table.given() {
            if !allowed.contains(&key) {
                let kind = ProblemKind::NotHere {
                    key: key.to_owned(),
                    place: place.to_owned(),
                    hint: hint(key),
                };
                self.problem(kind, span);
            }
        }
    }

    /// Refuses the first key of a table that is not in `allowed`; tells whether there was one.
    pub fn stray(&mut self, table: &impl Fields, allowed: &[&str], place: &str, hint: &str) -> bool {
        let stray = table.given().into_iter().find(|(key, _)| !allowed.contains(key));
        let Some((key, span)) = stray else { return false };
        let kind = ProblemKind::NotHere {
            key: key.to_owned(),
            place: place.to_owned(),
            hint: hint.to_owned(),
        };
        self.problem(kind, span);
        true
    }

    /// Refuses two keys that say the same in two ways; tells whether there was a conflict.
    pub fn exclusive<A, B>(&mut self, key: &'static str, raw: &At<A>, other_key: &'static str, other: &At<B>) -> bool {
        if let (Some(a), Some(b)) = (raw, other) {
            let kind = ProblemKind::Exclusive { key, other: other_key };
            let (first, second) = (a.span(), b.span());
            self.conflict(kind, second, first, "given here too");
            return true;
        }
        false
    }
}

/// Path of a key in a table.
pub(crate) fn join(base: &str, key: &str) -> String {
    if base.is_empty() {
        key.to_owned()
    } else {
        let mut path = String::with_capacity(base.len() + 1 + key.len());
        path.push_str(base);
        path.push('.');
        path.push_str(key);
        path
    }
}
