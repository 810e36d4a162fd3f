//! The result file: one header line, one line a row, one closing line that says whether the part is complete, with a
//! digest.
//!
//! Numbers are written in the shortest form that reads back to the same bits.

use std::path::Path;

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::error::ShardError;
use super::rows::{SampleRow, Shard, StudyKey};
use crate::output::write_file;
use crate::text::load_results;

/// Version of the file layout.
const LAYOUT: u32 = 2;

#[derive(Serialize, Deserialize)]
struct Header {
    layout: u32,
    part: u64,
    parts: u64,
    key: StudyKey,
}

/// Writes a part, finished or not, in one step: a reader or a crash never sees half a file.
///
/// # Errors
/// [`ShardError::Unwritten`].
pub fn write_shard(path: &Path, shard: &Shard) -> Result<(), ShardError> {
    let header = Header {
        layout: LAYOUT,
        part: shard.part,
        parts: shard.parts,
        key: shard.key.clone(),
    };
    let mut text = json!(header).to_string();
    text.push('\n');
    for row in &shard.rows {
        text.push_str(&row.index.to_string());
        match &row.result {
            Ok(values) => {
                for value in values {
                    text.push(' ');
                    text.push_str(&format!("{value:?}"));
                }
            }
            Err(message) => {
                text.push_str(" ! ");
                text.push_str(&message.replace(['\n', '\r'], " "));
            }
        }
        text.push('\n');
    }
    text.push_str(&format!("{} {:016x}\n", closing(shard), digest(&text)));
    Ok(write_file(path, text.as_bytes())?)
}

/// The closing line of a part without its digest: `complete 1000 of 1000`, `INCOMPLETE 32 of 1000`.
fn closing(shard: &Shard) -> String {
    let word = if shard.is_complete() { "complete" } else { "INCOMPLETE" };
    format!("{word} {} of {}", shard.rows.len(), shard.samples())
}

/// Reads a part back.
///
/// # Errors
/// A file that cannot be read, or one that is damaged in any line.
pub fn read_shard(path: &Path) -> Result<Shard, ShardError> {
    let text = load_results(path, "the header, the rows and the closing line of a result file")?;
    let corrupt = |line: usize, message: &str| ShardError::Corrupt {
        path: path.to_owned(),
        line,
        message: message.to_owned(),
    };
    let lines: Vec<&str> = text.lines().collect();
    let header: Header = lines
        .first()
        .and_then(|line| serde_json::from_str(line).ok())
        .ok_or_else(|| corrupt(1, "no header"))?;
    if header.layout != LAYOUT {
        return Err(corrupt(
            1,
            &format!("layout {} (this program reads {LAYOUT})", header.layout),
        ));
    }
    let mut shard = Shard::new(header.key, header.part, header.parts)?;
    let range = shard.indices();
    // The closing line has its line break; a file that was cut off within it has none.
    let body = text.strip_suffix('\n').and_then(|text| text.rsplit_once('\n'));
    let unfit = || corrupt(lines.len(), "the closing line does not fit (file cut off or changed)");
    let (_, end) = body.ok_or_else(unfit)?;
    let (said, sum) = end.rsplit_once(' ').ok_or_else(unfit)?;
    let whole = format!("{:016x}", digest(&text[..text.len() - end.len() - 1]));
    if sum != whole || lines.len() < 2 {
        return Err(unfit());
    }
    for (k, line) in lines[1..lines.len() - 1].iter().enumerate() {
        let number = k + 2;
        let (index, rest) = line.split_once(' ').unwrap_or((line, ""));
        let index: u64 = index.parse().map_err(|_| corrupt(number, "no sample index"))?;
        let ordered = shard.rows.last().is_none_or(|row| row.index < index);
        if !range.contains(&index) || !ordered {
            return Err(corrupt(number, &format!("sample {index} is out of place")));
        }
        let result = if let Some(message) = rest.strip_prefix("! ") {
            Err(message.to_owned())
        } else {
            let values: Vec<f64> = rest
                .split_ascii_whitespace()
                .map(|cell| {
                    let value = cell.parse::<f64>().ok().filter(|value| value.is_finite());
                    value.ok_or_else(|| corrupt(number, "not a finite number"))
                })
                .collect::<Result<_, _>>()?;
            if values.len() != shard.key.outputs.len() {
                return Err(corrupt(number, "wrong number of values"));
            }
            Ok(values)
        };
        shard.rows.push(SampleRow { index, result });
    }
    if said != closing(&shard) {
        return Err(unfit());
    }
    Ok(shard)
}

