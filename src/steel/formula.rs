//! Named closed-form property laws that a material file can select.

use super::en1993;
use crate::numeric::interpolate::linear;
use crate::units::kelvin;

/// The property a formula or curve describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Property {
    /// Thermal conductivity.
    Conductivity,
    /// Specific heat at constant pressure.
    SpecificHeat,
    /// Density at 20 degC.
    Density,
    /// Total hemispherical emissivity.
    Emissivity,
    /// Electrical resistivity.
    Resistivity,
}

impl Property {
    /// Unit in material files.
    pub fn file_unit(self) -> &'static str {
        match self {
            Property::Conductivity => "W/mK",
            Property::SpecificHeat => "J/kgK",
            Property::Density => "kg/m³",
            Property::Emissivity => "1",
            Property::Resistivity => "µΩm",
        }
    }

    /// Unit in the library (SI).
    pub fn unit(self) -> &'static str {
        match self {
            Property::Resistivity => "Ωm",
            other => other.file_unit(),
        }
    }

    /// Name for people.
    pub fn label(self) -> &'static str {
        match self {
            Property::Conductivity => "thermal conductivity",
            Property::SpecificHeat => "specific heat",
            Property::Density => "density at 20 degC",
            Property::Emissivity => "emissivity",
            Property::Resistivity => "electrical resistivity",
        }
    }

    /// Lowest and highest value that is accepted, in the file's unit. Wide enough for
    /// dimensionless textbook cases.
    pub fn allowed(self) -> (f64, f64) {
        match self {
            Property::Conductivity => (1e-6, 1e6),
            Property::SpecificHeat => (1e-6, 1e7),
            Property::Density => (1e-6, 1e6),
            Property::Emissivity => (0.0, 1.0),
            Property::Resistivity => (1e-6, 1e3),
        }
    }

    /// Factor from the file's unit to SI.
    pub fn to_si(self) -> f64 {
        match self {
            Property::Resistivity => 1e-6,
            _ => 1.0,
        }
    }
}

/// A closed-form law with its range and source.
pub struct Formula {
    /// Name in material files.
    pub name: &'static str,
    /// What it describes; the value is in the file's unit of that property.
    pub property: Property,
    /// Range of validity, degC.
    pub range_c: (f64, f64),
    /// Where it comes from.
    pub source: &'static str,
    /// Ends of a transformation peak in degC, for a specific heat that has one.
    pub peak_c: Option<(f64, f64)>,
    /// The law itself: temperature in degC to value.
    pub eval: fn(f64) -> f64,
}

impl std::fmt::Debug for Formula {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Formula({})", self.name)
    }
}

impl PartialEq for Formula {
    fn eq(&self, other: &Formula) -> bool {
        self.name == other.name
    }
}

impl Formula {
    /// The formula of this name.
    pub fn find(name: &str) -> Option<&'static Formula> {
        FORMULAS.iter().find(|f| f.name == name)
    }

    /// Names of all formulas for one property.
    pub fn names_for(property: Property) -> Vec<&'static str> {
        FORMULAS
            .iter()
            .filter(|f| f.property == property)
            .map(|f| f.name)
            .collect()
    }
}

/// Temperature above which plain and low-alloy steels share one conductivity and resistivity, degC.
pub const CONVERGENCE_C: f64 = 800.0;

/// Conductivity of plain carbon steel with an austenite branch that rises (W/mK).
///
/// Below 800 degC EN 1993-1-2:2005 3.4.1.3; above, max(25, 25 + 0.0120 (θ − 850)), a line through
/// 26.8 W/mK at 1000 and 29.2 at 1200 degC of the BISRA tables (from memory), because the flat
/// 27.3 W/mK of the standard is 9 % low at 1200 degC by the Wiedemann-Franz law.
pub fn carbon_conductivity(temp_c: f64) -> f64 {
    if temp_c < CONVERGENCE_C {
        en1993::carbon_conductivity(temp_c)
    } else {
        (25.0 + 0.0120 * (temp_c - 850.0)).max(25.0)
    }
}

/// Resistivity of 0.4 % C steel against temperature: degC and µΩm.
const CARBON_RESISTIVITY: [(f64, f64); 15] = [
    (20.0, 0.160),
    (100.0, 0.221),
    (200.0, 0.296),
    (300.0, 0.387),
    (400.0, 0.493),
    (500.0, 0.619),
    (600.0, 0.766),
    (700.0, 0.932),
    (760.0, 1.042),
    (800.0, 1.111),
    (900.0, 1.149),
    (1000.0, 1.179),
    (1100.0, 1.207),
    (1200.0, 1.230),
    (1300.0, 1.250),
];

