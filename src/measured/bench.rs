//! What a line file says of measurements, ready for comparison: trials with their lines, what sets each part, what is
//! compared, and runs of single parts at their measured times.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::error::MeasuredError;
use super::filling::Filling;
use super::gather::{BadRow, Datum, Trial, gather};
use super::given::{At, Given, Measurement, Readings, Unit, Wanted, What};
use super::instrument::{EXIT_SD_K, Instrument, Principle};
use super::setup::{Setup, Slot};
use super::sheet::Sheet;
use super::suspect;
use crate::ask::Failure;
use crate::ask::line_model::LineModel;
use crate::ask::model::{Change, Model};
use crate::judge::Moment;
use crate::line::file::{Document, INSTRUMENT};
use crate::line::plan::{Heater, Plan, Resolution, StageKind};
use crate::line::run::{NodeRow, run_at};
use crate::line::trace::Trace;
use crate::line::{RunOptions, plan};

/// All that was measured, with the lines it was measured on.
#[derive(Debug, Clone)]
pub struct Bench {
    /// Instruments and measurements.
    pub given: Given,
    /// The line of the file first, then those of other trials.
    pub lines: Vec<LineModel>,
    /// Trials.
    pub setups: Vec<Setup>,
    /// As they were read.
    pub trials: Vec<Trial>,
    /// Rows that are not used.
    pub bad: Vec<BadRow>,
}

/// Seconds after heater exit of a place, by the plan; `None` where the stage has no such moment.
pub fn planned_time(plan: &Plan, at: &At) -> Option<f64> {
    if at.moment == Moment::Exit {
        return Some(at.after_s);
    }
    let index = plan.stages.iter().position(|stage| stage.name == at.stage)?;
    let start: f64 = plan.stages[..index].iter().map(plan::Stage::seconds).sum();
    let stage = &plan.stages[index];
    let within = match at.moment {
        Moment::Start => 0.0,
        Moment::End => stage.seconds(),
        moment => match &stage.kind {
            StageKind::Forge(forge) => forge.blow_start_s(moment.blow_range(forge.blows)?.0 - 1),
            StageKind::Trim(trim) => trim.lying_before_s,
            _ => return None,
        },
    };
    Some(start + within + at.after_s)
}

impl Bench {
    /// Reads the measurements of a line.
    ///
    /// # Errors
    /// What is wrong with tables and files.
    pub fn new(model: &LineModel) -> Result<Bench, MeasuredError> {
        Self::made(model, None, &[])
    }

    /// The same for a fit of some more unknowns than the file asks for.
    ///
    /// # Errors
    /// As [`Bench::new`].
    pub fn fitting(model: &LineModel, more: &[Wanted]) -> Result<Bench, MeasuredError> {
        Self::made(model, None, more)
    }

    /// The same; `log` takes the place of the file that the exit readings of the line are in, and nothing else
    /// is read. Of a line without measurements it has the columns `part`, `exit_c` and one of seconds named as each stage.
    ///
    /// # Errors
    /// As [`Bench::new`].
    pub fn of_log(model: &LineModel, log: &Path) -> Result<Bench, MeasuredError> {
        Self::made(model, Some(log), &[])
    }

    fn made(model: &LineModel, log: Option<&Path>, more: &[Wanted]) -> Result<Bench, MeasuredError> {
        let document = model.document();
        let ambient_c = document.plan().surroundings.ambient_c;
        let mut given = Given::read(document.text(), document.path(), ambient_c)?;
        if let Some(calibration) = document.calibration() {
            calibrate(&mut given, &calibration.numbers);
        }
        for one in more {
            given.wanted.retain(|other| other.path != one.path);
            given.wanted.push(one.clone());
        }
        if let Some(log) = log {
            given.only_log(model, log)?;
        }
        if given.measurements.is_empty() {
            let needs =
                "the line file has no [[measurement]]: say what was measured, where, and in which column".to_owned();
            return Err(MeasuredError::Wrong(needs));
        }
        let mut lines = vec![model.clone()];
        let mut paths: Vec<Option<PathBuf>> = vec![None];
        for path in given.measurements.iter().filter_map(|m| m.line.as_ref()) {
            if !paths.contains(&Some(path.clone())) {
                let other = LineModel::new(Document::load(path)?).at(model.resolution());
                lines.push(other);
                paths.push(Some(path.clone()));
            }
        }
        let line_of = |m: &Measurement| paths.iter().position(|p| *p == m.line).unwrap_or(0);
        let trials = {
            let lag = |m: &Measurement, data: &[Datum]| lag(&given, lines[line_of(m)].document().plan(), m, data);
            gather(&given, &lag)?
        };
        let mut bad: Vec<BadRow> = trials.iter().flat_map(|t| t.bad.iter().cloned()).collect();
        let mut setups = Vec::new();
        for trial in &trials {
            let line = paths.iter().position(|p| *p == trial.line).unwrap_or(0);
            setups.push(setup(trial, &given, (line, &lines[line]), log.is_some(), &mut bad)?);
        }
        Ok(Bench {
            given,
            lines,
            setups,
            trials,
            bad,
        })
    }

