//! Deciding one part from its measured exit temperature and elapsed times.
//!
//! A table is made once from runs of the line; a decision is then a look-up without any run, the same
//! everywhere. Nothing is good by default: what lies outside the table is a reject.

mod build;
mod by_stage;
mod log;
mod structured_text;

pub(super) use by_stage::ByStage;
pub use log::{Log, LogError, LoggedPart, PartVerdict, StepStatistics};
pub use structured_text::structured_text;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::risk::Risks;
use super::times::{Edge, Times};
use crate::line::file::{Document, LineFileError};
use crate::text::is_unfit;

/// Version of the layout of a [`DecisionTable`].
pub const TABLE_SCHEMA: u32 = 9;

/// Which line a table belongs to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Identity {
    /// Title of the line file.
    pub title: String,
    /// Part, where given.
    pub part: Option<String>,
    /// Revision, where given.
    pub revision: Option<String>,
    /// SHA-256 of the line file; of a line that reads other files (steel, calibration, measured scatter), of the line
    /// file with them behind it, in the rising order of their paths.
    pub input_sha256: String,
    /// Version of the program.
    pub program: String,
    /// Risk that a part right at the reject margin is bad.
    pub reject_risk: f64,
    /// Risk that a part right at the alarm margin is bad.
    pub alarm_risk: f64,
}

impl Identity {
    /// The identity of a line file.
    ///
    /// # Errors
    /// A file beside the line that can no longer be read.
    pub fn of(document: &Document, risks: Risks) -> Result<Self, LineFileError> {
        let plan = document.plan();
        Ok(Self {
            title: plan.title.clone(),
            part: plan.part.clone(),
            revision: plan.revision.clone(),
            input_sha256: hexadecimal(&document.contents()?),
            program: concat!("billet-thermal ", env!("CARGO_PKG_VERSION")).to_owned(),
            reject_risk: risks.reject,
            alarm_risk: risks.alarm,
        })
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Look-up table of margins over exit temperature and the seconds of each hand-over.
///
/// The margin of a limit is its margin at the measured exit temperature with planned times, plus what
/// each hand-over's deviation changes alone, plus for every two of them their `pair_per_k` times the product
/// of both changes (what has cooled more loses less later). What interpolation between the runs and what this
/// sum (found by runs at corners) err to the unsafe side is taken off: over the exit as `error_k`, over the
/// seconds as the `error_k` of each hand-over, and for every two hand-overs `sum_error_per_k` times the product of
/// the sizes of both changes.
///
/// A limit has a row of all this; one that holds at any moment has one for every stage, and zone there, in which it may
/// decide, and its margin is the least of them: the hottest a zone is in one stage bends little over times, which it is jumps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DecisionTable {
    /// Layout version.
    pub schema_version: u32,
    /// Which line it belongs to.
    pub identity: Identity,
    /// What it means, for people.
    pub meaning: String,
    /// Names of the limits.
    pub limits: Vec<String>,
    /// Rows of margins in their order, by the number of the limit that each is of, from 0. Tables of older layouts, which
    /// are refused, have none.
    #[serde(default)]
    pub limit_of: Vec<usize>,
    /// Stage and node that each row is about, where its limit holds at any moment.
    #[serde(default)]
    pub moment_of: Vec<Option<String>>,
    /// Path of the input that sets the exit temperature.
    pub exit_input: String,
    /// Planned exit temperature in degC; it is among the next. Tables of older layouts, which are refused, have none.
    #[serde(default)]
    pub planned_exit_c: f64,
    /// Exit temperatures in degC, rising.
    pub exit_c: Vec<f64>,
    /// Margins in K with planned times: one list per exit temperature, one value per row.
    pub base_k: Vec<Vec<f64>>,
    /// Hand-overs in the order of the line.
    pub stages: Vec<StageChanges>,
    /// What every two changes do together per product of both, 1/K: pairs in the order 1-2, 1-3, 2-3, 1-4 ..., one
    /// value per row.
    pub pair_per_k: Vec<Vec<f64>>,
    /// What the sum over hand-overs and pairs may err to the unsafe side per product of two changes, 1/K, three per
    /// row: where both add to its margin, where both take from it, and where one does either.
    pub sum_error_per_k: Vec<[f64; 3]>,
    /// Guard band in K for the reject risk, one per limit.
    pub guard_k: Vec<f64>,
    /// Guard band in K for the alarm risk, one per limit.
    pub alarm_guard_k: Vec<f64>,
    /// What the look-up may err over the exit temperature to the unsafe side, K: per interval between two exit
    /// temperatures, one value per row.
    pub error_k: Vec<Vec<f64>>,
    /// SHA-256 of the table with this text empty.
    pub digest: String,
}

/// What the seconds of one hand-over change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageChanges {
    /// Name of the stage.
    pub stage: String,
    /// Path of its seconds.
    pub path: String,
    /// Planned seconds.
    pub planned_s: f64,
    /// Seconds, rising; the planned ones are among them.
    pub seconds: Vec<f64>,
    /// Change of each margin in K: per exit temperature, per seconds, per row.
    pub change_k: Vec<Vec<Vec<f64>>>,
    /// What the look-up may err to the unsafe side, K: per seconds, per row.
    pub error_k: Vec<Vec<f64>>,
}

