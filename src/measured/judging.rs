//! Parts judged by what was measured on each: its exit and its times, with guard bands or by a decision table. What is not
//! known errs to the safe side; what cannot be judged is a row with its reason.

use serde::Serialize;

use super::bench::Bench;
use super::error::MeasuredError;
use super::gather::{BadRow, Trial, file_name};
use super::own_table::{table_is_measured, table_is_of};
use super::responses::{Place, Responses};
use super::setup::{Part, Setup};
use super::suspect::robust;
use crate::ask::decide::{Decision, DecisionTable, Identity};
use crate::ask::enquiry::{Enquiry, ExitKnown};
use crate::ask::model::Model;
use crate::ask::risk::Risks;

/// What became of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Every limit holds, guard bands included.
    Good,
    /// Within the alarm band.
    Alarm,
    /// Not good.
    Reject,
}

impl State {
    /// Its word in results.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            State::Good => "good",
            State::Alarm => "alarm",
            State::Reject => "reject",
        }
    }
}

/// A part of a shift.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShiftPart {
    /// Name.
    pub name: String,
    /// Line of the log.
    pub line: usize,
    /// Temperature of the surface at the exit, by what its instrument showed, degC.
    pub exit_c: f64,
    /// Seconds of the stages that are measured; none where none were read.
    pub seconds: Vec<Option<f64>>,
    /// Temperatures at the places that are followed, degC.
    pub temps_c: Vec<f64>,
    /// Least margin with the guard band taken off, K.
    pub margin_k: f64,
    /// Index of its limit.
    pub limit: usize,
    /// What became of it.
    pub state: State,
    /// Where it was first to be known that it is not good: `heater`, or a stage.
    pub caught_at: Option<String>,
    /// Other readings less what their instruments would show, by slot, K.
    pub off_k: Vec<Option<f64>>,
    /// Whether it was run itself, being outside of what the quadratics span or near to a limit.
    pub by_run: bool,
}

/// Most stages without seconds with which a part is judged: every combination of their ends is looked at.
const MOST_ASSUMED: usize = 6;
/// Times the largest difference that was seen between quadratics and runs, within which of a limit a part is run itself (chosen:
/// that difference is the largest of a dozen, not of all).
const UNSURE: f64 = 2.0;

/// What a part comes to.
struct Verdict {
    state: State,
    /// Least margin with the guard band taken off, K, and its limit.
    margin_k: f64,
    limit: usize,
}

/// Judges parts.
pub struct Judging<'a> {
    pub(super) bench: &'a Bench,
    pub(super) setup: &'a Setup,
    pub(super) responses: Responses,
    /// Guard bands by limit, for reject and alarm, K.
    guards: (Vec<f64>, Vec<f64>),
    table: Option<&'a DecisionTable>,
    pub(super) planned_s: Vec<f64>,
    /// Whether seconds were read on any part, by stage.
    seen: Vec<bool>,
    /// How the guard bands count the exit; none without guard bands of its own.
    pub(super) exit_known: Option<ExitKnown>,
    /// Columns of the log named as a stage, or `part`, that nothing reads.
    pub(super) ignored: Vec<String>,
}