    /// Every file that was read beside the line file.
    #[must_use]
    pub fn files(&self) -> Vec<PathBuf> {
        let logs = self
            .given
            .measurements
            .iter()
            .filter_map(|m| m.readings.file())
            .map(PathBuf::from);
        logs.chain(self.lines.iter().skip(1).map(|line| line.document().path().to_owned()))
            .collect()
    }

    /// Every file that a line and its measurements are read from, whichever of them a log takes the place of.
    ///
    /// # Errors
    /// What is wrong with the tables.
    pub fn sources(model: &LineModel) -> Result<Vec<PathBuf>, MeasuredError> {
        let document = model.document();
        let ambient_c = document.plan().surroundings.ambient_c;
        let given = Given::read(document.text(), document.path(), ambient_c)?;
        let logs = given
            .measurements
            .iter()
            .filter_map(|m| m.readings.file().map(PathBuf::from));
        let lines = given.measurements.iter().filter_map(|m| m.line.clone());
        Ok(document.files().into_iter().chain(logs).chain(lines).collect())
    }

    /// The same at a resolution.
    #[must_use]
    pub fn at(&self, resolution: Resolution) -> Bench {
        let lines = self.lines.iter().map(|line| line.at(resolution)).collect();
        Bench { lines, ..self.clone() }
    }

    /// Parts whose seconds are the usual ones somewhere, none having been read.
    #[must_use]
    pub fn with_usual_seconds(&self) -> usize {
        let parts = self.setups.iter().flat_map(|setup| &setup.parts);
        parts.filter(|part| part.assumed.contains(&true)).count()
    }

    /// Measurements of whose scatter nothing is said, with what is assumed of it.
    #[must_use]
    pub fn assumed_scatter(&self) -> Vec<(&str, f64)> {
        let measured = self.given.measurements.iter().enumerate();
        let open = measured.filter(|(_, m)| !matches!(m.what, What::Seconds { .. }));
        open.filter_map(|(k, m)| {
            let instrument = &self.given.instruments[m.instrument];
            let drives = self.setups.iter().any(|setup| setup.driver == Some(k));
            let sd = if drives {
                EXIT_SD_K
            } else {
                instrument.scatter(self.typical(k))
            };
            instrument.sd.is_none().then_some((m.name.as_str(), sd))
        })
        .collect()
    }

    /// Median reading of a measurement.
    #[must_use]
    pub fn typical(&self, measurement: usize) -> f64 {
        let of_slots = self.setups.iter().flat_map(|setup| {
            setup.parts.iter().flat_map(move |part| {
                let exit = part.exit.filter(|_| setup.driver == Some(measurement));
                let of = move |r: &&(usize, f64, usize)| setup.slots[r.0].measurement == measurement;
                part.readings.iter().filter(of).map(|r| r.1).chain(exit)
            })
        });
        let readings: Vec<f64> = of_slots.collect();
        if readings.is_empty() {
            0.0
        } else {
            suspect::robust(&readings).0
        }
    }

    /// The measurement of a slot.
    #[must_use]
    pub fn measurement(&self, slot: &Slot) -> &Measurement {
        &self.given.measurements[slot.measurement]
    }

    /// Changes that make the run that of a part: its exit as the instrument saw it, its times, and the unknowns that its
    /// line has. `None` where the instrument cannot have shown the reading.
    #[must_use]
    pub fn changes(
        &self,
        setup: &Setup,
        (exit, seconds): (Option<f64>, &[f64]),
        unknowns: &[(&str, f64)],
        instruments: &[Instrument],
    ) -> Option<Vec<Change>> {
        let exit_c = match (setup.driver, exit) {
            (Some(driver), Some(reading)) => {
                Some(instruments[self.given.measurements[driver].instrument].temperature(reading)?)
            }
            _ => None,
        };
        Some(self.changes_at(setup, (exit_c, seconds), unknowns))
    }

