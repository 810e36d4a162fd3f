//! Temperature and conduction potential as functions of enthalpy, looked up in O(1).
//!
//! The solver's unknown is the specific enthalpy h (J/kg), so that a transformation peak of c(T)
//! cannot be stepped over. The table is uniform in h; temperature T(h) and the conduction
//! potential Θ(T) = ∫k dT (Kirchhoff's transformation) are linear inside an interval, which is
//! exact for constant properties.

use std::collections::VecDeque;

use crate::units::ENTHALPY_ZERO_C;

/// Number of table intervals.
const INTERVALS: usize = 4096;

/// What a table lookup returns.
#[derive(Debug, Clone, Copy)]
pub struct State {
    /// Temperature in degC.
    pub temp_c: f64,
    /// dT/dh in K kg/J, that is 1/c.
    pub dtemp_dh: f64,
    /// Conduction potential Θ = ∫k dT from the enthalpy zero, W/m.
    pub potential: f64,
    /// dΘ/dh = k/c in W kg/m J.
    pub dpotential_dh: f64,
    /// Largest dΘ/dh within 20 kJ/kg of this enthalpy: what a linearisation may meet during a step.
    pub steepest: f64,
    /// Largest dT/dh within 100 kJ/kg: what becomes of an error of enthalpy. Inside a transformation it
    /// is hardly any temperature, but it stays and is one as soon as the cell has left it.
    pub largest_dtemp_dh: f64,
}

/// Enthalpy within which `State::steepest` looks, J/kg: some 30 K away from the transformation.
const REACH: f64 = 2e4;

/// Enthalpy within which `State::largest_dtemp_dh` looks, J/kg: the heat of a transformation.
const TRANSFORMATION: f64 = 1e5;

#[derive(Debug, Clone, Copy)]
struct Node {
    temp_c: f64,
    dtemp: f64,
    potential: f64,
    dpotential: f64,
}

/// What is only asked for once a step.
#[derive(Debug, Clone, Copy)]
struct Slopes {
    steepest: f64,
    largest_dtemp: f64,
}

/// Heat capacity in terms of that of the austenite above which a transformation still goes on.
const DONE: f64 = 1.5;

/// One branch of the enthalpy relation (heating or cooling).
#[derive(Debug, Clone)]
pub struct Branch {
    h_low: f64,
    h_high: f64,
    per_h: f64,
    nodes: Vec<Node>,
    slopes: Vec<Slopes>,
}

impl Branch {
    /// Tabulates the branch from points of temperature (degC), enthalpy (J/kg) and potential (W/m),
    /// strictly increasing in each column.
    fn from_points(temp_c: &[f64], h: &[f64], potential: &[f64]) -> Branch {
        let last = h.len() - 1;
        let (h_low, h_high) = (h[0], h[last]);
        let step = (h_high - h_low) / INTERVALS as f64;
        let mut at = 0;
        let mut sample = |k: usize| {
            let x = if k == INTERVALS {
                h_high
            } else {
                h_low + step * k as f64
            };
            while at + 1 < last && h[at + 1] <= x {
                at += 1;
            }
            let f = (x - h[at]) / (h[at + 1] - h[at]);
            (
                temp_c[at] + f * (temp_c[at + 1] - temp_c[at]),
                potential[at] + f * (potential[at + 1] - potential[at]),
            )
        };
        let points: Vec<(f64, f64)> = (0..=INTERVALS).map(&mut sample).collect();
        let slopes: Vec<f64> = points.windows(2).map(|w| w[1].1 - w[0].1).collect();
        let rises: Vec<f64> = points.windows(2).map(|w| w[1].0 - w[0].0).collect();
        let steepest = largest_within(&slopes, REACH / step);
        let largest_dtemp = largest_within(&rises, TRANSFORMATION / step);
        let nodes = points
            .windows(2)
            .map(|w| Node {
                temp_c: w[0].0,
                dtemp: w[1].0 - w[0].0,
                potential: w[0].1,
                dpotential: w[1].1 - w[0].1,
            })
            .collect();
        let slopes = steepest.iter().zip(&largest_dtemp).map(|(steepest, largest)| Slopes {
            steepest: steepest / step,
            largest_dtemp: largest / step,
        });
        Branch {
            h_low,
            h_high,
            per_h: 1.0 / step,
            nodes,
            slopes: slopes.collect(),
        }
    }