impl<'a> Judging<'a> {
    /// Makes ready for the parts of a log: by a decision table where there is one, else by margins with guard bands.
    ///
    /// # Errors
    /// A log without exits, runs that fail.
    pub fn new(
        enquiry: &Enquiry,
        bench: &'a Bench,
        table: Option<&'a DecisionTable>,
    ) -> Result<Judging<'a>, MeasuredError> {
        let setup = bench.setups.iter().find(|s| s.driver.is_some() && s.line == 0);
        let needs = || MeasuredError::Wrong("no column has the surface at the exit".to_owned());
        let setup = setup.ok_or_else(needs)?;
        let model = &bench.lines[0];
        if model.limits().is_empty() {
            return Err(MeasuredError::Wrong(
                "the line has no limits to judge parts by".to_owned(),
            ));
        }
        if let Some(table) = table {
            table_is_of(table, model)?;
            table_is_measured(table, setup)?;
        }
        let planned = model.exit_inputs().ok_or_else(needs)?.surface.1;
        let exits: Vec<f64> = setup
            .parts
            .iter()
            .filter_map(|p| exit_of(bench, setup, p.exit?))
            .collect();
        let (middle, sd) = if exits.len() > 5 {
            robust(&exits)
        } else {
            (planned, 20.0)
        };
        let wide = (5.0 * sd).clamp(20.0, 200.0);
        let responses = Responses::of(bench, setup, (middle - wide, middle + wide), &[])?;
        let seen: Vec<bool> = (0..setup.times.len())
            .map(|k| setup.parts.iter().any(|p| !p.assumed[k]))
            .collect();
        let (guards, exit_known) = match table {
            Some(_) => ((vec![0.0; responses.limits], vec![0.0; responses.limits]), None),
            None => {
                let times = setup.times.iter().zip(&seen).filter(|(_, seen)| **seen);
                let times: Vec<&str> = times.map(|(path, _)| path.as_str()).collect();
                let driver = setup.driver.map(|k| bench.given.measurements[k].instrument);
                let meter_sd_k = driver.and_then(|k| bench.given.instruments[k].exit_error_k(middle));
                let judged = enquiry.judged()?;
                let guards = judged.part_guards(&times, meter_sd_k)?;
                ((guards.reject, guards.alarm), judged.exit_known(meter_sd_k))
            }
        };
        let planned_s = setup
            .times
            .iter()
            .map(|path| model.number(path).unwrap_or(0.0))
            .collect();
        Ok(Judging {
            bench,
            setup,
            responses,
            guards,
            table,
            planned_s,
            seen,
            exit_known,
            ignored: ignored(bench, setup),
        })
    }

    /// Places whose temperatures every part has.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        &self.responses.places
    }

    /// How far the quadratics are from runs, K.
    #[must_use]
    pub fn error_k(&self) -> f64 {
        self.responses.error_k
    }

    /// Hand-overs of the line whose seconds were read on no part: they are taken as planned, and scatter in the guard bands.
    /// By a decision table no part is good without them.
    pub(super) fn unread(&self) -> Vec<String> {
        let is_seen = |path: &String| {
            let mut times = self.setup.times.iter().zip(&self.seen);
            times.any(|(time, seen)| time == path && *seen)
        };
        let hand_overs = self.bench.lines[0].handovers().iter();
        let open = hand_overs.filter(|h| !is_seen(&h.path));
        open.map(|h| h.stage.clone()).collect()
    }

    /// Whether a decision table judges.
    pub(super) fn by_table(&self) -> bool {
        self.table.is_some()
    }

    /// Whether the decision table was made from another state of the line file.
    pub(super) fn is_older(&self) -> bool {
        let Some(of) = self.table.map(|table| &table.identity) else {
            return false;
        };
        let risks = Risks {
            reject: of.reject_risk,
            alarm: of.alarm_risk,
        };
        // Files that cannot be read any more are not those of the table.
        let now = Identity::of(self.bench.lines[0].document(), risks);
        now.map_or(true, |now| now.input_sha256 != of.input_sha256)
    }

    /// Least margin of outputs with the guard bands for rejects, its limit, and whether the alarm band is kept.
    fn least(&self, outputs: &[f64]) -> (f64, usize, bool) {
        let margin = |l: usize| outputs[l] - self.guards.0[l];
        let limits = 0..self.responses.limits;
        let alarm = limits.clone().all(|l| outputs[l] >= self.guards.1[l]);
        let least = limits.min_by(|a, b| margin(*a).total_cmp(&margin(*b))).unwrap_or(0);
        (margin(least), least, alarm)
    }

    /// Outputs at exit and seconds, and whether a run of its own was made: beyond what the quadratics span they say nothing,
    /// and nearer to a limit than they are sure they do not decide.
    fn outputs(&self, exit_c: f64, seconds: &[f64]) -> Result<(Vec<f64>, bool), MeasuredError> {
        let x: Vec<f64> = std::iter::once(exit_c).chain(seconds.iter().copied()).collect();
        if self.responses.covers(&x) {
            let outputs = self.responses.at(&x);
            let unsure_k = UNSURE * self.responses.error_k;
            let near = |l: usize| {
                [self.guards.0[l], self.guards.1[l]]
                    .iter()
                    .any(|g| (outputs[l] - g).abs() <= unsure_k)
            };
            if !(0..self.responses.limits).any(near) {
                return Ok((outputs, false));
            }
        }
        let outputs = self.responses.run(self.bench, self.setup, &x)?;
        if outputs.iter().any(|value| !value.is_finite()) {
            return Err(MeasuredError::Wrong("its run gives no numbers".to_owned()));
        }
        Ok((outputs, true))
    }

    /// The seconds of a part with those that were not read at either end of what was read on others, in every combination;
    /// the usual ones first.
    fn ends(&self, seconds: &[f64], assumed: &[bool]) -> Result<Vec<Vec<f64>>, MeasuredError> {
        let open: Vec<usize> = (0..seconds.len()).filter(|k| assumed[*k] && self.seen[*k]).collect();
        if open.len() > MOST_ASSUMED {
            let text = format!("the seconds of {} stages were not read", open.len());
            return Err(MeasuredError::Wrong(text));
        }
        let mut list = vec![seconds.to_vec()];
        if !open.is_empty() {
            list.extend((0..1_usize << open.len()).map(|bits| {
                let mut ends = seconds.to_vec();
                for (place, k) in open.iter().enumerate() {
                    let (low, high) = self.responses.ranges[k + 1];
                    ends[*k] = if bits >> place & 1 == 1 { high } else { low };
                }
                ends
            }));
        }
        Ok(list)
    }

    /// Outputs of a part with the least margin of each limit over all that its seconds may have been.
    fn worst(&self, exit_c: f64, seconds: &[f64], assumed: &[bool]) -> Result<(Vec<f64>, bool), MeasuredError> {
        let mut ends = self.ends(seconds, assumed)?.into_iter();
        let usual = ends.next().unwrap_or_else(|| seconds.to_vec());
        let (mut outputs, mut by_run) = self.outputs(exit_c, &usual)?;
        for seconds in ends {
            let (there, run) = self.outputs(exit_c, &seconds)?;
            by_run |= run;
            let margins = outputs.iter_mut().zip(there).take(self.responses.limits);
            margins.for_each(|(least, margin)| *least = least.min(margin));
        }
        Ok((outputs, by_run))
    }

    /// Judges a part.
    ///
    /// # Errors
    /// The row with the reason, where it cannot be judged: its exit is no reading of the instrument, or its run is refused.
    pub fn part(&self, part: &Part) -> Result<ShiftPart, BadRow> {
        let told = |error: MeasuredError| self.not_judged(part, &error.to_string());
        let exit = part.exit.and_then(|reading| exit_of(self.bench, self.setup, reading));
        let no_reading = || self.not_judged(part, "its exit is no reading of the instrument");
        let exit_c = exit.ok_or_else(no_reading)?;
        let judged = self.judged(exit_c, &part.seconds, &part.assumed);
        let (Verdict { state, margin_k, limit }, outputs, by_run) = judged.map_err(told)?;
        if let (Some(stage), true) = (self.not_complete(part), state != State::Reject) {
            return Err(self.not_judged(part, &format!("not complete: the seconds of `{stage}` were not read")));
        }
        let caught_at = (state == State::Reject).then(|| self.caught(exit_c, part)).flatten();
        let (from, to) = (
            self.responses.limits,
            self.responses.limits + self.responses.places.len(),
        );
        let all_read = !part.assumed.contains(&true);
        let off = |slot: usize| {
            let reading = part.readings.iter().find(|r| r.0 == slot)?.1;
            let m = self.setup.slots[slot].measurement;
            let instrument = &self.bench.given.instruments[self.bench.given.measurements[m].instrument];
            Some(reading - instrument.shows(outputs[to + slot])?).filter(|_| all_read)
        };
        let read = part.seconds.iter().zip(&part.assumed);
        Ok(ShiftPart {
            name: part.name.clone(),
            line: part.line,
            exit_c,
            seconds: read.map(|(s, assumed)| Some(*s).filter(|_| !assumed)).collect(),
            temps_c: outputs[from..to].to_vec(),
            margin_k,
            limit,
            state,
            caught_at,
            off_k: (0..self.setup.slots.len()).map(off).collect(),
            by_run,
        })
    }

    fn not_judged(&self, part: &Part, why: &str) -> BadRow {
        let driver = self.setup.driver.map(|k| &self.bench.given.measurements[k]);
        let file = driver.and_then(|m| m.readings.file());
        BadRow {
            file: file.map_or(String::new(), file_name),
            line: part.line,
            measurement: driver.map_or(String::new(), |m| m.name.clone()),
            reason: format!("part {}: not judged: {why}", part.name),
        }
    }

    /// The first hand-over that a decision table needs and of which neither this part nor any other has seconds.
    fn not_complete(&self, part: &Part) -> Option<&str> {
        self.table?;
        let open = (0..self.seen.len()).find(|k| part.assumed[*k] && !self.seen[*k])?;
        Some(stage_of(&self.setup.times[open]))
    }

    /// Judges an exit and seconds: by the decision table where there is one, else by margins with guard bands. With it the
    /// outputs, and whether a run of its own was made.
    fn judged(
        &self,
        exit_c: f64,
        seconds: &[f64],
        assumed: &[bool],
    ) -> Result<(Verdict, Vec<f64>, bool), MeasuredError> {
        let (outputs, by_run) = self.worst(exit_c, seconds, assumed)?;
        let (margin_k, limit, keeps_alarm) = self.least(&outputs);
        let state = match (margin_k >= 0.0, keeps_alarm) {
            (true, true) => State::Good,
            (true, false) => State::Alarm,
            _ => State::Reject,
        };
        let own = Verdict { state, margin_k, limit };
        let Some(table) = self.table else {
            return Ok((own, outputs, by_run));
        };
        let ends = self.ends(seconds, assumed)?;
        let verdicts = ends.iter().map(|seconds| self.looked_up(table, exit_c, seconds, &own));
        let worse = |a: &Verdict, b: &Verdict| {
            (b.state as u8)
                .cmp(&(a.state as u8))
                .then(a.margin_k.total_cmp(&b.margin_k))
        };
        let worst = verdicts.min_by(worse).unwrap_or(Verdict {
            state: State::Reject,
            ..own
        });
        Ok((worst, outputs, by_run))
    }

    /// What the table says; outside of it a reject with its own margin.
    fn looked_up(&self, table: &DecisionTable, exit_c: f64, seconds: &[f64], own: &Verdict) -> Verdict {
        let all: Vec<f64> = table
            .stages
            .iter()
            .map(|stage| {
                let at = self.setup.times.iter().position(|path| *path == stage.path);
                at.map_or(stage.planned_s, |k| seconds[k])
            })
            .collect();
        let (state, margin_k, limit) = match table.decide(exit_c, &all) {
            Decision::Good { limit, margin_k } => (State::Good, margin_k, limit),
            Decision::Alarm { limit, margin_k } => (State::Alarm, margin_k, limit),
            Decision::Wait { limit, margin_k, .. } | Decision::Reject { limit, margin_k } => {
                (State::Reject, margin_k, limit)
            }
            Decision::Outside => (State::Reject, own.margin_k, own.limit),
        };
        Verdict { state, margin_k, limit }
    }

    /// Where a part was first to be known as not good: with the rest as planned.
    fn caught(&self, exit_c: f64, part: &Part) -> Option<String> {
        let mut known = self.planned_s.clone();
        let mut assumed = vec![false; known.len()];
        for done in 0..=known.len() {
            if done > 0 {
                known[done - 1] = part.seconds[done - 1];
                assumed[done - 1] = part.assumed[done - 1];
            }
            if self.judged(exit_c, &known, &assumed).ok()?.0.state == State::Reject {
                let stage = done.checked_sub(1).map(|k| stage_of(&self.setup.times[k]).to_owned());
                return Some(stage.unwrap_or_else(|| "heater".to_owned()));
            }
        }
        None
    }

    /// Band of the exit within which a part with the usual times is good, degC: to half a kelvin, by runs beyond what the
    /// quadratics span.
    pub(super) fn exit_band(&self, seconds: &[f64], middle: f64) -> Option<(f64, f64)> {
        let is_good = |exit: f64| {
            let judged = self.judged(exit, seconds, &vec![false; seconds.len()]);
            judged.is_ok_and(|(verdict, _, _)| verdict.state != State::Reject)
        };
        let spanned = |exit: f64| {
            let x: Vec<f64> = std::iter::once(exit).chain(seconds.iter().copied()).collect();
            self.responses.covers(&x)
        };
        if !is_good(middle) {
            return None;
        }
        let edge = |side: f64| {
            let mut reach = 0.0;
            while reach < BAND_K && spanned(middle + side * (reach + 0.5)) {
                if !is_good(middle + side * (reach + 0.5)) {
                    return middle + side * reach;
                }
                reach += 0.5;
            }
            if reach >= BAND_K || is_good(middle + side * BAND_K) {
                return middle + side * BAND_K;
            }
            let mut broken = BAND_K;
            while broken - reach > 0.5 {
                let half = 0.5 * (reach + broken);
                if is_good(middle + side * half) {
                    reach = half;
                } else {
                    broken = half;
                }
            }
            middle + side * reach
        };
        Some((edge(-1.0), edge(1.0)))
    }
}