/// What to do with a part.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
#[non_exhaustive]
pub enum Decision {
    /// Every limit will hold, guard bands included, if the rest goes as planned.
    Good {
        /// Index of the tightest limit.
        limit: usize,
        /// Its margin in K, reject guard and look-up error taken off.
        margin_k: f64,
    },
    /// Too hot now: good again when the last hand-over given lasts at least so long.
    Wait {
        /// Seconds of that hand-over.
        until_s: f64,
        /// Index of the limit.
        limit: usize,
        /// Its margin in K now.
        margin_k: f64,
    },
    /// Inside the guard band for the alarm risk.
    Alarm {
        /// Index of the tightest limit.
        limit: usize,
        /// Its margin in K, reject guard and look-up error taken off.
        margin_k: f64,
    },
    /// The risk of a bad part is above the reject risk.
    Reject {
        /// Index of the tightest limit.
        limit: usize,
        /// Its margin in K.
        margin_k: f64,
    },
    /// The exit temperature or a time lies outside the table: reject.
    Outside,
}

impl Decision {
    /// Whether the part may go on.
    #[must_use]
    pub fn goes_on(self) -> bool {
        matches!(self, Decision::Good { .. } | Decision::Alarm { .. })
    }

    /// The word of the state.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Decision::Good { .. } => "good",
            Decision::Wait { .. } => "wait",
            Decision::Alarm { .. } => "alarm",
            Decision::Reject { .. } => "reject",
            Decision::Outside => "outside the table: reject",
        }
    }
}

/// Which guard band is taken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Guard {
    /// For the reject risk.
    Reject,
    /// For the alarm risk.
    Alarm,
}

/// Margins by the table, and the changes of the hand-overs that lead to them, by hand-over and row.
struct LookedUp {
    margins_k: Vec<f64>,
    changes_k: Vec<Vec<f64>>,
}

impl DecisionTable {
    /// SHA-256 of the table with no digest in it.
    fn digest_now(&self) -> String {
        let bare = Self {
            digest: String::new(),
            ..self.clone()
        };
        hexadecimal(&serde_json::to_vec(&bare).unwrap_or_default())
    }

    /// Margins without any guard, and what each hand-over done changes; `None` outside the table.
    fn looked_up(&self, exit_c: f64, seconds: &[f64]) -> Option<LookedUp> {
        if seconds.len() > self.stages.len() {
            return None;
        }
        let (at, w) = place(&self.exit_c, exit_c)?;
        let base = self.base_k[at].iter().zip(&self.base_k[at + 1]);
        let mut found = LookedUp {
            margins_k: base.map(|(a, b)| mix(*a, *b, w)).collect(),
            changes_k: Vec::with_capacity(seconds.len()),
        };
        for (k, (stage, &taken)) in self.stages.iter().zip(seconds).enumerate() {
            let (column, v) = place(&stage.seconds, taken)?;
            let mut changes = Vec::with_capacity(self.limit_of.len());
            for row in 0..self.limit_of.len() {
                let change = |e: usize| mix(stage.change_k[e][column][row], stage.change_k[e][column + 1][row], v);
                let change = mix(change(at), change(at + 1), w);
                let error = mix(stage.error_k[column][row], stage.error_k[column + 1][row], v);
                let counts = self.counts(change, &found.changes_k, k, row);
                found.margins_k[row] += counts - error;
                changes.push(change);
            }
            found.changes_k.push(changes);
        }
        Some(found)
    }

    /// What a change of hand-over `k` counts for a row after the changes of those before it: one, and its pair
    /// with each of them.
    fn weight(&self, before_k: &[Vec<f64>], k: usize, row: usize) -> f64 {
        let first = k * k.saturating_sub(1) / 2;
        let pairs = before_k.iter().zip(&self.pair_per_k[first..]);
        pairs.fold(1.0, |weight, (changes, pair)| weight + pair[row] * changes[row])
    }

