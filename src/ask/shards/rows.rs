//! Which samples a shard has, and putting shards together.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::error::ShardError;

/// What must be equal for two result files to belong to one study.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StudyKey {
    /// Digest of the line file, the study and the resolution.
    pub study: String,
    /// Program version.
    pub program: String,
    /// Seed.
    pub seed: u64,
    /// Samples of the whole study.
    pub samples: u64,
    /// Names of the outputs, in the order of the values in a row.
    pub outputs: Vec<String>,
}

/// Result of one sample.
#[derive(Debug, Clone, PartialEq)]
pub struct SampleRow {
    /// Index of the sample in the whole study.
    pub index: u64,
    /// Values of the outputs, or why the run failed.
    pub result: Result<Vec<f64>, String>,
}

/// Part `part` of `parts` of a study (counted from 1), with the rows that are done.
#[derive(Debug, Clone, PartialEq)]
pub struct Shard {
    /// The study.
    pub key: StudyKey,
    /// Which part, from 1.
    pub part: u64,
    /// Number of parts.
    pub parts: u64,
    /// Rows done, in rising order of index.
    pub rows: Vec<SampleRow>,
}

impl Shard {
    /// An empty part.
    ///
    /// # Errors
    /// No parts, a part that is not among them, or more parts than samples.
    pub fn new(key: StudyKey, part: u64, parts: u64) -> Result<Self, ShardError> {
        if parts == 0 || part == 0 || part > parts {
            return Err(ShardError::NoSuchPart { part, parts });
        }
        if parts > key.samples {
            return Err(ShardError::TooManyParts {
                parts,
                samples: key.samples,
            });
        }
        Ok(Self {
            key,
            part,
            parts,
            rows: Vec::new(),
        })
    }

    /// Outputs of the samples whose run did not fail, as an array [sample, output] in the order of
    /// [`StudyKey::outputs`], with the index of each sample in the whole study.
    #[must_use]
    pub fn outputs(&self) -> (Vec<u64>, Array2<f64>) {
        let columns = self.key.outputs.len();
        let good = |row: &'_ SampleRow| row.result.as_ref().is_ok_and(|values| values.len() == columns);
        let rows = || self.rows.iter().filter(|row| good(row));
        let indices: Vec<u64> = rows().map(|row| row.index).collect();
        let values = rows().flat_map(|row| row.result.iter().flatten().copied());
        let mut array = Array2::zeros((indices.len(), columns));
        for (place, value) in array.iter_mut().zip(values) {
            *place = value;
        }
        (indices, array)
    }

    /// Indices of this part: an unbroken block, sizes differing by at most one.
    #[must_use]
    pub fn indices(&self) -> std::ops::Range<u64> {
        // In 128 bits the product cannot overflow.
        let edge = |k: u64| {
            let wide = u128::from(self.key.samples) * u128::from(k) / u128::from(self.parts);
            u64::try_from(wide).unwrap_or(self.key.samples)
        };
        edge(self.part - 1)..edge(self.part)
    }

    /// Indices of this part that have no row yet, one after the other: there may be more than fit into memory.
    pub fn missing(&self) -> impl Iterator<Item = u64> + use<> {
        let done: Vec<u64> = self.rows.iter().map(|row| row.index).collect();
        let mut done = done.into_iter().peekable();
        self.indices().filter(move |index| {
            while done.peek().is_some_and(|done| done < index) {
                done.next();
            }
            done.peek() != Some(index)
        })
    }

    /// How many samples the part has, done or not.
    #[must_use]
    pub fn samples(&self) -> u64 {
        let indices = self.indices();
        indices.end - indices.start
    }

    /// Whether every sample of the part has its row.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.rows.len() as u64 == self.samples()
    }

    /// Adds rows that rise in their index; the rows stay in rising order.
    pub fn add(&mut self, rows: Vec<SampleRow>) {
        let in_order = match (self.rows.last(), rows.first()) {
            (Some(last), Some(first)) => last.index < first.index,
            _ => true,
        };
        self.rows.extend(rows);
        if !in_order {
            self.rows.sort_by_key(|row| row.index);
        }
    }
}

/// Puts the parts of one study together: the result is the same as that of the study run whole.
///
/// # Errors
/// Those of [`gather`], and samples that none of the parts has.
pub fn merge(shards: Vec<Shard>) -> Result<Shard, ShardError> {
    let whole = gather(shards)?;
    match whole.missing().next() {
        Some(first) => Err(ShardError::Incomplete {
            missing: whole.samples() - whole.rows.len() as u64,
            samples: whole.samples(),
            first,
        }),
        None => Ok(whole),
    }
}

/// Puts together what there is of one study.
///
/// # Errors
/// No parts, parts of different studies, or a sample that two parts have.
pub fn gather(shards: Vec<Shard>) -> Result<Shard, ShardError> {
    let mut shards = shards.into_iter();
    let first = shards.next().ok_or(ShardError::Nothing)?;
    let key = first.key.clone();
    let mut rows = first.rows;
    for shard in shards {
        if shard.key != key {
            return Err(ShardError::OtherStudy {
                expected: key.study,
                found: shard.key.study,
            });
        }
        rows.extend(shard.rows);
    }
    rows.sort_by_key(|row| row.index);
    if let Some(pair) = rows.windows(2).find(|pair| pair[0].index == pair[1].index) {
        return Err(ShardError::Twice { index: pair[0].index });
    }
    Ok(Shard {
        key,
        part: 1,
        parts: 1,
        rows,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outputs_leave_failed_runs_out() {
        let key = StudyKey {
            study: String::new(),
            program: String::new(),
            seed: 1,
            samples: 9,
            outputs: vec!["a".into(), "b".into()],
        };
        let mut shard = Shard::new(key, 1, 1).unwrap();
        for (index, result) in [
            (3, Ok(vec![1.0, 2.0])),
            (4, Err("no".to_owned())),
            (7, Ok(vec![5.0, 6.0])),
        ] {
            shard.rows.push(SampleRow { index, result });
        }
        assert_eq!(shard.outputs(), (vec![3, 7], ndarray::array![[1.0, 2.0], [5.0, 6.0]]));
    }
}