/// Farthest from the mean that the edge of the band of good exits is looked for, K (chosen: beyond it a line is another one).
const BAND_K: f64 = 200.0;

pub(super) fn stage_of(path: &str) -> &str {
    path.strip_prefix("stage.")
        .and_then(|rest| rest.strip_suffix(".seconds"))
        .unwrap_or(path)
}

fn exit_of(bench: &Bench, setup: &Setup, reading: f64) -> Option<f64> {
    let driver = setup.driver?;
    bench.given.instruments[bench.given.measurements[driver].instrument].temperature(reading)
}

/// Columns of the log named as a hand-over, or `part`, that no measurement reads.
fn ignored(bench: &Bench, setup: &Setup) -> Vec<String> {
    let stages = bench.lines[0].handovers().iter().map(|h| h.stage.as_str());
    let known: Vec<&str> = std::iter::once("part").chain(stages).collect();
    let of_line = |trial: &&Trial| trial.name == setup.trial && trial.line.is_none();
    let unread = bench
        .trials
        .iter()
        .filter(of_line)
        .flat_map(|trial| &trial.unread_columns);
    unread.filter(|name| known.contains(&name.as_str())).cloned().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::model::Change;
    use crate::line::RunOptions;
    use crate::measured::shift;
    use crate::measured::testing::{bench, enquiry};

    #[test]
    fn a_part_beyond_the_quadratics_has_the_margin_of_its_run() {
        let enquiry = enquiry("");
        let bench = bench(&enquiry, &["slow,1230,12,200"]);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let found = shift(&judging, &bench, 0.95);
        let slow = found.parts.last().unwrap();
        let changes = [
            Change::new("heater.surface_c", 1230.0),
            Change::new("stage.table.seconds", 12.0),
            Change::new("stage.press.seconds", 200.0),
        ];
        let trace = enquiry.model.trace(&changes, &RunOptions::bare()).unwrap();
        assert!(slow.by_run && slow.state == State::Reject, "{slow:?}");
        assert!((slow.margin_k - trace.verdicts[0].margin_k).abs() < 1e-9, "{slow:?}");
        assert!(!found.parts[0].by_run && found.parts[0].state == State::Good);
        assert_eq!(found.by_run(), 1);
    }

    #[test]
    fn rows_that_cannot_be_judged_are_told_with_file_line_and_reason() {
        let enquiry = enquiry("");
        let rows = [
            "over,over,12,40",
            "back,1230,-3,40",
            "huge,1e300,12,40",
            "none,,12,40",
            "good,1230,12,40",
        ];
        let bench = bench(&enquiry, &rows);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let found = shift(&judging, &bench, 0.95);
        let told: Vec<(usize, &str)> = found
            .not_judged
            .iter()
            .map(|row| (row.line, row.file.as_str()))
            .collect();
        assert_eq!(told, [62, 63, 64, 65].map(|line| (line, "log.csv")));
        assert!(
            found.not_judged[1].reason.contains("-3 s: allowed are"),
            "{:?}",
            found.not_judged
        );
        assert_eq!(found.parts.len(), 61);
        assert!(bench.bad.iter().all(|row| row.file == "log.csv"), "{:?}", bench.bad);
    }

    #[test]
    fn seconds_that_were_not_read_err_to_the_safe_side() {
        let tight =
            "[[limit]]\nstage = \"press\"\nmoment = \"end\"\nnode = \"surface\"\nmin_c = 1025\nsource = \"x\"\n";
        let enquiry = enquiry(tight);
        let bench = bench(&enquiry, &["open,1230,12,", "long,1230,12,44", "usual,1230,12,40"]);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let found = shift(&judging, &bench, 0.95);
        let [open, long, usual] = &found.parts[60..] else {
            panic!("{:?}", found.parts.len())
        };
        assert_eq!(open.seconds, [Some(12.0), None]);
        assert!(
            open.margin_k <= long.margin_k + 1.0 && long.margin_k < usual.margin_k - 4.0,
            "{open:?} {long:?}"
        );
        assert_eq!((found.without_seconds(), bench.with_usual_seconds()), (1, 1));
        let press = found.series.iter().find(|series| series.name == "press").unwrap();
        assert_eq!(press.values.len(), 62);
    }

    const LIMIT: &str =
        "[[limit]]\nstage = \"press\"\nmoment = \"end\"\nnode = \"surface\"\nmin_c = 1000\nsource = \"x\"\n";
    const SCATTER: &str = "[[study.scatter]]\ninput = \"heater.surface_c\"\nkind = \"normal\"\nsd = 9\n\
        [[study.scatter]]\ninput = \"billet.emissivity\"\nkind = \"normal\"\nsd = 0.02\n";
    const METER: &str = "[[instrument]]\nname = \"eye\"\nkind = \"pyrometer\"\nsd = 4\nbias_sd = 3\n\
        [[measurement]]\nname = \"exit\"\nkind = \"temperature\"\ninstrument = \"eye\"\nstage = \"heater\"\n\
        node = \"surface\"\nfile = \"log.csv\"\ncolumn = \"exit_c\"\n\
        [[measurement]]\nname = \"table\"\nkind = \"time\"\nstage = \"table\"\nfile = \"log.csv\"\ncolumn = \"table\"\n";

    /// The line with guard bands, and more tables.
    fn guarded(more: &str) -> Enquiry {
        let text = format!("{}{LIMIT}{more}", crate::measured::testing::LINE);
        let document = crate::line::file::Document::parse(text, "line.toml").unwrap();
        Enquiry::new(document, None).unwrap()
    }

    fn part(exit_c: f64) -> Part {
        Part {
            name: "own".to_owned(),
            line: 2,
            exit: Some(exit_c),
            seconds: vec![12.0, 40.0],
            assumed: vec![false, false],
            readings: Vec::new(),
        }
    }

    #[test]
    fn guard_bands_are_those_of_the_decision_table() {
        let of = |more: &str| {
            let enquiry = guarded(more);
            let bench = bench(&enquiry, &[]);
            let judging = Judging::new(&enquiry, &bench, None).unwrap();
            let table = enquiry.judged().unwrap().decision_table().unwrap();
            (judging.guards.0.clone(), judging.exit_known, table.guard_k)
        };
        let (stated, known, table) = of(&format!("[study]\nexit_sd_k = 5\n{SCATTER}"));
        assert_eq!((&stated, known), (&table, Some(ExitKnown::Stated(5.0))));
        // Nothing says how well the exit is measured: it scatters, measured or not.
        let (scatters, known, table) = of(SCATTER);
        assert_eq!((&scatters, known), (&table, Some(ExitKnown::Scatters)));
        assert!(
            stated[1] > 4.0 && scatters[1] > stated[1] + 3.0,
            "{stated:?} {scatters:?}"
        );
        // Or its instrument does: sd 4 and bias 3 together are 5. What nothing reads scatters.
        let enquiry = guarded(&format!("{SCATTER}{METER}"));
        let bench = bench(&enquiry, &[]);
        let judging = Judging::new(&enquiry, &bench, None).unwrap();
        let Some(ExitKnown::Instrument(sd)) = judging.exit_known else {
            panic!("{:?}", judging.exit_known)
        };
        assert!((sd - 5.0).abs() < 0.1, "{sd}");
        assert!(
            (judging.guards.0[1] - stated[1]).abs() < 0.5,
            "{:?} {stated:?}",
            judging.guards
        );
        assert_eq!(
            (judging.unread(), &judging.ignored),
            (vec!["press".to_owned()], &vec!["part".to_owned(), "press".to_owned()])
        );
    }

    #[test]
    fn by_a_table_no_part_is_good_without_seconds_that_nothing_reads() {
        let enquiry = guarded(SCATTER);
        let table = enquiry.judged().unwrap().decision_table().unwrap();
        let bench_of = |more: &str, log: &str| {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("log.csv");
            std::fs::write(&path, log).unwrap();
            Bench::of_log(&guarded(&format!("{SCATTER}{more}")).model, &path).unwrap()
        };
        let log = "part,exit_c,table,press\na,1250,12,\nb,1251,12,\ncold,1090,12,\n";
        // No column of it.
        let without = bench_of("", "part,exit_c,table\na,1250,12\n");
        let refused = Judging::new(&enquiry, &without, Some(&table))
            .err()
            .unwrap()
            .to_string();
        assert!(refused.contains("`press`"), "{refused}");
        // A column with nothing in it.
        let bench = bench_of("", log);
        let judging = Judging::new(&enquiry, &bench, Some(&table)).unwrap();
        let found = shift(&judging, &bench, 0.95);
        // The last is rejected whatever its seconds were.
        assert!(!table.decide(1090.0, &[12.0]).goes_on());
        assert_eq!(
            found.parts.iter().map(|p| p.state).collect::<Vec<State>>(),
            [State::Reject],
            "{:?}",
            found.not_judged
        );
        assert_eq!(found.not_judged.len(), 2);
        let why = &found.not_judged[0].reason;
        assert!(why.contains("not complete") && why.contains("`press`"), "{why}");
    }

    /// The band of the exit and the place where a reject was known ask the table too, with its guard bands.
    #[test]
    fn the_exit_band_is_that_of_the_table() {
        let enquiry = guarded(&format!("[study]\nexit_sd_k = 8\n{SCATTER}"));
        let table = enquiry.judged().unwrap().decision_table().unwrap();
        let bench = bench(&enquiry, &[]);
        let judging = Judging::new(&enquiry, &bench, Some(&table)).unwrap();
        let seconds = [12.0, 40.0];
        let (low, _) = judging.exit_band(&seconds, 1240.0).unwrap();
        assert!(
            table.decide(low, &seconds).goes_on() && !table.decide(low - 0.5, &seconds).goes_on(),
            "{low}"
        );
        let bare = judging.worst(low - 1.0, &seconds, &[false, false]).unwrap().0;
        assert!(judging.least(&bare).0 > 5.0);
        let found = judging.part(&part(low - 1.0)).unwrap();
        assert_eq!(
            (found.state, found.caught_at.as_deref()),
            (State::Reject, Some("heater"))
        );
    }
}
