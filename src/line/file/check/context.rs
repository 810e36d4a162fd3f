//! What every check of the line file works with: the problems found, the inputs and warnings recorded.

use std::borrow::Cow;
use std::ops::{Deref, DerefMut, Range};

use crate::judge::{Datum, Warning};
use crate::line::file::metals::Metals;
use crate::line::plan::{Input, InputValue};
use crate::line::trace::Owner;
use crate::text::{Choice, Found, Given, Key, Source, Without, Words};

/// Working state of one check.
pub(crate) struct Check<'t> {
    pub found: Found<'t>,
    pub metals: &'t Metals,
    pub inputs: Vec<Input>,
    pub warnings: Vec<Warning>,
}

/// A check of the line file is a check of tables that also records inputs.
impl<'t> Deref for Check<'t> {
    type Target = Found<'t>;

    fn deref(&self) -> &Found<'t> {
        &self.found
    }
}

impl DerefMut for Check<'_> {
    fn deref_mut(&mut self) -> &mut Self::Target {
        &mut self.found
    }
}

impl<'t> Check<'t> {
    pub fn new(source: &'t Source<'t>, metals: &'t Metals) -> Check<'t> {
        Check {
            found: Found::new(source),
            metals,
            inputs: Vec::with_capacity(128),
            warnings: Vec::new(),
        }
    }

    /// Warns; the values of the sentence are told to what comes back.
    pub fn warn(&mut self, code: &str, message: String) -> &mut Warning {
        self.warnings.push(Warning::new(code, message));
        let last = self.warnings.len() - 1;
        &mut self.warnings[last]
    }

    /// A number where given: in range, recorded, warned of where it is unusual. NaN stands in for a refused one, so
    /// that what follows can go on; the plan is thrown away in the end.
    pub fn number(&mut self, base: &str, given: &Given<f64>) -> Option<f64> {
        let at = given.as_ref()?;
        Some(self.taken(base, given, *at.get_ref(), at.span()))
    }

    /// A whole number where given: in range, recorded.
    pub fn whole(&mut self, base: &str, given: &Given<i64>) -> Option<i64> {
        let at = given.as_ref()?;
        let value = self.taken(base, given, *at.get_ref() as f64, at.span());
        self.is_whole();
        value.is_finite().then_some(*at.get_ref())
    }

    fn taken<T>(&mut self, base: &str, given: &Given<T>, value: f64, span: Range<usize>) -> f64 {
        let value = self.found.in_range(given, value, span.clone());
        if !value.is_nan() {
            let source = self.line_words(span);
            self.record(base, given.key, value, Owner::Given, source);
            self.warn_unusual(base, given.key, value);
        }
        value
    }

    /// Warns of a number outside what is usual for its key.
    pub fn warn_unusual(&mut self, base: &str, key: &Key, value: f64) {
        if let Some(usual) = key.usual.filter(|usual| value < usual.low || value > usual.high) {
            let path = join(base, key.name);
            let (unit, of, low, high) = (key.unit, usual.of, usual.low, usual.high);
            let message = format!("{path} = {value} {unit} is outside {of} of {low} to {high} {unit}");
            self.warn(usual.code, message)
                .tell("path", Datum::Name(path))
                .tell("value", Datum::Plain(value))
                .tell("low", Datum::Plain(low))
                .tell("high", Datum::Plain(high))
                .tell("unit", Datum::Name(unit.to_owned()));
        }
    }

    /// Where a given value stands, in words.
    fn line_words(&self, span: Range<usize>) -> Cow<'static, str> {
        format!("line {}", self.line(span.start)).into()
    }

    /// A number that must be there.
    pub fn required(&mut self, base: &str, given: &Given<f64>, place: Range<usize>, hint: &str) -> f64 {
        match self.number(base, given) {
            Some(value) => value,
            None => {
                self.missing(place, &format!("`{}`", given.key.name), hint);
                f64::NAN
            }
        }
    }

    /// A number, or its own default.
    pub fn or_default(&mut self, base: &str, given: &Given<f64>) -> f64 {
        self.or_default_of("", base, given)
    }