    /// State at specific enthalpy `h` (J/kg). Outside the table the end slopes continue.
    #[inline(always)]
    pub fn at(&self, h: f64) -> State {
        let x = (h - self.h_low) * self.per_h;
        let i = (x.max(0.0) as usize).min(INTERVALS - 1);
        let f = x - i as f64;
        let n = &self.nodes[i];
        State {
            temp_c: n.temp_c + f * n.dtemp,
            dtemp_dh: n.dtemp * self.per_h,
            potential: n.potential + f * n.dpotential,
            dpotential_dh: n.dpotential * self.per_h,
            steepest: self.slopes[i].steepest,
            largest_dtemp_dh: self.slopes[i].largest_dtemp,
        }
    }

    /// Enthalpy (J/kg) at a temperature (degC): the exact inverse of [`Branch::at`].
    pub fn enthalpy(&self, temp_c: f64) -> f64 {
        let i = self.nodes.partition_point(|n| n.temp_c <= temp_c).max(1) - 1;
        let n = &self.nodes[i];
        self.h_low + (i as f64 + (temp_c - n.temp_c) / n.dtemp) / self.per_h
    }

    /// The highest temperature at which the heat capacity is half as large again as at `above_c`, degC:
    /// where a transformation below `above_c` is as good as done.
    fn done_c(&self, above_c: f64) -> f64 {
        let rise = |i: &usize| self.nodes[*i].dtemp;
        let end = self.nodes.partition_point(|n| n.temp_c < above_c).min(INTERVALS - 1);
        let last = (0..end).rev().find(|i| rise(&end) > DONE * rise(i));
        last.map_or(above_c, |i| self.nodes[i + 1].temp_c)
    }

    /// Enthalpy range of the table (J/kg).
    pub fn range(&self) -> (f64, f64) {
        (self.h_low, self.h_high)
    }
}

/// The largest of the neighbours within a distance (in places of the list) of each value, by a queue of
/// those that may still become it.
fn largest_within(of: &[f64], distance: f64) -> Vec<f64> {
    let reach = distance.ceil() as usize;
    let mut candidates: VecDeque<usize> = VecDeque::new();
    let mut next = 0;
    (0..of.len())
        .map(|i| {
            while next < of.len() && next <= i + reach {
                while candidates.back().is_some_and(|last| of[*last] <= of[next]) {
                    candidates.pop_back();
                }
                candidates.push_back(next);
                next += 1;
            }
            while candidates.front().is_some_and(|first| first + reach < i) {
                candidates.pop_front();
            }
            candidates.front().map_or(0.0, |first| of[*first])
        })
        .collect()
}

/// Thermal behaviour of one metal: density, and the enthalpy relation on heating and on cooling.
///
/// Both branches agree at and above the temperature where the metal is fully austenitic
/// (`austenite_c`); a cell that has been there follows the cooling branch from then on.
#[derive(Debug, Clone)]
pub struct ThermalTable {
    /// Density at 20 degC in kg/m³; the geometry is the cold one, so mass is conserved.
    pub density: f64,
    /// Relation on heating.
    pub heating: Branch,
    /// Relation on cooling after full transformation; `None` when it equals the heating branch.
    pub cooling: Option<Branch>,
    /// Temperature above which the two branches agree, degC.
    pub austenite_c: f64,
    /// Temperature above which a body of unknown past is austenite, degC: the transformation on heating is
    /// as good as done there. Below `austenite_c` the branches still differ by its tail.
    pub transformed_c: f64,
}

impl ThermalTable {
    /// Constant conductivity (W/mK), specific heat (J/kgK) and density (kg/m³).
    ///
    /// ```
    /// let steel = billet_thermal::steel::ThermalTable::constant(30.0, 650.0, 7850.0);
    /// let h = steel.heating.enthalpy(1020.0);
    /// assert!((h - 650.0 * 1000.0).abs() < 1e-6);
    /// ```
    pub fn constant(conductivity: f64, specific_heat: f64, density: f64) -> ThermalTable {
        Self::from_functions(
            density,
            (-200.0, 2000.0),
            &|_| conductivity,
            &|_| specific_heat,
            None,
            f64::INFINITY,
        )
    }

