//! The parts of a trial from its log: which readings count, what was not read, which rows cannot be run.

use std::collections::HashSet;

use super::gather::{BadRow, Datum, PartLog, Trial, file_name};
use super::given::{Given, What};
use super::setup::{Part, Setup};
use crate::ask::line_model::LineModel;
use crate::ask::model::Model;

/// What the parts of a trial are made of.
pub(super) struct Filling<'a> {
    pub given: &'a Given,
    /// Inputs by the measurement that gives them.
    pub times: &'a [(usize, String)],
    /// Readings that are left out: part, reading.
    pub refused: &'a HashSet<(usize, usize)>,
    /// Whether a part without readings beside its exit and times is one too.
    pub every_part: bool,
}

impl Filling<'_> {
    /// The readings of a part that count.
    fn data<'t>(&self, trial: &'t Trial, part: usize) -> impl Iterator<Item = &'t Datum> {
        let all = trial.parts[part].data.iter().enumerate();
        all.filter(move |(k, _)| !self.refused.contains(&(part, *k)))
            .map(|(_, d)| d)
    }

    fn value(&self, trial: &Trial, part: usize, measurement: usize) -> Option<f64> {
        self.data(trial, part)
            .find(|d| d.measurement == measurement)
            .map(|d| d.value)
    }

    /// Median of the seconds that a measurement read and the line takes; the planned ones where it read none.
    fn usual(&self, trial: &Trial, (measurement, path): &(usize, String), model: &LineModel) -> f64 {
        let read = (0..trial.parts.len()).filter_map(|part| self.value(trial, part, *measurement));
        let mut list: Vec<f64> = read.filter(|value| is_allowed(model, path, *value).is_ok()).collect();
        list.sort_by(f64::total_cmp);
        let planned = model.number(path).unwrap_or(0.0);
        list.get(list.len() / 2).copied().unwrap_or(planned)
    }

    /// What keeps a part from being run: no exit, or an exit or seconds that the line does not take.
    fn unfit(&self, setup: &Setup, trial: &Trial, part: usize, model: &LineModel) -> Option<(usize, String)> {
        if let Some(driver) = setup.driver {
            let Some(reading) = self.value(trial, part, driver) else {
                return Some((driver, "nothing was read at the exit, so it cannot be run".to_owned()));
            };
            let instrument = &self.given.instruments[self.given.measurements[driver].instrument];
            let exit_c = instrument.temperature(reading);
            let taken = exit_c.zip(model.exit_inputs());
            let changes = taken.map_or_else(Vec::new, |(exit_c, exit)| exit.at(exit_c));
            let wrong = changes.iter().find_map(|c| is_allowed(model, &c.path, c.value).err());
            if let Some(allowed) = wrong {
                return Some((driver, format!("{reading} degC at the exit: allowed are {allowed}")));
            }
        }
        self.times.iter().find_map(|(k, path)| {
            let value = self.value(trial, part, *k)?;
            let allowed = is_allowed(model, path, value).err()?;
            Some((*k, format!("{value} s: allowed are {allowed}")))
        })
    }

    /// The parts of a trial.
    pub fn fill(&self, setup: &mut Setup, trial: &Trial, model: &LineModel) {
        let usual: Vec<f64> = self.times.iter().map(|time| self.usual(trial, time, model)).collect();
        for (k, part) in trial.parts.iter().enumerate() {
            if let Some((measurement, why)) = self.unfit(setup, trial, k, model) {
                setup.not_run.push(self.bad(part, measurement, &why));
                continue;
            }
            let read: Vec<Option<f64>> = self.times.iter().map(|(m, _)| self.value(trial, k, *m)).collect();
            let mut readings = Vec::new();
            for d in self.data(trial, k) {
                let curve = matches!(self.given.measurements[d.measurement].what, What::Curve(_));
                let slot = setup
                    .slots
                    .iter()
                    .position(|slot| slot.measurement == d.measurement && (!curve || slot.time_s == d.time_s));
                readings.extend(slot.map(|slot| (slot, d.value, d.line)));
            }
            if !readings.is_empty() || setup.slots.is_empty() || self.every_part {
                setup.parts.push(Part {
                    name: part.name.clone(),
                    line: part.line,
                    exit: setup.driver.and_then(|driver| self.value(trial, k, driver)),
                    seconds: read
                        .iter()
                        .zip(&usual)
                        .map(|(read, usual)| read.unwrap_or(*usual))
                        .collect(),
                    assumed: read.iter().map(Option::is_none).collect(),
                    readings,
                });
            }
        }
    }

    fn bad(&self, part: &PartLog, measurement: usize, why: &str) -> BadRow {
        let m = &self.given.measurements[measurement];
        BadRow {
            file: m.readings.file().map_or(String::new(), file_name),
            line: part.line,
            measurement: m.name.clone(),
            reason: format!("part {}: {why}", part.name),
        }
    }
}

/// Whether an input takes a value; else the range that it takes.
fn is_allowed(model: &LineModel, path: &str, value: f64) -> Result<(), String> {
    let least_s = model.handovers().iter().find(|h| h.path == path).map(|h| h.least_s);
    if let Some(least_s) = least_s.filter(|least_s| value < *least_s) {
        return Err(format!("{least_s:.2} and more"));
    }
    let allowed = model.input(path).ok().and_then(|input| input.allowed);
    match allowed {
        Some(allowed) if !allowed.contains(value) => Err(allowed.to_string()),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use crate::measured::Bench;
    use crate::measured::testing::enquiry;

    /// Readings typed into the line file have no line of their own: one that is left out is known by its part.
    #[test]
    fn a_typed_reading_that_is_left_out_is_not_used() {
        let tables = r#"
[[instrument]]
name = "exit pyrometer"
kind = "pyrometer"
[[instrument]]
name = "camera"
kind = "camera"
reads_to = 1200
[[measurement]]
name = "exit"
kind = "temperature"
instrument = "exit pyrometer"
stage = "heater"
node = "surface"
values = [1230, 1232, 1228]
[[measurement]]
name = "before the press"
kind = "temperature"
instrument = "camera"
stage = "table"
node = "surface"
values = [1100, 1200, 1104]
"#;
        let bench = Bench::new(&enquiry(tables).model).unwrap();
        assert!(
            bench.bad.iter().any(|row| row.reason.contains("end of its range")),
            "{:?}",
            bench.bad
        );
        let read: Vec<f64> = bench.setups[0]
            .parts
            .iter()
            .flat_map(|part| &part.readings)
            .map(|r| r.1)
            .collect();
        assert_eq!(read, [1100.0, 1104.0]);
    }
}