    /// A number, or its default for a kind of the table.
    pub fn or_default_of(&mut self, kind: &str, base: &str, given: &Given<f64>) -> f64 {
        match self.number(base, given) {
            Some(value) => value,
            None => self.default_of(kind, base, given.key),
        }
    }

    /// A whole number, or its own default.
    pub fn whole_or_default(&mut self, base: &str, given: &Given<i64>) -> f64 {
        let value = match given.as_ref() {
            Some(at) => self.taken(base, given, *at.get_ref() as f64, at.span()),
            None => self.default_of("", base, given.key),
        };
        self.is_whole();
        value
    }

    /// Marks the input recorded last as a whole number. Where it was refused, the plan is thrown away in the end.
    fn is_whole(&mut self) {
        if let Some(input) = self.inputs.last_mut() {
            input.whole = true;
        }
    }

    fn default_of(&mut self, kind: &str, base: &str, key: &Key) -> f64 {
        let Some((value, reason)) = key.default_for(kind) else {
            return f64::NAN;
        };
        self.record(base, key, value, Owner::Default, reason.into());
        value
    }

    /// A number, or a value computed here.
    pub fn or_follow(&mut self, base: &str, given: &Given<f64>, value: f64) -> f64 {
        match self.number(base, given) {
            Some(value) => value,
            None => self.follow(base, given.key, value),
        }
    }

    /// Records a value computed here, with the reason that its key declares.
    pub fn follow(&mut self, base: &str, key: &Key, value: f64) -> f64 {
        let reason = match key.without {
            Without::Follows(reason) | Without::Default(_, reason) => reason,
            _ => "",
        };
        self.computed(base, key, value, reason.into());
        value
    }

    /// Records a value computed here, for a reason.
    pub fn computed(&mut self, base: &str, key: &Key, value: f64, reason: Cow<'static, str>) {
        self.record(base, key, value, Owner::Default, reason);
        self.follows();
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
            whole: false,
            sd: None,
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
            whole: false,
            sd: None,
        });
    }

    /// Records a word that the file gives.
    pub fn record_given(&mut self, base: &str, key: &str, word: &str, span: Range<usize>) {
        let source = self.line_words(span);
        self.record_word(base, key, word, Owner::Given, source);
    }

    /// What a word stands for, where given.
    pub fn word<T: Words>(&mut self, base: &str, given: &Given<Choice<T>>) -> Option<T> {
        let value = self.found.word(given)?;
        let at = given.as_ref()?;
        self.record_given(base, given.key.name, &at.get_ref().word, at.span());
        Some(value)
    }

    /// What a word stands for, or a default.
    pub fn word_or<T: Words>(
        &mut self,
        base: &str,
        given: &Given<Choice<T>>,
        (default, reason): (T, &'static str),
    ) -> T {
        if given.is_some() {
            return self.word(base, given).unwrap_or(default);
        }
        if let Some((name, _)) = T::WORDS.iter().find(|(_, value)| *value == default) {
            self.record_word(base, given.key.name, name, Owner::Default, reason.into());
        }
        default
    }

    /// A word of those that its key declares, where given.
    pub fn one_of(&mut self, base: &str, given: &Given<String>) -> Option<&'static str> {
        let word = self.found.one_of(given)?;
        self.record_given(base, given.key.name, word, given.span()?);
        Some(word)
    }

    /// A word of those that its key declares, or a default that is one of them.
    pub fn one_of_or(
        &mut self,
        base: &str,
        given: &Given<String>,
        (default, reason): (&'static str, &'static str),
    ) -> &'static str {
        if given.is_some() {
            return self.one_of(base, given).unwrap_or(default);
        }
        self.record_word(base, given.key.name, default, Owner::Default, reason.into());
        default
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

/// To a thousandth, for messages.
pub(crate) fn round(value: f64) -> f64 {
    (value * 1e3).round() / 1e3
}

/// A number of a stage's tool: what the stage says, or what holds for all stages.
pub(super) fn own(check: &mut Check, base: &str, given: &Given<f64>, otherwise: f64) -> f64 {
    check.number(base, given).unwrap_or(otherwise)
}