    /// The same for a temperature of the surface at the exit.
    #[must_use]
    pub fn changes_at(
        &self,
        setup: &Setup,
        (exit_c, seconds): (Option<f64>, &[f64]),
        unknowns: &[(&str, f64)],
    ) -> Vec<Change> {
        let line = &self.lines[setup.line];
        let mut changes: Vec<Change> = Vec::new();
        let exit = line.exit_inputs();
        if let (Some(exit), Some(exit_c)) = (exit, exit_c) {
            changes.extend(exit.at(exit_c));
        }
        changes.extend(
            setup
                .times
                .iter()
                .zip(seconds)
                .map(|(path, s)| Change::new(path.clone(), *s)),
        );
        for (path, value) in unknowns.iter().filter(|(path, _)| line.input(path).is_ok()) {
            match changes.iter_mut().find(|change| change.path == *path) {
                // A core that is fitted keeps its distance from a surface that is measured on each part.
                Some(change) => {
                    let shift = exit.zip(exit_c).map_or(0.0, |(exit, exit_c)| exit_c - exit.surface.1);
                    change.value = value + shift;
                }
                None => changes.push(Change::new((*path).to_owned(), *value)),
            }
        }
        changes
    }

    /// Temperature at each slot, degC, as an instrument there would meet it (outside of the scale for those that see
    /// it); `None` where the part has no such node then.
    ///
    /// # Errors
    /// A run that fails.
    pub fn run(&self, setup: &Setup, changes: &[Change]) -> Result<Vec<Option<f64>>, MeasuredError> {
        Ok(self.run_whole(setup, changes)?.0)
    }

    /// The same with the trace of the run.
    ///
    /// # Errors
    /// A run that fails.
    pub fn run_whole(&self, setup: &Setup, changes: &[Change]) -> Result<(Vec<Option<f64>>, Trace), MeasuredError> {
        let line = &self.lines[setup.line];
        let plan = line.plan(changes)?;
        let scaled = plan.scale.is_some();
        let options = RunOptions {
            resolution: Some(line.resolution()),
            record: scaled,
            ..RunOptions::bare()
        };
        let times: Vec<f64> = setup
            .slots
            .iter()
            .map(|slot| self.stop(&plan, slot).unwrap_or(-1.0))
            .collect();
        let (trace, stopped) = run_at(&plan, &options, line.document().heater_cache(), &times)
            .map_err(|error| MeasuredError::Run(error.into()))?;
        let mains_w = self.mains_w(setup, line, &plan)?;
        let value = |(k, slot): (usize, &Slot)| {
            match self.measurement(slot).what {
                What::Power => return Some(1e-3 * mains_w?.0),
                What::Energy => return mains_w.map(|(w, takt_s)| w * takt_s / 3.6e6),
                _ => {}
            }
            let at = self.measurement(slot).at()?;
            let instrument = &self.given.instruments[self.measurement(slot).instrument];
            let found = match times[k] < 0.0 {
                true => trace.at(&at.stage, at.moment, &at.node),
                false => of_row(&trace, stopped[k].as_ref(), &at.node),
            }?;
            let colder = if scaled && instrument.is_optical() {
                outside(&trace, &plan, at, slot.time_s)
            } else {
                0.0
            };
            Some(found - colder)
        };
        let values = setup.slots.iter().enumerate().map(value).collect();
        Ok((values, trace))
    }

    /// Power from the mains and takt of a line of coils, where a slot asks for it.
    fn mains_w(&self, setup: &Setup, line: &LineModel, plan: &Plan) -> Result<Option<(f64, f64)>, MeasuredError> {
        let asked = |slot: &Slot| matches!(self.measurement(slot).what, What::Energy | What::Power);
        let Heater::CoilLine(coils) = &plan.heater else {
            return Ok(None);
        };
        if !setup.slots.iter().any(asked) {
            return Ok(None);
        }
        let heated = line.document().heater_cache().heated(coils, plan, line.resolution());
        let heated = heated.map_err(|error| MeasuredError::Run(Failure::Line(error.to_string())))?;
        Ok(Some((heated.terminals_w / coils.supply_efficiency, coils.line.takt_s)))
    }

