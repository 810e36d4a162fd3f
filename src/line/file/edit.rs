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
        let (index, following) = named_stage(after, stages)?;
        steps.push(Step::Key("stage".to_owned()));
        steps.push(Step::Item(index));
        rest = following;
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
    let (last, prefix) = if first == '[' {
        (last_line(text, entries).unwrap_or(start), "")
    } else {
        // Made by dotted keys such as `die.upper_c = 250`: write a sister line below the last.
        let sister = entries.iter().map(|(key, _)| key.span().start).min()?;
        let line_start = text[..sister].rfind('\n').map_or(0, |at| at + 1);
        let prefix = text.get(line_start..sister)?;
        if prefix.contains(['=', '{', '#', '[']) {
            return None;
        }
        (last_line(text, entries)?, prefix)
    };
    let line_end = text[last..].find('\n').map(|length| last + length + 1);
    Some(match line_end {
        Some(at) => (at, format!("{prefix}{key} = {literal}{comment}\n")),
        None => (text.len(), format!("\n{prefix}{key} = {literal}{comment}\n")),
    })
}

/// End of the last value that stands in the lines under a table's own header.
fn last_line(text: &str, entries: &DeTable<'_>) -> Option<usize> {
    let starts_with =
        |value: &Spanned<DeValue<'_>>, c: char| text.get(value.span().start..).is_some_and(|t| t.starts_with(c));
    let ends = entries.iter().filter_map(|(_, value)| match value.get_ref() {
        DeValue::Table(_) if starts_with(value, '{') => Some(value.span().end),
        DeValue::Table(_) if starts_with(value, '[') => None,
        DeValue::Table(table) => last_line(text, table),
        DeValue::Array(items) => {
            let headers = items
                .first()
                .is_some_and(|item| item.get_ref().is_table() && starts_with(item, '['));
            (!headers).then(|| value.span().end)
        }
        _ => Some(value.span().end),
    });
    ends.max()
}

/// A path with the stage's name replaced by its number from 1: `stage.3.grip.length_mm`.
pub(crate) fn numbered<'p>(path: &'p str, stages: &[&str]) -> Option<(Option<usize>, Vec<&'p str>)> {
    let Some(after) = path.strip_prefix("stage.") else {
        return Some((None, path.split('.').collect()));
    };
    let (index, rest) = named_stage(after, stages)?;
    Some((Some(index), rest.split('.').collect()))
}

/// The stage that a path names after `stage.`, by index, and what follows its name. Names may hold
/// dots, so the longest that fits is meant.
fn named_stage<'p>(after: &'p str, stages: &[&str]) -> Option<(usize, &'p str)> {
    let fits = |name: &&str| after.strip_prefix(*name).is_some_and(|rest| rest.starts_with('.'));
    let named = stages.iter().enumerate().filter(|(_, name)| fits(name));
    let (index, name) = named.max_by_key(|(_, name)| name.len())?;
    Some((index, after.get(name.len() + 1..)?))
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
