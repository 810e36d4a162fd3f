//! A property against temperature: a constant, a table or a named formula, with range and source.

use super::formula::{CONVERGENCE_C, Formula, Property};
use crate::numeric::interpolate::linear;

/// Who owns a number of a steel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Provenance {
    /// Given by the user, in a steel file or inline.
    Given,
    /// From the library.
    Library,
    /// A default of the program, because the user gave none.
    Default,
}

/// How the value depends on temperature. Values are in the file's unit of the property.
#[derive(Debug, Clone, PartialEq)]
pub enum Law {
    /// The same at every temperature.
    Constant(f64),
    /// Points (degC, value) in ascending temperature, joined by straight lines; without points the value
    /// is 0.
    Table(Vec<(f64, f64)>),
    /// A closed form.
    Formula {
        /// The formula.
        formula: &'static Formula,
        /// Added at 20 degC, fading linearly to nothing at 800 degC (alloy grades join the plain
        /// steels there).
        offset_at_20_c: f64,
        /// Shift of the transformation peak in K, of equal area.
        peak_shift_k: f64,
    },
}

/// A property against temperature.
///
/// ```
/// use billet_thermal::steel::{Curve, Law, Property, Provenance};
/// let k = Curve::new(
///     Property::Conductivity,
///     Law::Table(vec![(0.0, 50.0), (100.0, 40.0)]),
///     (0.0, 100.0),
///     "given",
///     Provenance::Given,
/// );
/// assert_eq!(k.at(25.0), 47.5);
/// assert_eq!(k.at(900.0), 40.0);
/// assert!(!k.in_range(900.0));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// What it describes.
    pub property: Property,
    /// How it depends on temperature.
    pub law: Law,
    /// Range in which the source supports the values, degC. Outside, the end value is held.
    pub range_c: (f64, f64),
    /// Where the values come from.
    pub source: String,
    /// Who owns them.
    pub provenance: Provenance,
}

impl Curve {
    /// A curve from its parts. No checks: material files are checked where they are read.
    pub fn new(
        property: Property,
        law: Law,
        range_c: (f64, f64),
        source: impl Into<String>,
        provenance: Provenance,
    ) -> Curve {
        Curve {
            property,
            law,
            range_c,
            source: source.into(),
            provenance,
        }
    }

    /// Value in SI ([`Property::unit`]) at a temperature (degC). Outside the range the value at
    /// its end is held; ask [`Curve::in_range`] and warn.
    pub fn at(&self, temp_c: f64) -> f64 {
        let t = temp_c.max(self.range_c.0).min(self.range_c.1);
        self.property.to_si() * self.law.at(t)
    }

    /// Whether the source supports the value at this temperature (degC).
    pub fn in_range(&self, temp_c: f64) -> bool {
        (self.range_c.0..=self.range_c.1).contains(&temp_c)
    }

    /// Unit of [`Curve::at`].
    pub fn unit(&self) -> &'static str {
        self.property.unit()
    }

    /// The constant value in SI, if the law is a constant.
    pub fn constant(&self) -> Option<f64> {
        match self.law {
            Law::Constant(v) => Some(self.property.to_si() * v),
            _ => None,
        }
    }
}

impl Law {
    /// Value in the file's unit at a temperature (degC).
    pub fn at(&self, temp_c: f64) -> f64 {
        match self {
            Law::Constant(v) => *v,
            Law::Table(points) => linear(points, temp_c).unwrap_or(0.0),
            Law::Formula {
                formula,
                offset_at_20_c,
                peak_shift_k,
            } => {
                let base = match formula.peak_c {
                    Some(window) if *peak_shift_k != 0.0 => shifted_peak(formula.eval, window, *peak_shift_k, temp_c),
                    _ => (formula.eval)(temp_c),
                };
                let fade = (CONVERGENCE_C - temp_c) / (CONVERGENCE_C - 20.0);
                base + offset_at_20_c * fade.clamp(0.0, 1.0)
            }
        }
    }
}

/// A function whose peak inside `window` is moved by `shift` kelvin without change of area: the
/// function is bridged by a straight line over the window and the excess over that line is
/// added at its new place.
fn shifted_peak(f: fn(f64) -> f64, window: (f64, f64), shift: f64, temp_c: f64) -> f64 {
    let (low, high) = window;
    let inside = |t: f64| (low..high).contains(&t);
    let line = |t: f64| f(low) + (t - low) / (high - low) * (f(high) - f(low));
    let smooth = if inside(temp_c) { line(temp_c) } else { f(temp_c) };
    let from = temp_c - shift;
    if inside(from) {
        smooth + f(from) - line(from)
    } else {
        smooth
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shifted_peak_keeps_its_area() {
        let law = |peak_shift_k| Law::Formula {
            formula: Formula::find("en-1993-1-2-carbon-steel-specific-heat").unwrap(),
            offset_at_20_c: 0.0,
            peak_shift_k,
        };
        let area = |law: &Law| -> f64 { (0..24_000).map(|i| law.at(0.05 * (f64::from(i) + 0.5)) * 0.05).sum() };
        let (plain, moved) = (area(&law(0.0)), area(&law(-85.0)));
        assert!((plain / moved - 1.0).abs() < 1e-12, "{plain} {moved}");
        assert!(law(-85.0).at(650.0) > 4500.0);
        assert!(law(-85.0).at(735.0) < 900.0);
    }

    #[test]
    fn an_offset_fades_to_nothing_at_the_convergence_temperature() {
        let law = Law::Formula {
            formula: Formula::find("carbon-steel-conductivity").unwrap(),
            offset_at_20_c: -10.0,
            peak_shift_k: 0.0,
        };
        assert!((law.at(20.0) - (54.0 - 0.0333 * 20.0 - 10.0)).abs() < 1e-12);
        assert!((law.at(1200.0) - 29.2).abs() < 1e-12);
    }
}