    /// Time at which the run is read for a slot; `None` where its moment is recorded anyway.
    fn stop(&self, plan: &Plan, slot: &Slot) -> Option<f64> {
        let m = self.measurement(slot);
        let at = m.at()?;
        let late_s = self.given.instruments[m.instrument].late_s();
        let apart = at.after_s + slot.time_s - late_s;
        if apart == 0.0 {
            return None;
        }
        Some((planned_time(plan, at)? - at.after_s + apart).max(0.0))
    }

    /// Runs of some parts, in parallel, in their order.
    ///
    /// # Errors
    /// The first run that fails.
    pub fn run_parts(
        &self,
        setup: &Setup,
        parts: &[usize],
        unknowns: &[(&str, f64)],
        instruments: &[Instrument],
    ) -> Result<Vec<Option<Vec<Option<f64>>>>, MeasuredError> {
        let one = |k: &usize| {
            let part = &setup.parts[*k];
            match self.changes(setup, (part.exit, &part.seconds), unknowns, instruments) {
                Some(changes) => self.run(setup, &changes).map(Some),
                None => Ok(None),
            }
        };
        parts.par_iter().map(one).collect()
    }
}

fn of_row(trace: &Trace, row: Option<&NodeRow>, node: &str) -> Option<f64> {
    row?.get(trace.node(node)?).copied().flatten()
}

/// How much colder the outside of the scale is at a place, `later_s` after its moment, K: as last recorded in the run up to then.
fn outside(trace: &Trace, plan: &Plan, at: &At, later_s: f64) -> f64 {
    let time_s = planned_time(plan, at).unwrap_or(0.0) + later_s + 1e-6;
    let mut before = trace.scale.iter().filter(|record| record.time_s <= time_s);
    before.next_back().map_or(0.0, |record| record.outside_colder_k)
}

/// Seconds from heater exit to a measurement, with the seconds that were measured on the part.
fn lag(given: &Given, plan: &Plan, m: &Measurement, data: &[Datum]) -> f64 {
    let Some(at) = m.at() else { return 0.0 };
    let planned = planned_time(plan, at).unwrap_or(0.0);
    let until = plan.stages.iter().position(|stage| stage.name == at.stage);
    let measured = data.iter().filter_map(|d| {
        let What::Seconds { stage } = &given.measurements[d.measurement].what else {
            return None;
        };
        let index = plan.stages.iter().position(|other| other.name == *stage)?;
        let counts = Some(index) < until || (Some(index) == until && at.moment == Moment::End);
        counts.then(|| d.value - plan.stages[index].seconds())
    });
    planned + measured.sum::<f64>()
}

/// What sets the parts of a trial and what is compared.
fn setup(
    trial: &Trial,
    given: &Given,
    (line, model): (usize, &LineModel),
    every_part: bool,
    bad: &mut Vec<BadRow>,
) -> Result<Setup, MeasuredError> {
    let of = |k: &usize| &given.measurements[*k];
    let wanted = |path: &str| given.wanted.iter().any(|w| w.path.starts_with(path));
    let computed = !matches!(model.document().plan().heater, Heater::Measured(_));
    let exit_is_compared = computed && wanted("heater.");
    let is_exit = |m: &Measurement| matches!(&m.what, What::Temperature(at) if at.is_exit_surface());
    let driver = trial
        .measurements
        .iter()
        .copied()
        .find(|k| is_exit(of(k)) && !exit_is_compared);
    let mut times = Vec::new();
    let mut slots: Vec<Slot> = Vec::new();
    for k in &trial.measurements {
        match &of(k).what {
            What::Seconds { stage } => {
                let path = format!("stage.{stage}.seconds");
                model.input(&path)?;
                times.push((*k, path));
            }
            What::Temperature(at) => {
                known(model, of(k), at)?;
                if Some(*k) != driver {
                    slots.push(Slot {
                        measurement: *k,
                        time_s: 0.0,
                    });
                }
            }
            What::Curve(at) => {
                known(model, of(k), at)?;
                let data = trial.parts.iter().flat_map(|part| &part.data);
                slots.extend(data.filter(|d| d.measurement == *k).map(|d| Slot {
                    measurement: *k,
                    time_s: d.time_s,
                }));
            }
            What::Energy | What::Power => {
                if !matches!(model.document().plan().heater, Heater::CoilLine(_)) {
                    return Err(MeasuredError::Wrong(format!(
                        "measurement `{}`: energy and power are computed of a line of coils only",
                        of(k).name
                    )));
                }
                slots.push(Slot {
                    measurement: *k,
                    time_s: 0.0,
                });
            }
        }
    }
    let suspects = suspect::of_columns(trial, given, model)?;
    bad.extend(suspects.rows);
    let mut setup = Setup {
        trial: trial.name.clone(),
        line,
        driver,
        times: times.iter().map(|t| t.1.clone()).collect(),
        slots,
        parts: Vec::new(),
        not_run: trial.repeated.clone(),
    };
    let filling = Filling {
        given,
        times: &times,
        refused: &suspects.refused,
        every_part,
    };
    filling.fill(&mut setup, trial, model);
    bad.extend(setup.not_run.iter().skip(trial.repeated.len()).cloned());
    Ok(setup)
}