    /// What a change of hand-over `k` (K) does to a row after the changes of those before it, less what the sum may
    /// err then.
    fn counts(&self, change: f64, before_k: &[Vec<f64>], k: usize, row: usize) -> f64 {
        let (mut gains, mut losses) = (0.0, 0.0);
        for changes in before_k {
            match changes[row] >= 0.0 {
                true => gains += changes[row],
                false => losses -= changes[row],
            }
        }
        let [both_gain, both_lose, mixed] = self.sum_error_per_k[row];
        let errs = match change >= 0.0 {
            true => gains * both_gain + losses * mixed,
            false => losses * both_lose + gains * mixed,
        };
        change * self.weight(before_k, k, row) - change.abs() * errs
    }

    /// Margins in K of all limits for a measured exit temperature and the seconds of the hand-overs done
    /// so far, in their order (those to come count as planned); guard band and look-up error taken off.
    /// `None` outside the table.
    #[must_use]
    pub fn margins_k(&self, exit_c: f64, seconds: &[f64], guard: Guard) -> Option<Vec<f64>> {
        let rows = self.rows_k(exit_c, seconds, guard)?;
        let mut margins = vec![f64::INFINITY; self.limits.len()];
        for (margin, limit) in rows.into_iter().zip(&self.limit_of) {
            margins[*limit] = margin.min(margins[*limit]);
        }
        Some(margins)
    }

    /// The same of all rows.
    fn rows_k(&self, exit_c: f64, seconds: &[f64], guard: Guard) -> Option<Vec<f64>> {
        let guard = match guard {
            Guard::Reject => &self.guard_k,
            Guard::Alarm => &self.alarm_guard_k,
        };
        let mut margins = self.looked_up(exit_c, seconds)?.margins_k;
        let (at, _) = place(&self.exit_c, exit_c)?;
        for (margin, (limit, error)) in margins.iter_mut().zip(self.limit_of.iter().zip(&self.error_k[at])) {
            *margin -= guard[*limit] + error;
        }
        Some(margins)
    }

    /// Decides one part from its exit temperature and the seconds of the hand-overs done so far.
    #[must_use]
    pub fn decide(&self, exit_c: f64, seconds: &[f64]) -> Decision {
        let tightest = |seconds: &[f64], guard: Guard| {
            let margins = self.margins_k(exit_c, seconds, guard)?;
            margins.into_iter().enumerate().min_by(|a, b| a.1.total_cmp(&b.1))
        };
        let Some((limit, margin_k)) = tightest(seconds, Guard::Reject) else {
            return Decision::Outside;
        };
        if margin_k >= 0.0 {
            return match tightest(seconds, Guard::Alarm) {
                Some((limit, alarm)) if alarm < 0.0 => Decision::Alarm { limit, margin_k },
                _ => Decision::Good { limit, margin_k },
            };
        }
        // The part that is too hot now may be waited for, where it stands.
        if let Some((last, done)) = seconds.split_last()
            && let Some(stage) = self.stages.get(done.len())
            && let Some(until_s) = self.until(exit_c, done, stage, *last)
        {
            return Decision::Wait {
                until_s,
                limit,
                margin_k,
            };
        }
        Decision::Reject { limit, margin_k }
    }

    /// First tenth of a second from `from` on at which every limit holds, reject guard taken off, when the
    /// hand-over after those in `done` takes so long. Margins are straight between the seconds of the table,
    /// so each interval is looked at once.
    fn until(&self, exit_c: f64, done: &[f64], stage: &StageChanges, from: f64) -> Option<f64> {
        let before = self.rows_k(exit_c, done, Guard::Reject)?;
        let changes = self.looked_up(exit_c, done)?.changes_k;
        let (exit, w) = place(&self.exit_c, exit_c)?;
        let at = |column: usize, row: usize| {
            let change = |e: usize| stage.change_k[e][column][row];
            let change = mix(change(exit), change(exit + 1), w);
            before[row] + (self.counts(change, &changes, done.len(), row) - stage.error_k[column][row])
        };
        for column in 0..stage.seconds.len() - 1 {
            let (start, end) = (stage.seconds[column], stage.seconds[column + 1]);
            if end < from {
                continue;
            }
            let margin = |row: usize, s: f64| mix(at(column, row), at(column + 1, row), (s - start) / (end - start));
            let mut first = start.max(from);
            for row in 0..before.len() {
                let (here, last) = (margin(row, first), at(column + 1, row));
                if here < 0.0 && last > here {
                    first += (end - first) * -here / (last - here);
                }
            }
            let tenth = (first * 10.0 - 1e-6).ceil() / 10.0;
            if tenth <= end && (0..before.len()).all(|row| margin(row, tenth) >= ROUNDING_K) {
                return Some(tenth);
            }
        }
        None
    }

