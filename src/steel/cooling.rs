//! The specific heat on cooling: given, or the heating curve with its peak moved down.

use toml::Spanned;

use super::check::{Checker, PEAK_SHIFT_K};
use super::curve::{Curve, Law};
use super::error::FaultKind;
use super::formula::Property;
use super::input::{PropertyInput, ScalarInput, SteelInput};

/// Largest relative difference of the heats that two given branches may take.
const AREA_TOLERANCE: f64 = 0.01;

/// The highest temperature at which two branches may differ, degC.
const HIGHEST_C: u32 = 4000;

impl Checker<'_> {
    /// The cooling curve and the temperature above which it agrees with the heating curve.
    pub(super) fn cooling(&mut self, input: &SteelInput, heating: &Curve) -> (Option<Curve>, f64) {
        if let (Some(given), None) = (&input.austenite_c, &input.specific_heat_cooling_j_kgk) {
            let with = "the same specific heat on heating and cooling, or a shifted peak";
            let kind = FaultKind::NotWith {
                key: "austenite_c".into(),
                with: with.into(),
            };
            self.fault(given.span(), kind);
        }
        let branch = match (&input.specific_heat_cooling_j_kgk, &input.cooling_peak_shift_k) {
            (None, None) => None,
            (Some(given), None) => self.given_branch(given, input, heating),
            (None, Some(shift)) => self.shifted_branch(shift, input, heating),
            (Some(given), Some(_)) => {
                let kind = FaultKind::NotWith {
                    key: "specific_heat_cooling_j_kgk".into(),
                    with: "cooling_peak_shift_k; give one of them".into(),
                };
                self.fault(given.span(), kind);
                None
            }
        };
        match branch {
            Some((curve, austenite_c)) => (Some(curve), austenite_c),
            None => (None, f64::INFINITY),
        }
    }

    fn given_branch(
        &mut self,
        given: &Spanned<PropertyInput>,
        input: &SteelInput,
        heating: &Curve,
    ) -> Option<(Curve, f64)> {
        let curve = self.property("specific_heat_cooling_j_kgk", given, Property::SpecificHeat)?;
        let lowest = highest_difference(heating, &curve)?;
        let allowed = (lowest, f64::from(HIGHEST_C));
        let austenite = match &input.austenite_c {
            Some(_) => self.scalar("austenite_c", &input.austenite_c, "degC", allowed)?.value,
            None => lowest,
        };
        let (up, down) = (area(heating, austenite), area(&curve, austenite));
        if (up / down - 1.0).abs() > AREA_TOLERANCE {
            let kind = FaultKind::BranchAreas {
                to_c: austenite,
                heating: up,
                cooling: down,
            };
            self.fault(given.span(), kind);
            return None;
        }
        Some((curve, austenite))
    }

    fn shifted_branch(
        &mut self,
        shift: &Spanned<ScalarInput>,
        input: &SteelInput,
        heating: &Curve,
    ) -> Option<(Curve, f64)> {
        let key = "cooling_peak_shift_k";
        let (formula, offset_at_20_c, peak_shift_k) = match heating.law {
            Law::Formula {
                formula,
                offset_at_20_c,
                peak_shift_k,
            } => (formula, offset_at_20_c, peak_shift_k),
            _ => {
                let with = "a constant or a table; give specific_heat_cooling_j_kgk";
                self.fault(
                    shift.span(),
                    FaultKind::NotWith {
                        key: key.into(),
                        with: with.into(),
                    },
                );
                return None;
            }
        };
        let Some((peak_start, peak_end)) = formula.peak_c else {
            let with = format!("`{}`, which has no peak", formula.name);
            self.fault(shift.span(), FaultKind::NotWith { key: key.into(), with });
            return None;
        };
        let allowed = (0.0, peak_shift_k - PEAK_SHIFT_K.0);
        let amount = self.scalar(key, &input.cooling_peak_shift_k, "K", allowed)?;
        let austenite_c = peak_end + peak_shift_k.max(0.0);
        let lowest = (peak_start + peak_shift_k - amount.value).min(peak_start);
        if heating.range_c.0 > lowest || heating.range_c.1 < austenite_c {
            let with =
                format!("a range_c that does not cover the peak on both branches, {lowest} to {austenite_c} degC");
            self.fault(shift.span(), FaultKind::NotWith { key: key.into(), with });
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
