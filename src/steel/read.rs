//! From text to a checked steel. All faults of a file are reported together.

use std::ops::Range;

use super::check::Checker;
use super::curve::Provenance;
use super::error::{Fault, FaultKind, FileProblem, SteelError, nearest};
use super::grade::Steel;
use super::input::SteelInput;

/// Reads and checks a steel; `rules` is [`Provenance::Library`] for the strict rules.
pub(super) fn steel(text: &str, origin: &str, rules: Provenance) -> Result<Steel, SteelError> {
    let blank = text.lines().map(str::trim).all(|l| l.is_empty() || l.starts_with('#'));
    if blank {
        return Err(SteelError::Unreadable {
            origin: origin.to_string(),
            problem: FileProblem::Empty,
        });
    }
    match toml::from_str::<SteelInput>(text) {
        Ok(input) => from_input(&input, text, 0..0, origin, rules),
        Err(e) => Err(SteelError::Invalid {
            origin: origin.to_string(),
            faults: vec![parser_fault(text, &e)],
        }),
    }
}

/// Checks a steel that was read as part of a larger file.
///
/// `text` is the whole file, so that positions fit it; `at` is the place of the steel's table, where
/// missing keys are reported. `rules` is [`Provenance::Given`] for a steel of the user's own.
pub fn from_input(
    input: &SteelInput,
    text: &str,
    at: Range<usize>,
    origin: &str,
    rules: Provenance,
) -> Result<Steel, SteelError> {
    let mut checker = Checker::new(text, at, rules);
    let steel = checker.steel(input, origin);
    let mut faults = checker.faults;
    match steel {
        Some(steel) if faults.is_empty() => Ok(steel),
        _ => {
            faults.sort_by_key(|f| f.span.start);
            Err(SteelError::Invalid {
                origin: origin.to_string(),
                faults,
            })
        }
    }
}

/// The parser's error as a fault; unknown keys get a suggestion.
fn parser_fault(text: &str, error: &toml::de::Error) -> Fault {
    let span = error.span().unwrap_or(0..0);
    let message = error.message();
    let kind = match unknown_field(message) {
        Some((key, allowed)) => FaultKind::UnknownKey {
            near: nearest(&key, allowed.iter().map(String::as_str)),
            key,
            allowed,
        },
        None => FaultKind::Syntax(message.to_string()),
    };
    Fault::at(text, span, kind)
}

/// Splits serde's "unknown field `x`, expected one of `a`, `b`" into the key and the list.
fn unknown_field(message: &str) -> Option<(String, Vec<String>)> {
    let rest = message.strip_prefix("unknown field `")?;
    let (key, rest) = rest.split_once('`')?;
    let allowed = rest.split('`').skip(1).step_by(2).map(str::to_string).collect();
    Some((key.to_string(), allowed))
}
