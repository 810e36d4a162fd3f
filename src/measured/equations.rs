//! Residuals of a fit: readings against what instruments would show, in units of their scatter.
//!
//! The exit of a part is what its pyrometer read, with the scatter of that reading: all readings of a part share it, so they
//! are whitened together (D^-1/2 of the single scatters, then the rank-one part by its exact inverse root).

use super::bench::Bench;
use super::instrument::{EXIT_SD_K, Instrument};
use super::setup::Setup;
use super::surface::Surface;
use super::unknown::{Of, Unknown};

/// One reading in the equations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub setup: usize,
    pub part: usize,
    /// Index into the readings of the part.
    pub reading: usize,
}

/// What a fit solves.
pub(super) struct Equations<'a> {
    pub bench: &'a Bench,
    pub unknowns: &'a [Unknown],
    /// Response surface of each trial.
    pub surfaces: Vec<Surface>,
    /// What runs of the parts are above the surface, by trial, part, slot.
    pub shifts: Vec<Vec<Vec<f64>>>,
    /// Whether a reading counts, by trial, part, reading.
    pub counts: Vec<Vec<Vec<bool>>>,
    /// Scatter of the readings of each measurement, without that of the exit.
    pub sd: Vec<f64>,
    /// How much the temperature of each slot follows the exit, by trial.
    pub follow: Vec<Vec<f64>>,
}