    /// What hand-over `stage` (index) may take at an exit temperature, the others as planned, rounded to
    /// the safe side at 0.1 s; for one limit alone where `only` names it. `None` outside the table.
    #[must_use]
    pub fn times(&self, stage: usize, exit_c: f64, guard: Guard, only: Option<usize>) -> Option<Times> {
        let changes = self.stages.get(stage)?;
        let mut seconds: Vec<f64> = self.stages[..=stage].iter().map(|s| s.planned_s).collect();
        let (first, last) = (changes.seconds[0], changes.seconds[changes.seconds.len() - 1]);
        let tenths = (first * 10.0).ceil() as u64..=(last * 10.0 + 1e-6).floor() as u64;
        let mut from: Option<(f64, usize)> = None;
        let mut to: Option<(f64, usize)> = None;
        let mut end = first;
        let mut inside = false;
        let mut worst = (0, f64::INFINITY);
        for tenth in tenths {
            let s = tenth as f64 / 10.0;
            *seconds.last_mut()? = s;
            let margins = self.margins_k(exit_c, &seconds, guard)?;
            let counted = margins.iter().enumerate().filter(|(l, _)| only.is_none_or(|o| o == *l));
            let (limit, margin) = counted.min_by(|a, b| a.1.total_cmp(b.1)).map(|(l, m)| (l, *m))?;
            if (s - changes.planned_s).abs() < 0.05 {
                worst = (limit, margin);
            }
            match (inside, margin >= 0.0) {
                (false, true) if to.is_none() => {
                    inside = true;
                    from = (s > first + 0.05).then_some((s, worst_before(from, limit)));
                }
                (true, false) => {
                    inside = false;
                    to = Some((end, limit));
                }
                (false, false) if to.is_none() => from = Some((s, limit)),
                _ => {}
            }
            end = s;
        }
        if !inside && to.is_none() {
            return Some(Times::Never {
                limit: worst.0,
                other: None,
                margin_k: worst.1,
            });
        }
        let edge = |(seconds, limit): (f64, usize)| Edge { seconds, limit };
        Some(Times::Between {
            earliest: from.map(edge),
            latest: to.map(edge),
        })
    }

    /// Whether a table read from a file is whole: its layout version, its digest, finite numbers and
    /// lists that fit together.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn check(&self) -> Result<(), TableError> {
        if self.schema_version != TABLE_SCHEMA {
            return Err(TableError::Version {
                found: self.schema_version,
            });
        }
        if self.digest != self.digest_now() {
            return Err(TableError::Digest);
        }
        let identity = &self.identity;
        let names = [
            Some(&identity.title),
            identity.part.as_ref(),
            identity.revision.as_ref(),
        ];
        let names = names.into_iter().flatten().chain(&self.limits);
        let names = names.chain(self.moment_of.iter().flatten());
        let names = names.chain(self.stages.iter().map(|stage| &stage.stage));
        if let Some(code) = names.flat_map(|name| name.chars()).find(|c| is_unfit(*c)) {
            return Err(TableError::Name { code: u32::from(code) });
        }
        let (limits, rows) = (self.limits.len(), self.limit_of.len());
        let rising = |list: &[f64]| {
            list.len() >= 2 && list.iter().all(|x| x.is_finite()) && list.windows(2).all(|w| w[1] > w[0])
        };
        let row = |list: &Vec<f64>| list.len() == rows && list.iter().all(|x| x.is_finite());
        let not_negative = |list: &Vec<f64>| list.iter().all(|x| x.is_finite() && *x >= 0.0);
        let errors = |list: &Vec<f64>| list.len() == rows && not_negative(list);
        let guards = |list: &Vec<f64>| list.len() == limits && not_negative(list);
        let fits = [
            ("limits", limits > 0),
            (
                "limit_of",
                (0..limits).all(|limit| self.limit_of.contains(&limit)) && self.limit_of.iter().all(|l| *l < limits),
            ),
            ("moment_of", self.moment_of.len() == rows),
            ("exit_c", rising(&self.exit_c)),
            ("planned_exit_c", place(&self.exit_c, self.planned_exit_c).is_some()),
            (
                "base_k",
                self.base_k.len() == self.exit_c.len() && self.base_k.iter().all(row),
            ),
            ("guard_k", guards(&self.guard_k)),
            ("alarm_guard_k", guards(&self.alarm_guard_k)),
            (
                "error_k",
                self.error_k.len() + 1 == self.exit_c.len() && self.error_k.iter().all(errors),
            ),
            (
                "sum_error_per_k",
                self.sum_error_per_k.len() == rows
                    && self
                        .sum_error_per_k
                        .iter()
                        .flatten()
                        .all(|x| x.is_finite() && *x >= 0.0),
            ),
            (
                "pair_per_k",
                self.pair_per_k.len() == self.stages.len() * self.stages.len().saturating_sub(1) / 2
                    && self.pair_per_k.iter().all(row),
            ),
        ];
        if let Some((what, _)) = fits.into_iter().find(|(_, fits)| !fits) {
            return Err(TableError::List { what: what.to_owned() });
        }
        for stage in &self.stages {
            let cells = |rows: &Vec<Vec<f64>>| rows.len() == stage.seconds.len() && rows.iter().all(row);
            let whole = rising(&stage.seconds)
                && stage.seconds[0] >= 0.0
                && stage.seconds.contains(&stage.planned_s)
                && stage.change_k.len() == self.exit_c.len()
                && stage.change_k.iter().all(cells)
                && stage.error_k.len() == stage.seconds.len()
                && stage.error_k.iter().all(errors);
            if !whole {
                return Err(TableError::List {
                    what: format!("stage `{}`", stage.stage),
                });
            }
        }
        Ok(())
    }
}

