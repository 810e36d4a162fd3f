//! The periodic state where coils share a converter: the powers that its setting gives them.
//!
//! Coils are settled from the cold end on, each at a power of its own. Where they hang on one voltage, the voltages that
//! they then have tell how to divide the power anew: P ∝ V² G with the conductance G = P/V² of each. The sum is met in
//! every pass; what is sought is that the voltages agree.

use super::converter::Division;
use super::layout::HeaterLine;
use super::result::{CoilResult, Steady};
use super::steady::Settled;
use crate::heater::bar::Bar;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;

/// Relative agreement of the voltages of a converter (and of power into loads with its setting), and what is taken after
/// so many passes: where a billet passes the Curie temperature, a coil's impedance jumps a little with its power, and
/// the solution may lie in a jump.
const TOLERANCES: [(usize, f64); 3] = [(8, 3e-4), (14, 2e-3), (20, 8e-3)];

/// A converter on its way to its setting.
struct Search {
    /// Its number.
    converter: usize,
    setting: Drive,
    /// Power at the terminals of each of its coils, W.
    powers_w: Vec<f64>,
    /// For each coil the logarithm of its power before, and by how much that was off.
    before: Option<Vec<(f64, f64)>>,
}

impl Search {
    /// Corrects the powers by what the coils showed at them; tells by how much that missed.
    fn correct(&mut self, line: &HeaterLine, coils: &[CoilResult]) -> f64 {
        let converter = &line.converters[self.converter];
        let of: Vec<&CoilResult> = converter.coils.iter().map(|c| &coils[*c]).collect();
        let sum: f64 = self.powers_w.iter().sum();
        let (wanted_w, mut residual) = match self.setting {
            Drive::CommonLoad(load_w) => {
                let taken: f64 = of.iter().map(|c| c.load_w).sum();
                (sum * load_w / taken, (load_w / taken - 1.0).abs())
            }
            _ => (sum, 0.0),
        };
        if converter.is_parallel() {
            let conductance = |c: &&CoilResult| c.terminals_w / c.electrical.volts.powi(2);
            let all: f64 = of.iter().map(conductance).sum();
            let volts = (sum / all).sqrt();
            let uneven = of.iter().map(|c| (c.electrical.volts / volts - 1.0).abs());
            residual = uneven.fold(residual, f64::max);
            let off = of.iter().zip(&self.powers_w);
            let now: Vec<(f64, f64)> = off
                .map(|(c, power)| (power.ln(), (sum * conductance(c) / all / power).ln()))
                .collect();
            self.divide(&now);
        }
        let sum: f64 = self.powers_w.iter().sum();
        for power in &mut self.powers_w {
            *power *= wanted_w / sum;
        }
        residual
    }

    /// A secant on the logarithm of each power, for conductances change with what a coil gets.
    fn divide(&mut self, now: &[(f64, f64)]) {
        for (n, (x, off)) in now.iter().enumerate() {
            let slope = match self.before.as_ref().map(|b| b[n]) {
                Some((x0, off0)) if (x - x0).abs() > 1e-6 => ((off - off0) / (x - x0)).clamp(-2.0, -0.5),
                _ => -1.0,
            };
            self.powers_w[n] = (x - off / slope).exp();
        }
        self.before = Some(now.to_vec());
    }
}

impl HeaterLine {
    /// Settles the line with one drive per coil. `slices` pieces of each billet are followed when it
    /// is indexed (1 follows its middle); a steadily pushed billet is the same all along.
    pub fn steady(&self, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Steady, HeaterError> {
        self.steady_near(bar, drives, slices, None)
    }

    /// The same, where a state like the one sought is known: the division of powers begins with that.
    pub fn steady_near(
        &self,
        bar: &Bar,
        drives: &[Drive],
        slices: usize,
        near: Option<&Steady>,
    ) -> Result<Steady, HeaterError> {
        Ok(self.settle_near(bar, drives, slices, near)?.steady)
    }

    pub(super) fn settle(&self, bar: &Bar, drives: &[Drive], slices: usize) -> Result<Settled, HeaterError> {
        self.settle_near(bar, drives, slices, None)
    }

    fn settle_near(
        &self,
        bar: &Bar,
        drives: &[Drive],
        slices: usize,
        near: Option<&Steady>,
    ) -> Result<Settled, HeaterError> {
        self.check(bar)?;
        self.check_drives(drives)?;
        let mut own = drives.to_vec();
        let mut searches = Vec::new();
        for (n, converter) in self.converters.iter().enumerate() {
            let setting = drives[converter.coils[0]];
            let (Drive::Common(power_w) | Drive::CommonLoad(power_w)) = setting else {
                continue;
            };
            let powers_w = self.first_division(n, power_w, near);
            for (c, power) in converter.coils.iter().zip(&powers_w) {
                own[*c] = Drive::Terminals(*power);
            }
            let known = power_w == 0.0 || (!converter.is_parallel() && matches!(setting, Drive::Common(_)));
            if !known {
                searches.push(Search {
                    converter: n,
                    setting,
                    powers_w,
                    before: None,
                });
            }
        }
        let mut pass = 0;
        loop {
            let settled = self.settle_coils(bar, &own, slices)?;
            let off = searches.iter_mut().map(|s| s.correct(self, &settled.steady.coils));
            let residual = off.fold(0.0, f64::max);
            let allowed = TOLERANCES.iter().find(|(until, _)| pass < *until);
            match allowed {
                Some((_, tolerance)) if residual <= *tolerance => return Ok(settled),
                Some(_) => {}
                None => {
                    let name = searches.first().map(|s| self.converters[s.converter].name.clone());
                    return Err(HeaterError::ConverterNotSettled {
                        name: name.unwrap_or_default(),
                        iterations: pass,
                        residual,
                    });
                }
            }
            for search in &searches {
                let coils = self.converters[search.converter].coils.iter();
                for (c, power) in coils.zip(&search.powers_w) {
                    own[*c] = Drive::Terminals(*power);
                }
            }
            pass += 1;
        }
    }

    /// Powers at the terminals for the coils of a converter to begin with: by its parts, as in a state that is near, or by
    /// length.
    fn first_division(&self, converter: usize, power_w: f64, near: Option<&Steady>) -> Vec<f64> {
        let converter = &self.converters[converter];
        let parts: Vec<f64> = match (&converter.division, near) {
            (Division::Power(parts), _) => parts.clone(),
            (Division::Voltage, Some(near)) => converter.coils.iter().map(|c| near.coils[*c].terminals_w).collect(),
            (Division::Voltage, None) => {
                let lengths: Vec<f64> = self.coils().map(|(_, c)| c.length_m).collect();
                converter.coils.iter().map(|c| lengths[*c]).collect()
            }
        };
        let all: f64 = parts.iter().sum();
        let equal = 1.0 / parts.len() as f64;
        let share = |part: &f64| if all > 0.0 { part / all } else { equal };
        parts.iter().map(|part| power_w * share(part)).collect()
    }
}