    /// From functions of temperature (degC) over a range: conductivity (W/mK), specific heat on
    /// heating and, where it differs, on cooling (J/kgK), both integrated on a 0.05 K raster by
    /// the midpoint rule. Enthalpy is zero at 20 degC on the heating branch; the cooling branch
    /// is fixed to the heating branch at the upper end of the range.
    pub fn from_functions(
        density: f64,
        range_c: (f64, f64),
        conductivity: &dyn Fn(f64) -> f64,
        heating: &dyn Fn(f64) -> f64,
        cooling: Option<&dyn Fn(f64) -> f64>,
        austenite_c: f64,
    ) -> ThermalTable {
        let (low, high) = range_c;
        let n = ((high - low) / 0.05).ceil() as usize;
        let step = (high - low) / n as f64;
        let temps: Vec<f64> = (0..=n).map(|i| low + step * i as f64).collect();
        let integrate = |f: &dyn Fn(f64) -> f64| {
            let mut sum = 0.0;
            let mut out = Vec::with_capacity(n + 1);
            out.push(0.0);
            for w in temps.windows(2) {
                sum += f(0.5 * (w[0] + w[1])) * (w[1] - w[0]);
                out.push(sum);
            }
            out
        };
        let value_at_zero = |column: &[f64]| {
            let x = ((ENTHALPY_ZERO_C - low) / step).clamp(0.0, n as f64 - 1e-9);
            let i = x as usize;
            column[i] + (x - i as f64) * (column[i + 1] - column[i])
        };
        let shift = |column: Vec<f64>, by: f64| -> Vec<f64> { column.iter().map(|v| v - by).collect() };
        let theta = integrate(conductivity);
        let theta0 = value_at_zero(&theta);
        let theta = shift(theta, theta0);
        let up = integrate(heating);
        let up0 = value_at_zero(&up);
        let up = shift(up, up0);
        let down = cooling.map(|c| {
            let column = integrate(c);
            let by = column[n] - up[n];
            shift(column, by)
        });
        let heating = Branch::from_points(&temps, &up, &theta);
        let transformed_c = if down.is_some() {
            heating.done_c(austenite_c)
        } else {
            austenite_c
        };
        ThermalTable {
            density,
            transformed_c,
            heating,
            cooling: down.map(|h| Branch::from_points(&temps, &h, &theta)),
            austenite_c,
        }
    }

    /// The branch that a cell follows: `cooled` after it has been fully austenitic.
    #[inline(always)]
    pub fn branch(&self, cooled: bool) -> &Branch {
        match (&self.cooling, cooled) {
            (Some(branch), true) => branch,
            _ => &self.heating,
        }
    }

    /// Thermal conductivity (W/mK) at a temperature (degC).
    pub fn conductivity(&self, temp_c: f64) -> f64 {
        let s = self.heating.at(self.heating.enthalpy(temp_c));
        s.dpotential_dh / s.dtemp_dh
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constant_properties_are_exact() {
        let t = ThermalTable::constant(28.0, 680.0, 7700.0);
        let s = t.heating.at(680.0 * 500.0);
        assert!((s.temp_c - 520.0).abs() < 1e-9);
        assert!((s.potential - 28.0 * 500.0).abs() < 1e-6);
        assert!((s.dtemp_dh * 680.0 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn enthalpy_inverts_lookup() {
        let t = ThermalTable::from_functions(
            7850.0,
            (-50.0, 1500.0),
            &|t| 54.0 - 0.02 * t,
            &|t| 450.0 + 0.3 * t,
            None,
            f64::INFINITY,
        );
        for temp in [-40.0, 20.0, 333.3, 1499.0, 1600.0] {
            let back = t.heating.at(t.heating.enthalpy(temp)).temp_c;
            assert!((back - temp).abs() < 1e-9, "{temp} {back}");
        }
    }
}
