//! What a check of read tables works with: places, and the problems found so far.

use std::ops::Range;

use super::given::{Choice, Given, Words};
use super::problem::{Problem, ProblemKind};
use super::source::Source;
use super::table::Table;
use super::words::nearest;

/// The problems of a text, found one by one.
pub(crate) struct Found<'t> {
    /// The text.
    pub source: &'t Source<'t>,
    /// What is wrong, in the order in which it was found.
    pub problems: Vec<Problem>,
}

impl<'t> Found<'t> {
    /// Nothing found yet.
    pub fn new(source: &'t Source<'t>) -> Found<'t> {
        Found {
            source,
            problems: Vec::new(),
        }
    }

    /// Line of a byte, from 1.
    pub fn line(&self, byte: usize) -> usize {
        self.source.line(byte)
    }

    /// Tells a problem.
    pub fn problem(&mut self, kind: ProblemKind, span: Range<usize>) {
        // What the billet lacks is told once, not at every stage that asks for it.
        let lacks = |kind: &ProblemKind| match kind {
            ProblemKind::Needs { needs, .. } if needs.contains("[billet]") => Some(*needs),
            _ => None,
        };
        if lacks(&kind).is_some() && self.problems.iter().any(|told| lacks(&told.kind) == lacks(&kind)) {
            return;
        }
        self.problems.push(self.source.problem(kind, span));
    }

    /// A conflict between two places.
    pub fn conflict(&mut self, kind: ProblemKind, span: Range<usize>, other: Range<usize>, word: &'static str) {
        self.problem(kind, span);
        if let Some(problem) = self.problems.last_mut() {
            problem.other = Some((other, word));
        }
    }

    /// Something that must be there.
    pub fn missing(&mut self, span: Range<usize>, what: &str, hint: &str) {
        let kind = ProblemKind::Missing {
            what: what.to_owned(),
            hint: hint.to_owned(),
        };
        self.problem(kind, span);
    }

    /// A key that has no meaning where it stands.
    pub fn not_here(&mut self, key: &str, span: Range<usize>, place: &str, hint: &str) {
        let kind = ProblemKind::NotHere {
            key: key.to_owned(),
            place: place.to_owned(),
            hint: hint.to_owned(),
        };
        self.problem(kind, span);
    }

    /// A number of a key in its range. NaN stands in for a refused one, so that what follows can go on.
    pub fn in_range<T>(&mut self, given: &Given<T>, value: f64, span: Range<usize>) -> f64 {
        if given.key.allowed.contains(value) {
            return value;
        }
        self.out_of_range(given, value, (given.key.allowed.low, given.key.allowed.high), span);
        f64::NAN
    }

    /// A number outside a range that depends on other keys.
    pub fn out_of_range<T>(&mut self, given: &Given<T>, value: f64, (low, high): (f64, f64), span: Range<usize>) {
        let kind = ProblemKind::OutOfRange {
            key: given.key.name,
            value,
            unit: given.key.unit,
            allowed: super::Allowed {
                low,
                high,
                low_open: given.key.allowed.low_open,
            },
        };
        self.problem(kind, span);
    }

    /// A number where given, in its range.
    pub fn number(&mut self, given: &Given<f64>) -> Option<f64> {
        let at = given.as_ref()?;
        Some(self.in_range(given, *at.get_ref(), at.span()))
    }

    /// A whole number where given, in its range.
    pub fn whole(&mut self, given: &Given<i64>) -> Option<i64> {
        let at = given.as_ref()?;
        let value = self.in_range(given, *at.get_ref() as f64, at.span());
        value.is_finite().then_some(*at.get_ref())
    }

    /// A number that must be there; NaN stands in for a missing one.
    pub fn required(&mut self, given: &Given<f64>, place: Range<usize>, hint: &str) -> f64 {
        match self.number(given) {
            Some(value) => value,
            None => {
                self.missing(place, &format!("`{}`", given.key.name), hint);
                f64::NAN
            }
        }
    }

    /// What a word stands for, where given.
    pub fn word<T: Words>(&mut self, given: &Given<Choice<T>>) -> Option<T> {
        let at = given.as_ref()?;
        let value = at.get_ref().parse();
        if value.is_none() {
            let names = T::WORDS.iter().map(|(word, _)| *word);
            self.unknown_word(given.key.name, &at.get_ref().word, at.span(), names);
        }
        value
    }

    /// A word of those that its key declares, where given.
    pub fn one_of(&mut self, given: &Given<String>) -> Option<&'static str> {
        let at = given.as_ref()?;
        let word = given.key.words.iter().find(|word| *word == at.get_ref());
        if word.is_none() {
            self.unknown_word(given.key.name, at.get_ref(), at.span(), given.key.words.iter().copied());
        }
        word.copied()
    }

    /// A word that is none of some.
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

    /// A text of a length that its key allows, without characters that would break tables or turn lines round; only
    /// a note may have line breaks.
    pub fn text(&mut self, given: &Given<String>) -> Option<String> {
        let at = given.as_ref()?;
        self.plain(given.key.name, at.get_ref(), at.span());
        let (characters, most) = (at.get_ref().chars().count(), given.key.allowed.high as usize);
        if characters > most || at.get_ref().trim().is_empty() {
            let kind = ProblemKind::TextLength {
                key: given.key.name,
                characters: if characters > most { characters } else { 0 },
                low: 1,
                high: most,
            };
            self.problem(kind, at.span());
        }
        Some(at.get_ref().clone())
    }

    /// Refuses control characters and those that turn the direction of writing.
    pub fn plain(&mut self, key: &'static str, text: &str, span: Range<usize>) {
        let break_of_a_note = |c: &char| key == "note" && matches!(c, '\n' | '\r' | '\t');
        if let Some(c) = text.chars().find(|c| is_unfit(*c) && !break_of_a_note(c)) {
            let code = u32::from(c);
            self.problem(ProblemKind::ControlCharacter { key, code }, span);
        }
    }

    /// Refuses keys that a kind of the table does not have; the hint says what would have them.
    pub fn only(&mut self, table: &impl Table, kind: &str, place: &str, hint: impl Fn(&super::Key) -> String) {
        for slot in table.slots() {
            let key = slot.key();
            if let (Some(span), false) = (slot.span(), key.is_of(kind)) {
                self.not_here(key.name, span, place, &hint(key));
            }
        }
    }

    /// Refuses the first key that a kind of the table does not have; tells whether there was one.
    pub fn stray(&mut self, table: &impl Table, kind: &str, place: &str, hint: &str) -> bool {
        let slots = table.slots();
        let stray = slots
            .iter()
            .find(|slot| slot.span().is_some() && !slot.key().is_of(kind));
        if let Some((slot, span)) = stray.and_then(|slot| Some((slot, slot.span()?))) {
            self.not_here(slot.key().name, span, place, hint);
        }
        stray.is_some()
    }

    /// Refuses a key that means something only beside another.
    pub fn only_with<T>(&mut self, given: &Given<T>, there: bool, other: &str, hint: &str) {
        if let (Some(span), false) = (given.span(), there) {
            self.not_here(given.key.name, span, &format!("without {other}"), hint);
        }
    }

    /// Refuses two keys that say the same in two ways; tells whether there was a conflict.
    pub fn exclusive<A, B>(&mut self, one: &Given<A>, other: &Given<B>) -> bool {
        let (Some(first), Some(second)) = (one.span(), other.span()) else {
            return false;
        };
        let kind = ProblemKind::Exclusive {
            key: one.key.name,
            other: other.key.name,
        };
        self.conflict(kind, second, first, "given here too");
        true
    }
}

/// The keys of a kind of a table, in words.
pub(crate) fn keys_of<T: Table>(kind: &str) -> String {
    let blank = T::blank();
    let slots = blank.slots();
    let names = slots.iter().map(|slot| slot.key()).filter(|key| key.is_of(kind));
    names.map(|key| key.name).collect::<Vec<_>>().join(", ")
}

/// Whether a character has no place in a name: control characters, and marks, embeddings, overrides and isolates of
/// bidirectional text (Unicode Standard Annex 9).
pub(crate) fn is_unfit(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
