//! A table of impressions (CSV): one row a ring, the rings of an impression under each other from the axis outwards.
//!
//! Columns, in any order: `impression` (its name), `outer_mm`, and `height_mm` or `bottom_mm` and `top_mm`; `zone`,
//! `blows` and `move_s` (the time of the move into it) where they are known. One height of an impression may be left
//! empty: the volume of the billet gives it. Commas, or semicolons with decimal commas.

use super::profile::{self, Ring};
use crate::text::nearest;

/// The impressions of a table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Impressions(pub(super) Vec<Impression>);

/// One impression.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Impression {
    pub name: String,
    pub blows: Option<String>,
    pub move_s: Option<String>,
    pub rings: Vec<Ring>,
}

/// Why a table of impressions was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// It is no table.
    #[error("line {line}: {why}")]
    Line {
        /// Line of the text, from 1.
        line: u64,
        /// What is wrong.
        why: String,
    },
    /// A column is missing, unknown or there twice.
    #[error("{0}")]
    Columns(String),
}

const COLUMNS: [&str; 8] = [
    "impression",
    "zone",
    "outer_mm",
    "height_mm",
    "bottom_mm",
    "top_mm",
    "blows",
    "move_s",
];

/// Most impressions of a line.
pub(super) const MOST: usize = 12;

impl Impressions {
    /// Reads a table.
    ///
    /// # Errors
    /// [`TableError`] with the line.
    pub fn read(text: &str) -> Result<Impressions, TableError> {
        let text = text.trim_start_matches('\u{feff}');
        let semicolons = text.lines().next().is_some_and(|head| head.contains(';'));
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(if semicolons { b';' } else { b',' })
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let columns = columns(&mut reader)?;
        let mut list: Vec<Impression> = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| TableError::Line {
                line: error.position().map_or(1, csv::Position::line),
                why: "not as many fields as the first line".to_owned(),
            })?;
            let line = record.position().map_or(0, csv::Position::line);
            let field = |name: &str| {
                let at = columns.iter().position(|column| column == name);
                at.and_then(|k| record.get(k)).filter(|text| !text.is_empty())
            };
            row(&mut list, &field, semicolons).map_err(|why| TableError::Line { line, why })?;
        }
        if list.is_empty() || list.len() > MOST {
            let why = format!("the table has {} impressions, 1 to {MOST} are read", list.len());
            return Err(TableError::Columns(why));
        }
        for impression in &mut list {
            let named = |why| TableError::Columns(format!("impression `{}`: {why}", impression.name));
            impression.rings = profile::checked(std::mem::take(&mut impression.rings)).map_err(named)?;
        }
        Ok(Impressions(list))
    }

    /// What the table says to a question, where it does.
    pub fn answer(&self, key: &str) -> Option<String> {
        if key == "impressions" {
            return Some(self.0.len().to_string());
        }
        let (what, rest) = key.split_once('.')?;
        let (number, field) = rest.split_once('.')?;
        let impression = self.0.get(number.parse::<usize>().ok()?.checked_sub(1)?)?;
        match (what, field) {
            ("impression", "name") => Some(impression.name.clone()),
            ("impression", "blows") => impression.blows.clone(),
            ("move", "seconds") => impression.move_s.clone(),
            _ => None,
        }
    }
}

fn columns(reader: &mut csv::Reader<&[u8]>) -> Result<Vec<String>, TableError> {
    let wrong = |why: String| Err(TableError::Columns(why));
    let Ok(heads) = reader.headers() else {
        return wrong("the first line is to name the columns".to_owned());
    };
    let heads: Vec<String> = heads.iter().map(|head| head.to_lowercase()).collect();
    for (k, head) in heads.iter().enumerate() {
        if !COLUMNS.contains(&head.as_str()) {
            let near = nearest(head, COLUMNS)
                .map(|near| format!("; did you mean `{near}`?"))
                .unwrap_or_default();
            return wrong(format!(
                "unknown column `{head}`{near}; columns are {}",
                COLUMNS.join(", ")
            ));
        }
        if heads[..k].contains(head) {
            return wrong(format!("column `{head}` is there twice"));
        }
    }
    let has = |name: &str| heads.iter().any(|head| head == name);
    match ["impression", "outer_mm"].into_iter().find(|name| !has(name)) {
        Some(missing) => wrong(format!("there is no column `{missing}`")),
        None if !has("height_mm") && !(has("bottom_mm") && has("top_mm")) => {
            wrong("there is no column `height_mm`, nor `bottom_mm` and `top_mm`".to_owned())
        }
        None => Ok(heads),
    }
}

