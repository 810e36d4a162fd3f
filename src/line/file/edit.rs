//! Changing one number in the text of a line file, leaving all else as it was written.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A step from a table or list to what is in it.
#[derive(Debug, Clone, PartialEq)]
enum Step {
    Key(String),
    Item(usize),
}

/// A change of the text: what stands at the range gives way to the new text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Change {
    pub at: Range<usize>,
    pub text: String,
    /// Whether a new key is written rather than an old value replaced.
    pub inserts: bool,
}

/// Steps of an input path such as `stage.heater to upsetter.grip.length_mm`; stage names may hold dots.
fn steps(path: &str, stages: &[&str]) -> Option<Vec<Step>> {
    let mut steps = Vec::new();
    let mut rest = path;
    if let Some(after) = path.strip_prefix("stage.") {
        let (index, name) = stages
            .iter()
            .enumerate()
            .filter(|(_, name)| after.starts_with(**name) && after[name.len()..].starts_with('.'))
            .max_by_key(|(_, name)| name.len())?;
        steps.push(Step::Key("stage".to_owned()));
        steps.push(Step::Item(index));
        rest = &after[name.len() + 1..];
    }
    for part in rest.split('.') {
        match part.parse::<usize>() {
            Ok(number) => steps.push(Step::Item(number.checked_sub(1)?)),
            Err(_) if part.is_empty() => return None,
            Err(_) => steps.push(Step::Key(part.to_owned())),
        }
    }
    Some(steps)
}

/// How far a path exists in the tree.
struct Found<'a, 'i> {
    /// The innermost table on the way; `None` is the file itself.
    table: Option<&'a Spanned<DeValue<'i>>>,
    /// Keys that are missing below it.
    missing: Vec<String>,
    /// The value, when all of the path exists.
    value: Option<&'a Spanned<DeValue<'i>>>,
}

fn find<'a, 'i>(tree: &'a DeTable<'i>, steps: &[Step]) -> Option<Found<'a, 'i>> {
    let mut table = None;
    let mut here: Option<&Spanned<DeValue<'i>>> = None;
    for (index, step) in steps.iter().enumerate() {
        let next = match step {
            Step::Key(key) => {
                let inside = match here {
                    None => tree,
                    Some(value) => value.get_ref().as_table()?,
                };
                table = here;
                inside.get(key.as_str())
            }
            // `limit.1` and the like: the items of a list exist or the path does not.
            Step::Item(number) => {
                let items = here?.get_ref().as_array()?;
                Some(items.get(*number)?)
            }
        };
        match next {
            Some(value) => here = Some(value),
            None => {
                let missing = steps[index..].iter().map(|step| match step {
                    Step::Key(key) => Some(key.clone()),
                    Step::Item(_) => None,
                });
                return Some(Found {
                    table,
                    missing: missing.collect::<Option<Vec<String>>>()?,
                    value: None,
                });
            }
        }
    }
    Some(Found {
        table,
        missing: Vec::new(),
        value: here,
    })
}

/// What a path holds now, as written.
pub(crate) fn written<'t>(text: &'t str, tree: &DeTable<'_>, path: &str, stages: &[&str]) -> Option<&'t str> {
    let steps = steps(path, stages)?;
    let value = find(tree, &steps)?.value?;
    text.get(value.span())
}

/// The change that makes `path` hold `literal`; `comment` follows it where a line can take one.
pub(crate) fn change(
    text: &str,
    tree: &DeTable<'_>,
    path: &str,
    stages: &[&str],
    literal: &str,
    comment: &str,
) -> Option<Change> {
    let steps = steps(path, stages)?;
    let found = find(tree, &steps)?;
    if let Some(value) = found.value {
        if matches!(value.get_ref(), DeValue::Table(_) | DeValue::Array(_)) {
            return None;
        }
        return Some(Change {
            at: value.span(),
            text: literal.to_owned(),
            inserts: false,
        });
    }
    let key = found.missing.join(".");
    let (at, text) = match found.table {
        None => at_top(text, &found.missing, literal, comment)?,
        Some(table) => inside(text, table, &key, literal, comment)?,
    };
    Some(Change {
        at: at..at,
        text,
        inserts: true,
    })
}

/// A key of the file itself goes to the top; a key of a table that is not there yet, to the end.
fn at_top(text: &str, missing: &[String], literal: &str, comment: &str) -> Option<(usize, String)> {
    match missing {
        [key] => Some((0, format!("{key} = {literal}{comment}\n"))),
        [table, keys @ ..] => {
            let line = if text.ends_with('\n') { "" } else { "\n" };
            let key = keys.join(".");
            let new = format!("{line}\n[{table}]\n{key} = {literal}{comment}\n");
            Some((text.len(), new))
        }
        [] => None,
    }
}

/// Place and text of a new key in a table that exists: inline, under a header, or made by dotted keys.
fn inside(
    text: &str,
    table: &Spanned<DeValue<'_>>,
    key: &str,
    literal: &str,
    comment: &str,
) -> Option<(usize, String)> {
    let entries = table.get_ref().as_table()?;
    let start = table.span().start;
    let first = text.get(start..)?.chars().next()?;
    if first == '{' {
        let comma = if entries.is_empty() { "" } else { "," };
        return Some((start + 1, format!(" {key} = {literal}{comma}")));
    }
    if first == '[' {
        let line_end = text[start..].find('\n').map(|length| start + length + 1);
        return Some(match line_end {
            Some(at) => (at, format!("{key} = {literal}{comment}\n")),
            None => (text.len(), format!("\n{key} = {literal}{comment}\n")),
        });
    }
    // Made by dotted keys such as `die.upper_c = 250`: write a sister line above the first.
    let sister = entries.iter().map(|(key, _)| key.span().start).min()?;
    let line_start = text[..sister].rfind('\n').map_or(0, |at| at + 1);
    let prefix = text.get(line_start..sister)?;
    if prefix.contains(['=', '{', '#', '[']) {
        return None;
    }
    Some((line_start, format!("{prefix}{key} = {literal}{comment}\n")))
}

/// Applies changes that do not overlap.
pub(crate) fn apply(text: &str, mut changes: Vec<Change>) -> String {
    changes.sort_by_key(|change| change.at.start);
    let mut new = String::with_capacity(text.len() + 64);
    let mut done = 0;
    for change in &changes {
        new.push_str(text.get(done..change.at.start).unwrap_or(""));
        new.push_str(&change.text);
        done = change.at.end.max(done);
    }
    new.push_str(text.get(done..).unwrap_or(""));
    new
}

/// A number as TOML writes it, so that reading gives the same number.
pub(crate) fn literal(value: f64) -> String {
    if value.is_nan() {
        "nan".to_owned()
    } else if value.is_infinite() {
        if value > 0.0 { "inf" } else { "-inf" }.to_owned()
    } else if value.fract() == 0.0 && value.abs() < 1e15 {
        format!("{value:.0}")
    } else {
        format!("{value:?}")
    }
}