impl Equations<'_> {
    /// Instruments with the unknowns set.
    pub fn instruments(&self, x: &[f64]) -> Vec<Instrument> {
        let mut instruments = self.bench.given.instruments.clone();
        for (unknown, value) in self.unknowns.iter().zip(x) {
            match unknown.of {
                Of::Bias(k) => instruments[k].bias = *value,
                Of::Emissivity(k) => instruments[k].emissivity = *value,
                _ => {}
            }
        }
        instruments
    }

    /// Inputs of lines with their values.
    pub fn inputs(&self, x: &[f64]) -> Vec<(&str, f64)> {
        let all = self.unknowns.iter().zip(x);
        all.filter(|(u, _)| u.of == Of::Input)
            .map(|(u, v)| (u.path.as_str(), *v))
            .collect()
    }

    /// What a part is run with, as coordinates of its surface; `None` where the instrument cannot have shown its reading.
    pub fn part_at(&self, s: usize, part: usize, x: &[f64], instruments: &[Instrument]) -> Option<Vec<f64>> {
        self.coordinates(&self.bench.setups[s], part, x, instruments)
    }

    fn coordinates(&self, setup: &Setup, part: usize, x: &[f64], instruments: &[Instrument]) -> Option<Vec<f64>> {
        let part = &setup.parts[part];
        let mut out = Vec::new();
        if let Some(driver) = setup.driver {
            out.push(instruments[self.bench.given.measurements[driver].instrument].temperature(part.exit?)?);
        }
        out.extend_from_slice(&part.seconds);
        let line = &self.bench.lines[setup.line];
        let inputs = self.inputs(x);
        out.extend(
            inputs
                .iter()
                .filter(|(path, _)| has(line, path))
                .map(|(_, value)| *value),
        );
        Some(out)
    }

    /// Readings less what the instruments would show, K, of one part: slot, difference, by reading that counts.
    fn differences(
        &self,
        s: usize,
        p: usize,
        x: &[f64],
        instruments: &[Instrument],
        all: bool,
    ) -> Option<Vec<(usize, f64)>> {
        let setup = &self.bench.setups[s];
        let at = self.coordinates(setup, p, x, instruments)?;
        let readings: Vec<&(usize, f64, usize)> = setup.parts[p]
            .readings
            .iter()
            .zip(&self.counts[s][p])
            .filter(|(_, counts)| all || **counts)
            .map(|(reading, _)| reading)
            .collect();
        let values = self.surfaces[s].at(&at, readings.iter().map(|r| r.0));
        readings
            .iter()
            .zip(values)
            .map(|((slot, reading, _), value)| {
                let m = setup.slots[*slot].measurement;
                let instrument = &instruments[self.bench.given.measurements[m].instrument];
                let model = self
                    .unknowns
                    .iter()
                    .position(|u| u.of == Of::Model(m))
                    .map_or(0.0, |k| x[k]);
                let shown = instrument.shows(value + self.shifts[s][p][*slot] + model)?;
                Some((*slot, reading - shown))
            })
            .collect()
    }

    /// Residuals of the readings, whitened.
    pub fn data(&self, x: &[f64]) -> Option<Vec<f64>> {
        let instruments = self.instruments(x);
        let mut out = Vec::new();
        for (s, setup) in self.bench.setups.iter().enumerate() {
            for p in 0..setup.parts.len() {
                let differences = self.differences(s, p, x, &instruments, false)?;
                self.whiten(s, &differences, &mut out);
            }
        }
        Some(out)
    }

    /// Differences of all readings, also those that do not count, with their scatter.
    pub fn all(&self, x: &[f64]) -> Option<Vec<(Place, f64, f64)>> {
        let instruments = self.instruments(x);
        let mut out = Vec::new();
        for (s, setup) in self.bench.setups.iter().enumerate() {
            for p in 0..setup.parts.len() {
                let differences = self.differences(s, p, x, &instruments, true)?;
                for (reading, (slot, difference)) in differences.into_iter().enumerate() {
                    let place = Place {
                        setup: s,
                        part: p,
                        reading,
                    };
                    out.push((place, difference, self.sd_of(s, slot)));
                }
            }
        }
        Some(out)
    }

    /// Scatter of the exit of a trial as its pyrometer shows it, K.
    pub fn exit_sd(&self, s: usize) -> f64 {
        let driver = self.bench.setups[s].driver;
        driver.map_or(0.0, |k| {
            self.bench.given.instruments[self.bench.given.measurements[k].instrument]
                .sd
                .unwrap_or(EXIT_SD_K)
        })
    }

    /// Scatter of a difference at a slot: of its instrument, and of the exit.
    pub fn sd_of(&self, s: usize, slot: usize) -> f64 {
        let m = self.bench.setups[s].slots[slot].measurement;
        self.sd[m].hypot(self.exit_sd(s) * self.follow[s][slot])
    }

    fn whiten(&self, s: usize, differences: &[(usize, f64)], out: &mut Vec<f64>) {
        let sd = |slot: usize| self.sd[self.bench.setups[s].slots[slot].measurement];
        let exit = self.exit_sd(s);
        let w: Vec<f64> = differences
            .iter()
            .map(|(slot, _)| exit * self.follow[s][*slot] / sd(*slot))
            .collect();
        let n: f64 = w.iter().map(|w| w * w).sum();
        let plain: Vec<f64> = differences.iter().map(|(slot, d)| d / sd(*slot)).collect();
        let along: f64 = w.iter().zip(&plain).map(|(w, d)| w * d).sum();
        let take = if n > 0.0 {
            (1.0 - 1.0 / (1.0 + n).sqrt()) * along / n
        } else {
            0.0
        };
        out.extend(plain.iter().zip(&w).map(|(d, w)| d - take * w));
    }

    /// Residuals of the readings with every temperature moved, by trial and slot: what a number that is held does.
    pub fn moved(&self, x: &[f64], by: &[Vec<f64>]) -> Option<Vec<f64>> {
        let instruments = self.instruments(x);
        let mut out = Vec::new();
        for (s, setup) in self.bench.setups.iter().enumerate() {
            for p in 0..setup.parts.len() {
                let mut differences = self.differences(s, p, x, &instruments, false)?;
                differences.iter_mut().for_each(|(slot, d)| *d -= by[s][*slot]);
                self.whiten(s, &differences, &mut out);
            }
        }
        Some(out)
    }

    /// Jacobian of the residuals of the readings, by differences of a thousandth of what was known before.
    pub fn data_jacobian(&self, x: &[f64]) -> ndarray::Array2<f64> {
        let rows = self.data(x).map_or(0, |r| r.len());
        let mut out = ndarray::Array2::zeros((rows, x.len()));
        for (k, u) in self.unknowns.iter().enumerate() {
            let at = |by: f64| {
                let mut x = x.to_vec();
                x[k] += by;
                self.data(&x)
            };
            let by = 1e-3 * u.sd;
            if let (Some(high), Some(low)) = (at(by), at(-by)) {
                for (i, (a, b)) in high.iter().zip(&low).enumerate() {
                    out[[i, k]] = (a - b) / (2.0 * by);
                }
            }
        }
        out
    }

    /// Residuals of what was known before.
    pub fn prior(&self, x: &[f64]) -> Vec<f64> {
        self.unknowns.iter().zip(x).map(|(u, v)| (v - u.mean) / u.sd).collect()
    }

    /// All residuals.
    pub fn residuals(&self, x: &[f64]) -> Option<Vec<f64>> {
        let within = self
            .unknowns
            .iter()
            .zip(x)
            .all(|(u, v)| *v >= u.allowed.0 && *v <= u.allowed.1);
        let mut out = self.data(x).filter(|_| within)?;
        out.extend(self.prior(x));
        Some(out)
    }
}

/// Whether a line has an input.
pub(super) fn has(line: &crate::ask::line_model::LineModel, path: &str) -> bool {
    use crate::ask::model::Model;
    line.input(path).is_ok()
}
