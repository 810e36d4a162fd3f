//! The specific heat on cooling: given, or the heating curve with its peak moved down.

use super::check::Checker;
use super::curve::{Curve, Law};
use super::error::FaultKind;
use super::formula::Property;
use super::input::SteelInput;

/// Largest relative difference of the heats that two given branches may take.
const AREA_TOLERANCE: f64 = 0.01;

impl Checker<'_> {
    /// The cooling curve and the temperature above which it agrees with the heating curve.
    pub(super) fn cooling(&mut self, input: &SteelInput, heating: &Curve) -> (Option<Curve>, f64) {
        let none = (None, f64::INFINITY);
        match (&input.specific_heat_cooling_j_kgk, &input.cooling_peak_shift_k) {
            (None, None) => none,
            (Some(given), None) => {
                let key = "specific_heat_cooling_j_kgk";
                let Some(curve) = self.property(key, given, Property::SpecificHeat) else {
                    return none;
                };
                let austenite = self
                    .scalar("austenite_c", &input.austenite_c, "degC", (20.0, 2000.0))
                    .map_or_else(|| highest_difference(heating, &curve), |s| s.value);
                let (up, down) = (area(heating, austenite), area(&curve, austenite));
                if (up / down - 1.0).abs() > AREA_TOLERANCE {
                    let kind = FaultKind::BranchAreas {
                        to_c: austenite,
                        heating: up,
                        cooling: down,
                    };
                    self.fault(given.span(), kind);
                }
                (Some(curve), austenite)
            }
            (None, Some(shift)) => {
                let key = "cooling_peak_shift_k";
                let Some(amount) = self.scalar(key, &input.cooling_peak_shift_k, "K", (0.0, 700.0)) else {
                    return none;
                };
                let Law::Formula {
                    formula,
                    offset_at_20_c,
                    peak_shift_k,
                } = heating.law
                else {
                    let kind = FaultKind::NotWith {
                        key: key.into(),
                        with: "a constant or a table; give specific_heat_cooling_j_kgk".into(),
                    };
                    self.fault(shift.span(), kind);
                    return none;
                };
                let Some((_, peak_end)) = formula.peak_c else {
                    let kind = FaultKind::NotWith {
                        key: key.into(),
                        with: format!("`{}`, which has no peak", formula.name),
                    };
                    self.fault(shift.span(), kind);
                    return none;
                };
                let law = Law::Formula {
                    formula,
                    offset_at_20_c,
                    peak_shift_k: peak_shift_k - amount.value,
                };
                let curve = Curve::new(
                    Property::SpecificHeat,
                    law,
                    heating.range_c,
                    format!(
                        "heating curve with its peak {} K lower, same area; {}",
                        amount.value, amount.source
                    ),
                    self.provenance(),
                );
                (Some(curve), peak_end + peak_shift_k.max(0.0))
            }
            (Some(given), Some(_)) => {
                let kind = FaultKind::NotWith {
                    key: "specific_heat_cooling_j_kgk".into(),
                    with: "cooling_peak_shift_k; give one of them".into(),
                };
                self.fault(given.span(), kind);
                none
            }
        }
    }
}

/// Highest whole degree at which two curves differ, plus one.
fn highest_difference(a: &Curve, b: &Curve) -> f64 {
    (20..=2000)
        .rev()
        .map(f64::from)
        .find(|t| (a.at(*t) - b.at(*t)).abs() > 1e-9 * a.at(*t))
        .map_or(20.0, |t| t + 1.0)
}

/// Heat from 20 degC to a temperature, J/kg.
fn area(curve: &Curve, to_c: f64) -> f64 {
    let n = ((to_c - 20.0) / 0.05).ceil().max(1.0) as u32;
    let step = (to_c - 20.0) / f64::from(n);
    (0..n)
        .map(|i| curve.at(20.0 + (f64::from(i) + 0.5) * step) * step)
        .sum()
}