fn carbon_resistivity(temp_c: f64) -> f64 {
    crate::numeric::interpolate::linear(&CARBON_RESISTIVITY, temp_c).unwrap_or(0.0)
}

/// Emissivity of scaled steel against temperature: degC and value.
///
/// To 525 degC a thermography handbook table of oxidised steel (0.74 at 100, 0.78 to 0.82 at 125 to
/// 525 degC). Above, the mean of two sources that differ in slope: hot-rolling scale falls from 0.876 at
/// 800 to 0.820 at 1250 degC, a fit of digitised data of oxide rises from 0.82 to 0.89, and their mean stays
/// within 0.848 and 0.853.
const SCALED_EMISSIVITY: [(f64, f64); 5] = [
    (100.0, 0.74),
    (125.0, 0.78),
    (525.0, 0.82),
    (800.0, 0.85),
    (1300.0, 0.85),
];

fn alloy_718_specific_heat(temp_c: f64) -> f64 {
    let t = kelvin(temp_c);
    let low = |t: f64| 362.0 + 0.2118 * t;
    let middle = |t: f64| -946.0 + 2.95 * t - 1.379e-3 * t * t;
    let high = |t: f64| 639.0 - 3.355e-3 * t;
    if t < 800.0 {
        low(t)
    } else if t < 900.0 {
        middle(t)
    } else if t < 1070.0 {
        bridge(t, (900.0, middle(900.0)), (1070.0, high(1070.0)))
    } else {
        high(t)
    }
}

fn alloy_718_conductivity(temp_c: f64) -> f64 {
    let t = kelvin(temp_c);
    let low = |t: f64| 5.291 + 0.0152 * t + 1.382e-6 * t * t;
    let high = |t: f64| 11.75 + 0.011 * t - 9.327e-7 * t * t;
    if t < 800.0 {
        low(t)
    } else if t < 1173.0 {
        bridge(t, (800.0, low(800.0)), (1173.0, high(1173.0)))
    } else {
        high(t)
    }
}

fn bridge(x: f64, a: (f64, f64), b: (f64, f64)) -> f64 {
    a.1 + (x - a.0) / (b.0 - a.0) * (b.1 - a.1)
}