/// 64-bit FNV-1a: finds damage, is not meant against forgery. G. Fowler, L. C. Noll, K.-P. Vo and
/// D. Eastlake, "The FNV non-cryptographic hash algorithm" (RFC 9923).
pub(crate) fn digest(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::super::{gather, merge};
    use super::*;

    fn key(samples: u64) -> StudyKey {
        StudyKey {
            study: "abc".into(),
            program: "0.1.0".into(),
            seed: 1,
            samples,
            outputs: vec!["a".into(), "b".into()],
        }
    }

    fn filled(part: u64, parts: u64) -> Shard {
        let mut shard = Shard::new(key(10), part, parts).unwrap();
        for index in shard.indices() {
            let x = 1.0 / (index as f64 + 3.0);
            shard.rows.push(SampleRow {
                index,
                result: if index == 4 {
                    Err("did not\nsettle".into())
                } else {
                    Ok(vec![x, -x * 1e-300])
                },
            });
        }
        shard
    }

    #[test]
    fn parts_merge_to_the_whole() {
        let folder = tempfile::tempdir().unwrap();
        let mut parts = Vec::new();
        for part in 1..=3 {
            let path = folder.path().join(format!("{part}.shard"));
            write_shard(&path, &filled(part, 3)).unwrap();
            parts.push(read_shard(&path).unwrap());
        }
        let whole = folder.path().join("whole.shard");
        write_shard(&whole, &filled(1, 1)).unwrap();
        let whole = read_shard(&whole).unwrap();
        assert_eq!(merge(parts.clone()).unwrap(), whole);
        let two = parts[..2].to_vec();
        assert!(matches!(
            merge(two.clone()),
            Err(ShardError::Incomplete {
                missing: 4,
                samples: 10,
                ..
            })
        ));
        assert_eq!(gather(two).unwrap().rows.len(), 6);
        parts.push(parts[0].clone());
        assert!(matches!(merge(parts), Err(ShardError::Twice { index: 0 })));
        assert!(matches!(merge(vec![]), Err(ShardError::Nothing)));
    }

    #[test]
    fn any_changed_byte_is_noticed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.shard");
        write_shard(&path, &filled(1, 1)).unwrap();
        let good = std::fs::read(&path).unwrap();
        for cut in 0..good.len() - 1 {
            std::fs::write(&path, &good[..cut]).unwrap();
            assert!(read_shard(&path).is_err(), "cut at {cut}");
        }
        for place in 0..good.len() - 1 {
            let mut bad = good.clone();
            bad[place] ^= 1;
            std::fs::write(&path, &bad).unwrap();
            assert!(read_shard(&path).is_err(), "changed at {place}");
        }
    }

    #[test]
    fn a_part_says_whether_it_is_complete() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.shard");
        let mut part = filled(1, 1);
        write_shard(&path, &part).unwrap();
        let said = |path: &Path| {
            std::fs::read_to_string(path)
                .unwrap()
                .lines()
                .last()
                .unwrap()
                .to_owned()
        };
        assert!(said(&path).starts_with("complete 10 of 10 "));
        part.rows.truncate(3);
        write_shard(&path, &part).unwrap();
        assert!(said(&path).starts_with("INCOMPLETE 3 of 10 "));
        assert_eq!(read_shard(&path).unwrap().rows.len(), 3);
    }

    #[test]
    fn numbers_that_are_none_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.shard");
        let mut part = filled(1, 1);
        part.rows[2].result = Ok(vec![f64::NAN, 1.0]);
        write_shard(&path, &part).unwrap();
        let error = read_shard(&path).unwrap_err().to_string();
        assert!(error.contains("line 4") && error.contains("finite"), "{error}");
    }

    #[test]
    fn wrong_parts_are_refused() {
        assert!(matches!(
            Shard::new(key(2), 1, 3),
            Err(ShardError::TooManyParts { parts: 3, samples: 2 })
        ));
        assert!(Shard::new(key(2), 0, 2).is_err());
        assert!(Shard::new(key(2), 3, 2).is_err());
        let partial = Shard {
            rows: vec![SampleRow {
                index: 1,
                result: Ok(vec![1.0, 2.0]),
            }],
            ..Shard::new(key(3), 1, 1).unwrap()
        };
        assert_eq!(partial.missing().collect::<Vec<_>>(), [0, 2]);
    }
}
