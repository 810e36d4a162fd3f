//! The periodic state where coils share a converter: the one number from which their powers follow.
//!
//! Coils are settled from the cold end on, each with a drive of its own: a voltage, or a part of a power. What they then
//! take together is compared with the setting, and the number corrected by a secant on its logarithm.

use super::converter::Division;
use super::layout::HeaterLine;
use super::result::{CoilResult, Steady};
use super::steady::Settled;
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;

/// Relative agreement of what coils take together with their setting, and what is taken after [`PATIENCE`] rounds: their
/// own powers are not met more closely.
const TOLERANCE: f64 = 1e-4;
const LOOSE_TOLERANCE: f64 = 3e-3;
const PATIENCE: usize = 8;
const ROUNDS: usize = 25;

/// A converter on its way to its setting.
struct Search {
    /// Its number.
    converter: usize,
    setting: Drive,
    /// Square of the common voltage, V², or power at the terminals, W.
    number: f64,
    /// Logarithm of the number before, and of setting over what was taken with it.
    before: Option<(f64, f64)>,
}

impl Search {
    /// What its coils took of what is set, W.
    fn taken_w(&self, line: &HeaterLine, coils: &[CoilResult]) -> f64 {
        let of = line.converters[self.converter].coils.iter().map(|c| &coils[*c]);
        match self.setting {
            Drive::CommonLoad(_) => of.map(|c| c.load_w).sum(),
            _ => of.map(|c| c.terminals_w).sum(),
        }
    }

    fn wanted_w(&self) -> f64 {
        match self.setting {
            Drive::Common(power) | Drive::CommonLoad(power) => power,
            _ => 0.0,
        }
    }

    /// Corrects the number; tells by which share the setting was missed.
    fn correct(&mut self, line: &HeaterLine, coils: &[CoilResult]) -> f64 {
        let (x, off) = (self.number.ln(), (self.wanted_w() / self.taken_w(line, coils)).ln());
        let slope = match self.before {
            Some((x0, off0)) if (x - x0).abs() > 1e-9 => ((off - off0) / (x - x0)).clamp(-2.0, -0.5),
            // What is taken is in proportion, but for what other powers make of the loads.
            _ => -1.0,
        };
        self.before = Some((x, off));
        self.number = (x - off / slope).exp();
        off.abs()
    }
}

impl HeaterLine {
    /// Settles the line with one drive per coil. `slices` pieces of each billet are followed when it
    /// is indexed (1 follows its middle); a steadily pushed billet is the same all along.
    pub fn steady(&self, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Steady, HeaterError> {
        Ok(self.settle(bar, drives, slices)?.steady)
    }

    pub(super) fn settle(&self, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Settled, HeaterError> {
        self.check(bar)?;
        self.check_drives(drives)?;
        let mut own = drives.to_vec();
        let mut searches = Vec::new();
        for (n, converter) in self.converters.iter().enumerate() {
            let setting = drives[converter.coils[0]];
            if !setting.is_common() {
                continue;
            }
            let search = Search {
                converter: n,
                setting,
                number: 0.0,
                before: None,
            };
            let number = search.wanted_w();
            self.by_power(n, number, &mut own);
            let settled =
                number == 0.0 || matches!((&converter.division, setting), (Division::Power(_), Drive::Common(_)));
            if !settled {
                searches.push(Search { number, ..search });
            }
        }
        let mut settled = self.settle_coils(bar, &own, slices)?;
        for search in &mut searches {
            // From the powers by length, what a common voltage would be.
            let coils = &settled.steady.coils;
            let converter = &self.converters[search.converter];
            if converter.division == Division::Voltage {
                let of = converter.coils.iter().map(|c| &coils[*c]);
                let taken: f64 = of
                    .map(|c| match search.setting {
                        Drive::CommonLoad(_) => c.load_w / c.electrical.volts.powi(2),
                        _ => c.terminals_w / c.electrical.volts.powi(2),
                    })
                    .sum();
                search.number = search.wanted_w() / taken;
            } else {
                search.correct(self, coils);
            }
        }
        let mut residual = f64::INFINITY;
        for round in 0..ROUNDS {
            if searches.is_empty() {
                return Ok(settled);
            }
            for search in &searches {
                match self.converters[search.converter].division {
                    Division::Voltage => {
                        for c in &self.converters[search.converter].coils {
                            own[*c] = Drive::Volts(search.number.sqrt());
                        }
                    }
                    Division::Power(_) => self.by_power(search.converter, search.number, &mut own),
                }
            }
            settled = self.settle_coils(bar, &own, slices)?;
            let off = searches.iter_mut().map(|s| s.correct(self, &settled.steady.coils));
            residual = off.fold(0.0, f64::max);
            if residual < if round < PATIENCE { TOLERANCE } else { LOOSE_TOLERANCE } {
                return Ok(settled);
            }
        }
        Err(HeaterError::ConverterNotSettled {
            name: searches
                .first()
                .map_or_else(String::new, |s| self.converters[s.converter].name.clone()),
            iterations: ROUNDS,
            residual,
        })
    }

    /// Powers at the terminals for the coils of a converter: by its parts, or by length where it has none.
    fn by_power(&self, converter: usize, power_w: f64, drives: &mut [Drive]) {
        let converter = &self.converters[converter];
        let lengths: Vec<f64> = self.coils().map(|(_, c)| c.length_m).collect();
        let parts: Vec<f64> = match &converter.division {
            Division::Power(parts) => parts.clone(),
            Division::Voltage => converter.coils.iter().map(|c| lengths[*c]).collect(),
        };
        let all: f64 = parts.iter().sum();
        for (c, part) in converter.coils.iter().zip(parts) {
            drives[*c] = Drive::Terminals(power_w * part / all);
        }
    }
}