/// All formulas.
pub static FORMULAS: [Formula; 19] = [
    Formula {
        name: "en-1993-1-2-carbon-steel-specific-heat",
        property: Property::SpecificHeat,
        range_c: (20.0, 1200.0),
        source: "EN 1993-1-2:2005 3.4.1.2",
        peak_c: Some(en1993::PEAK_WINDOW_C),
        eval: en1993::carbon_specific_heat,
    },
    Formula {
        name: "en-1993-1-2-carbon-steel-conductivity",
        property: Property::Conductivity,
        range_c: (20.0, 1200.0),
        source: "EN 1993-1-2:2005 3.4.1.3",
        peak_c: None,
        eval: en1993::carbon_conductivity,
    },
    Formula {
        name: "carbon-steel-conductivity",
        property: Property::Conductivity,
        range_c: (20.0, 1300.0),
        source: "EN 1993-1-2:2005 3.4.1.3 below 800 degC; above, the line 25 + 0.0120 (T - 850), not \
                 below 25 W/mK, through BISRA 1953 values (from memory)",
        peak_c: None,
        eval: carbon_conductivity,
    },
    Formula {
        name: "carbon-steel-resistivity",
        property: Property::Resistivity,
        range_c: (20.0, 1300.0),
        source: "BISRA 1953 and Smithells tables for 0.4 % C (from memory), 20 to 760 degC confirmed by \
                 a textbook table for 0.4 % C; 1300 degC extrapolated",
        peak_c: None,
        eval: carbon_resistivity,
    },
    Formula {
        name: "en-1993-1-2-stainless-specific-heat",
        property: Property::SpecificHeat,
        range_c: (20.0, 1200.0),
        source: "EN 1993-1-2:2005 annex C",
        peak_c: None,
        eval: en1993::stainless_specific_heat,
    },
    Formula {
        name: "en-1993-1-2-stainless-conductivity",
        property: Property::Conductivity,
        range_c: (20.0, 1200.0),
        source: "EN 1993-1-2:2005 annex C",
        peak_c: None,
        eval: en1993::stainless_conductivity,
    },
    Formula {
        name: "anl-75-55-304l-specific-heat",
        property: Property::SpecificHeat,
        range_c: (20.0, 1400.0),
        source: "C. S. Kim, Argonne report ANL-75-55 (1975), 304L",
        peak_c: None,
        eval: |t| 4184.0 * (0.1122 + 3.222e-5 * kelvin(t)),
    },
    Formula {
        name: "anl-75-55-304l-conductivity",
        property: Property::Conductivity,
        range_c: (20.0, 1400.0),
        source: "C. S. Kim, Argonne report ANL-75-55 (1975), 304L",
        peak_c: None,
        eval: |t| 8.116 + 1.618e-2 * kelvin(t),
    },
    Formula {
        name: "anl-75-55-316l-specific-heat",
        property: Property::SpecificHeat,
        range_c: (20.0, 1397.0),
        source: "C. S. Kim, Argonne report ANL-75-55 (1975), 316L",
        peak_c: None,
        eval: |t| 4184.0 * (0.1097 + 3.174e-5 * kelvin(t)),
    },
    Formula {
        name: "anl-75-55-316l-conductivity",
        property: Property::Conductivity,
        range_c: (20.0, 1397.0),
        source: "C. S. Kim, Argonne report ANL-75-55 (1975), 316L",
        peak_c: None,
        eval: |t| 9.248 + 1.571e-2 * kelvin(t),
    },
    Formula {
        name: "mills-316-specific-heat",
        property: Property::SpecificHeat,
        range_c: (25.0, 1300.0),
        source: "fit of the table of Mills (2002) for 316, ±5 %",
        peak_c: None,
        eval: |t| 0.1816 * kelvin(t) + 428.46,
    },
    Formula {
        name: "mills-316-conductivity",
        property: Property::Conductivity,
        range_c: (25.0, 1300.0),
        source: "fit of the table of Mills (2002) for 316, ±10 %",
        peak_c: None,
        eval: |t| {
            let k = kelvin(t);
            -7.301e-6 * k * k + 0.02716 * k + 6.308
        },
    },
    Formula {
        name: "alloy-718-specific-heat",
        property: Property::SpecificHeat,
        range_c: (25.0, 1088.0),
        source: "Agazhanov, Samoshkin and Kozlovskii, J. Phys. Conf. Ser. 1382 (2019) 012175; bridged \
                 linearly 900 to 1070 K",
        peak_c: None,
        eval: alloy_718_specific_heat,
    },
    Formula {
        name: "alloy-718-conductivity",
        property: Property::Conductivity,
        range_c: (25.0, 1102.0),
        source: "Agazhanov, Samoshkin and Kozlovskii, J. Phys. Conf. Ser. 1382 (2019) 012175; bridged \
                 linearly 800 to 1173 K",
        peak_c: None,
        eval: alloy_718_conductivity,
    },
    Formula {
        name: "en-1999-1-2-aluminium-specific-heat",
        property: Property::SpecificHeat,
        range_c: (0.0, 500.0),
        source: "EN 1999-1-2 3.3.1.2",
        peak_c: None,
        eval: |t| 0.41 * t + 903.0,
    },
    Formula {
        name: "en-1999-1-2-aluminium-6xxx-conductivity",
        property: Property::Conductivity,
        range_c: (0.0, 500.0),
        source: "EN 1999-1-2, 3xxx and 6xxx series (from memory)",
        peak_c: None,
        eval: |t| 0.07 * t + 190.0,
    },
    Formula {
        name: "scaled-steel-emissivity",
        property: Property::Emissivity,
        range_c: (100.0, 1300.0),
        source: "thermography handbook table of oxidised steel, after Bramson and others, to 525 degC; from \
                 800 degC the mean of hot-rolling scale (attributed to Seredynski 1973) and a fit of digitised data \
                 of oxide in an open repository; ±0.04",
        peak_c: None,
        eval: |t| linear(&SCALED_EMISSIVITY, t).unwrap_or(f64::NAN),
    },
    Formula {
        name: "hot-rolling-scale-emissivity",
        property: Property::Emissivity,
        range_c: (600.0, 1300.0),
        source: "hot-rolling scale, attributed to Seredynski 1973 (attribution from memory)",
        peak_c: None,
        eval: |t| (t / 1000.0) * (0.125 * t / 1000.0 - 0.38) + 1.1,
    },
    Formula {
        name: "bare-steel-emissivity",
        property: Property::Emissivity,
        range_c: (20.0, 1300.0),
        source: "fit of digitised data in an open repository: 0.30894 (1 - exp(-T/840.04)), T in K",
        peak_c: None,
        eval: |t| 0.30894 * (1.0 - (-kelvin(t) / 840.04).exp()),
    },
];
