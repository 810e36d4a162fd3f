//! A table of impressions (CSV): one row a ring, the rings of an impression under each other from the axis outwards.
//!
//! Columns, in any order: `impression` (its name), `outer_mm`, and `height_mm` or `bottom_mm` and `top_mm`; `zone`,
//! `blows` and `move_s` (the time of the move into it) where they are known. One height of an impression may be left
//! empty or be `?`: the volume of the billet gives it. Commas, or semicolons with decimal commas. Lines that begin with `#`
//! are remarks.

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

/// How far a height may be off its two ends, mm: sizes of drawings are rounded.
const ROUNDED_MM: f64 = 0.005;

/// Most impressions of a line.
pub(super) const MOST: usize = 12;

impl Impressions {
    /// Reads a table.
    ///
    /// # Errors
    /// [`TableError`] with the line.
    pub fn read(text: &str) -> Result<Impressions, TableError> {
        let text = text.trim_start_matches('\u{feff}');
        let mut lines = text
            .lines()
            .filter(|line| !line.starts_with('#') && !line.trim().is_empty());
        let semicolons = lines.next().is_some_and(|head| head.contains(';'));
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
        None if !(has("height_mm") || has("bottom_mm") && has("top_mm")) => {
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
    let open = |name: &str| match field(name) {
        Some("?") => Ok(None),
        _ => number(name),
    };
    let (bottom, top) = (number("bottom_mm")?, open("top_mm")?);
    let (bottom, height) = match (open("height_mm")?, bottom, top) {
        (Some(height), Some(bottom), Some(top)) if (top - bottom - height).abs() > ROUNDED_MM => {
            return Err(format!(
                "height_mm = {height} is not top_mm = {top} less bottom_mm = {bottom}"
            ));
        }
        (Some(height), None, Some(top)) => (Some(top - height), Some(size("height_mm", height)?)),
        (Some(height), bottom, _) => (bottom, Some(size("height_mm", height)?)),
        (None, Some(bottom), Some(top)) => (Some(bottom), Some(size("top_mm less bottom_mm", top - bottom)?)),
        (None, None, Some(top)) => {
            return Err(format!(
                "top_mm = {top} alone leaves the height open: give bottom_mm or height_mm too"
            ));
        }
        (None, bottom, None) => (bottom, None),
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
            let Some(text) = field(column) else { continue };
            match kept {
                Some(before) if before != text => {
                    return Err(format!(
                        "`{name}` has {column} = {before} in one row and {text} in another"
                    ));
                }
                _ => *kept = Some(text.to_owned()),
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
        // A remark, with whatever signs, says nothing of the dialect.
        assert_eq!(
            Impressions::read(&format!("# upset; finish\n\n{commas}")).unwrap(),
            table
        );
        assert_eq!(
            Impressions::read(&format!("# upset, finish\n{semicolons}")).unwrap(),
            table
        );
    }

    #[test]
    fn a_ring_lies_where_its_row_says() {
        let table = "impression,outer_mm,height_mm,bottom_mm,top_mm\n\
                     a,60,30,10,40\na,80,12,,31\na,90,,12,18\na,100,?,4,\na,110,6,,\n";
        let rings = &Impressions::read(table).unwrap().0[0].rings;
        let places: Vec<_> = rings.iter().map(|ring| (ring.bottom_mm, ring.height_mm)).collect();
        assert_eq!(
            places,
            [
                (Some(10.0), Some(30.0)),
                (Some(19.0), Some(12.0)),
                (Some(12.0), Some(6.0)),
                (Some(4.0), None),
                (None, Some(6.0))
            ]
        );
        let ends = Impressions::read("impression,outer_mm,bottom_mm,top_mm\na,60,2,?\n").unwrap();
        assert_eq!(
            (ends.0[0].rings[0].bottom_mm, ends.0[0].rings[0].height_mm),
            (Some(2.0), None)
        );
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
                "impression,outer_mm,height_mm,bottom_mm,top_mm\na,90,30,0,20\n",
                "line 2: height_mm = 30 is not top_mm = 20 less bottom_mm = 0",
            ),
            (
                "impression,outer_mm,bottom_mm,top_mm\na,90,,20\n",
                "line 2: top_mm = 20 alone",
            ),
            (
                "impression,outer_mm,height_mm,blows\na,90,3,2\na,95,3,\na,99,3,4\n",
                "line 4: `a` has blows = 2 in one row and 4 in another",
            ),
            (
                "impression,outer_mm,height_mm,move_s\na,90,3,2\na,95,3,3\n",
                "line 3: `a` has move_s = 2 in one row",
            ),
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
