//! The specific heat on cooling: given, or the heating curve with its peak moved down.

use super::check::{Checker, PropertyAt, ScalarAt};
use super::curve::{Curve, Law};
use super::formula::Property;
use super::input::{PEAK_SHIFT_K, SteelInput};

/// Largest relative difference of the heats that two given branches may take.
const AREA_TOLERANCE: f64 = 0.01;

/// The highest temperature at which two branches may differ, degC.
const HIGHEST_C: u32 = 4000;

impl Checker<'_> {
    /// The cooling curve and the temperature above which it agrees with the heating curve.
    pub(super) fn cooling(&mut self, input: &SteelInput, heating: &Curve) -> (Option<Curve>, f64) {
        let (given, shift) = (&input.specific_heat_cooling_j_kgk, &input.cooling_peak_shift_k);
        if let (Some(span), true) = (input.austenite_c.span(), given.is_none()) {
            let with = "the same specific heat on heating and cooling, or a shifted peak";
            self.not_with("austenite_c", span, with);
        }
        let branch = match (given.span(), shift.span()) {
            (None, None) => None,
            (Some(_), None) => self.given_branch(given, &input.austenite_c, heating),
            (None, Some(_)) => self.shifted_branch(shift, heating),
            (Some(_), Some(_)) => {
                self.found.exclusive(given, shift);
                None
            }
        };
        match branch {
            Some((curve, austenite_c)) => (Some(curve), austenite_c),
            None => (None, f64::INFINITY),
        }
    }

    fn given_branch(&mut self, given: &PropertyAt, austenite: &ScalarAt, heating: &Curve) -> Option<(Curve, f64)> {
        let curve = self.property(given, Property::SpecificHeat)?;
        let lowest = highest_difference(heating, &curve)?;
        let allowed = (lowest, f64::from(HIGHEST_C));
        let to_c = match austenite.is_some() {
            true => self.scalar(austenite, "degC", allowed)?.value,
            false => lowest,
        };
        let (up, down) = (area(heating, to_c), area(&curve, to_c));
        if (up / down - 1.0).abs() > AREA_TOLERANCE {
            let detail = format!(
                "specific heat integrates from 20 to {to_c} degC to {up} J/kg on heating and {down} J/kg on cooling; \
                 allowed: a difference of at most 1 %"
            );
            self.rule("branch-areas", given.span()?, detail);
            return None;
        }
        Some((curve, to_c))
    }

    fn shifted_branch(&mut self, shift: &ScalarAt, heating: &Curve) -> Option<(Curve, f64)> {
        let (key, span) = (shift.key.name, shift.span()?);
        let (formula, offset_at_20_c, peak_shift_k) = match heating.law {
            Law::Formula {
                formula,
                offset_at_20_c,
                peak_shift_k,
            } => (formula, offset_at_20_c, peak_shift_k),
            _ => {
                let with = "a constant or a table; give specific_heat_cooling_j_kgk";
                self.not_with(key, span, with);
                return None;
            }
        };
        let Some((peak_start, peak_end)) = formula.peak_c else {
            let with = format!("`{}`, which has no peak", formula.name);
            self.not_with(key, span, &with);
            return None;
        };
        let allowed = (0.0, peak_shift_k - PEAK_SHIFT_K.0);
        let amount = self.scalar(shift, "K", allowed)?;
        let austenite_c = peak_end + peak_shift_k.max(0.0);
        let lowest = (peak_start + peak_shift_k - amount.value).min(peak_start);
        if heating.range_c.0 > lowest || heating.range_c.1 < austenite_c {
            let with =
                format!("a range_c that does not cover the peak on both branches, {lowest} to {austenite_c} degC");
            self.not_with(key, span, &with);
            return None;
        }
        let law = Law::Formula {
            formula,
            offset_at_20_c,
            peak_shift_k: peak_shift_k - amount.value,
        };
        let source = format!(
            "heating curve with its peak {} K lower, same area; {}",
            amount.value, amount.source
        );
        let curve = Curve::new(Property::SpecificHeat, law, heating.range_c, source, self.provenance());
        Some((curve, austenite_c))
    }
}

/// The whole degree above the last at which two curves differ; `None` if they never do.
fn highest_difference(a: &Curve, b: &Curve) -> Option<f64> {
    (20..HIGHEST_C)
        .rev()
        .map(f64::from)
        .find(|t| (a.at(*t) - b.at(*t)).abs() > 1e-9 * a.at(*t))
        .map(|t| t + 1.0)
}

/// Heat from 20 degC to a temperature, J/kg.
fn area(curve: &Curve, to_c: f64) -> f64 {
    let n = ((to_c - 20.0) / 0.05).ceil().max(1.0) as u32;
    let step = (to_c - 20.0) / f64::from(n);
    (0..n)
        .map(|i| curve.at(20.0 + (f64::from(i) + 0.5) * step) * step)
        .sum()
}