impl Given {
    /// Keeps what stands in the file of the exit readings, to be read from `log`.
    fn only_log(&mut self, model: &LineModel, log: &Path) -> Result<(), MeasuredError> {
        let is_exit = |m: &Measurement| matches!(&m.what, What::Temperature(at) if at.is_exit_surface());
        let file = self
            .measurements
            .iter()
            .find(|m| is_exit(m) && m.line.is_none())
            .and_then(|m| m.readings.file());
        let Some(file) = file.map(PathBuf::from) else {
            return self.plain_log(model, log);
        };
        self.measurements
            .retain(|m| m.readings.file() == Some(&file) && m.line.is_none());
        for m in &mut self.measurements {
            match &mut m.readings {
                Readings::Column { file, .. } | Readings::Clock { file, .. } => log.clone_into(file),
                Readings::Typed(_) => {}
            }
        }
        Ok(())
    }

    /// The columns of a log that a decision table reads.
    fn plain_log(&mut self, model: &LineModel, log: &Path) -> Result<(), MeasuredError> {
        let sheet = Sheet::load(log)?;
        self.instruments = vec![Instrument::plain("exit", Principle::Couple { time_constant_s: 0.0 })];
        let of = |name: &str, what: What, column: &str, unit: Unit| Measurement {
            name: name.to_owned(),
            what,
            instrument: 0,
            trial: String::new(),
            line: None,
            readings: Readings::Column {
                file: log.to_owned(),
                column: column.to_owned(),
            },
            part_column: sheet.column("part").ok().map(|_| "part".to_owned()),
            time_column: None,
            clock_offset_s: None,
            unit,
            model_sd_k: 0.0,
        };
        let exit = At {
            stage: "heater".to_owned(),
            moment: Moment::Exit,
            after_s: 0.0,
            node: "surface".to_owned(),
        };
        self.measurements = vec![of("exit", What::Temperature(exit), "exit_c", Unit::Celsius)];
        for hand_over in model.handovers().iter().filter(|h| sheet.column(&h.stage).is_ok()) {
            let stage = hand_over.stage.clone();
            self.measurements.push(of(
                &stage.clone(),
                What::Seconds { stage: stage.clone() },
                &stage,
                Unit::Own,
            ));
        }
        Ok(())
    }
}

/// Sets what a calibration says of instruments.
fn calibrate(given: &mut Given, numbers: &[(String, f64, f64)]) {
    for (path, value, sd) in numbers {
        let Some((name, key)) = path.strip_prefix(INSTRUMENT).and_then(|rest| rest.rsplit_once('.')) else {
            continue;
        };
        for instrument in given.instruments.iter_mut().filter(|i| i.name == name) {
            match key {
                "bias" => (instrument.bias, instrument.bias_sd) = (*value, *sd),
                "emissivity" => (instrument.emissivity, instrument.emissivity_sd) = (*value, *sd),
                _ => {}
            }
        }
    }
}

/// Refuses a stage, moment or node that the line does not have.
fn known(model: &LineModel, m: &Measurement, at: &At) -> Result<(), MeasuredError> {
    let probe = crate::ask::model::Probe {
        stage: at.stage.clone(),
        moment: at.moment,
        node: at.node.clone(),
    };
    let quick = model.at(Resolution::Quick);
    let found = quick.probe(&[], &probe).map(|_| ());
    found.map_err(|error| MeasuredError::Wrong(format!("measurement `{}`: {error}", m.name)))
}