/// Adds a row to its impression.
fn row<'a>(
    list: &mut Vec<Impression>,
    field: &dyn Fn(&str) -> Option<&'a str>,
    decimal_comma: bool,
) -> Result<(), String> {
    let number = |name: &str| -> Result<Option<f64>, String> {
        let Some(text) = field(name) else { return Ok(None) };
        let text = if decimal_comma {
            text.replace(',', ".")
        } else {
            text.to_owned()
        };
        let number = text.parse::<f64>().ok().filter(|n| n.is_finite() && n.abs() < 1e5);
        number
            .map(Some)
            .ok_or_else(|| format!("{name}: `{text}` is no number of mm"))
    };
    let size = |name: &str, value: f64| {
        profile::size(&value.to_string())
            .unwrap_or_else(|| Err(String::new()))
            .map_err(|why| format!("{name}: {why}"))
    };
    let name = field("impression").ok_or("the row names no impression")?;
    let outer = number("outer_mm")?.ok_or("`outer_mm` is empty")?;
    let (bottom, top) = (number("bottom_mm")?, number("top_mm")?);
    let height = match (number("height_mm")?, bottom, top) {
        (Some(height), _, _) => Some(size("height_mm", height)?),
        (None, Some(bottom), Some(top)) => Some(size("top_mm less bottom_mm", top - bottom)?),
        _ => None,
    };
    let ring = Ring {
        zone: profile::zone(field("zone").unwrap_or(""))?,
        outer_mm: size("outer_mm", outer)?,
        height_mm: height,
        bottom_mm: bottom,
    };
    let known = list.iter().position(|impression| impression.name == name);
    if known.is_some_and(|k| k + 1 != list.len()) {
        return Err(format!("the rows of `{name}` are not under each other"));
    }
    if known.is_none() {
        list.push(Impression {
            name: name.to_owned(),
            blows: None,
            move_s: None,
            rings: Vec::new(),
        });
    }
    if let Some(impression) = list.last_mut() {
        impression.rings.push(ring);
        for (column, kept) in [("blows", &mut impression.blows), ("move_s", &mut impression.move_s)] {
            if let Some(text) = field(column) {
                *kept = Some(text.to_owned());
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_become_impressions_in_either_dialect() {
        let commas =
            "impression,zone,outer_mm,height_mm,blows\nupset,,92,,1\nfinish,body,66,67.4,3\nfinish,flash,150,3,\n";
        let table = Impressions::read(commas).unwrap();
        assert_eq!(table.0.len(), 2);
        assert_eq!((table.0[1].rings.len(), table.0[1].blows.as_deref()), (2, Some("3")));
        assert_eq!(table.0[0].rings[0].height_mm, None);
        let semicolons =
            "impression;zone;outer_mm;height_mm;blows\nupset;;92;;1\nfinish;body;66;67,4;3\nfinish;flash;150;3;\n";
        assert_eq!(Impressions::read(semicolons).unwrap(), table);
    }

    #[test]
    fn what_is_no_table_says_where() {
        for (text, why) in [
            ("", "no column `impression`"),
            ("impression,outer,height_mm\n", "did you mean `outer_mm`?"),
            ("impression,outer_mm,outer_mm,height_mm\n", "twice"),
            ("impression,outer_mm\n", "no column `height_mm`"),
            ("impression,outer_mm,height_mm\n", "0 impressions"),
            (
                "impression,outer_mm,height_mm\na,b,3\n",
                "line 2: outer_mm: `b` is no number",
            ),
            ("impression,outer_mm,height_mm\na,90\n", "line 2: not as many fields"),
            (
                "impression,outer_mm,height_mm\na,90,3\nb,90,3\na,95,3\n",
                "line 4: the rows of `a`",
            ),
            ("impression,outer_mm,height_mm\na,90,-3\n", "out of range"),
            (
                "impression,outer_mm,height_mm\na,90,3\na,80,3\n",
                "`a`: each ring is wider",
            ),
        ] {
            let found = Impressions::read(text).unwrap_err().to_string();
            assert!(found.contains(why), "{text}: {found}");
        }
    }
}