/// Why a file is no decision table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum TableError {
    /// Made by another version of the program.
    #[error("layout version {found}, this program reads {TABLE_SCHEMA}: make the table again")]
    Version {
        /// Its layout version.
        found: u32,
    },
    /// Changed after it was made.
    #[error("its digest does not fit its content: the table was changed after it was made")]
    Digest,
    /// A name that would do something to the screen it is shown on.
    #[error("a name in it holds a control character (code {code})")]
    Name {
        /// The code point.
        code: u32,
    },
    /// Lists that do not fit together, or numbers that are none.
    #[error("{what} does not fit: a list too short, not rising, negative or not finite")]
    List {
        /// What does not fit.
        what: String,
    },
}

/// The limit that was broken before the first good second.
fn worst_before(before: Option<(f64, usize)>, here: usize) -> usize {
    before.map_or(here, |(_, limit)| limit)
}

/// What a margin summed up in another order may differ by, K.
const ROUNDING_K: f64 = 1e-9;

/// Between a and b.
fn mix(a: f64, b: f64, w: f64) -> f64 {
    a + w * (b - a)
}

/// Interval of a rising list that holds x, and the place in it from 0 to 1; `None` outside.
fn place(list: &[f64], x: f64) -> Option<(usize, f64)> {
    let (first, last) = (*list.first()?, *list.last()?);
    // A sum of seconds may miss the end of the table by its last digits.
    let slack = 1e-9 * (last - first);
    if !(x >= first - slack && x <= last + slack) {
        return None;
    }
    let x = x.clamp(first, last);
    let k = list.partition_point(|v| *v <= x).clamp(1, list.len() - 1) - 1;
    Some((k, (x - list[k]) / (list[k + 1] - list[k])))
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::ask::line_model::LineModel;
    use crate::ask::scatter::study_key;
    use crate::ask::study::Study;

    const LINE: &str = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
        [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
        [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n";

    /// Digest of the table, and that of the study, of the line file in a folder.
    fn digests(folder: &Path) -> [String; 2] {
        let path = folder.join("line.toml");
        let document = Document::load(&path).unwrap();
        let table = Identity::of(&document, Risks::default()).unwrap().input_sha256;
        let contents = document.contents().unwrap();
        let model = LineModel::new(document);
        let study = Study::read("[study]\n", &path, &model).unwrap();
        let key = study_key(&model, &study, &String::from_utf8_lossy(&contents), "quick");
        [table, key.study]
    }

    /// A table or a part of a study made with another calibration is not of this line; one of a line that reads no
    /// other file has the SHA-256 of the file.
    #[test]
    fn digests_are_of_every_file_of_the_line() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
        write("line.toml", LINE);
        assert_eq!(digests(folder.path())[0], hexadecimal(LINE.as_bytes()));
        write("line.toml", &format!("calibration = \"cal.toml\"\n{LINE}"));
        let calibrated = |sd: &str| {
            let number = "readings = 80\n[[number]]\ninput = \"billet.emissivity\"\nvalue = 0.81\n";
            write("cal.toml", &format!("{number}sd = {sd}\n"));
            digests(folder.path())
        };
        let (one, other, again) = (calibrated("0.012"), calibrated("0.02"), calibrated("0.012"));
        assert_eq!(one, again);
        assert!(one[0] != other[0] && one[1] != other[1], "{one:?} {other:?}");
    }
}
