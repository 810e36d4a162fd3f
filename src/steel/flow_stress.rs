//! Hot flow stress laws.
//!
//! Temperature below and strain outside a law's range are held at the end of the range (the
//! exponentials and Shida's strain function go wild there, and hot metal comes to a steady state);
//! temperature above and strain rate outside it follow the law. [`FlowStress::out_of_range`] says when either happens.

use super::Provenance;
use crate::units::{GAS_CONSTANT, kelvin};

/// Pascal in one kgf/mm², the unit of Shida and of Misaka and Yoshimoto.
const KGF_MM2: f64 = 9.806_65e6;

/// Stress factor of Medina and Hernández, 1/MPa, and exponent of their hyperbolic sine.
const MEDINA_ALPHA_PER_MPA: f64 = 0.0118;
const MEDINA_N: f64 = 4.458;

/// Slowest strain rate that is evaluated, 1/s; below, power laws of the rate lose their meaning.
const SLOWEST_PER_S: f64 = 1e-3;

/// Smallest strain that is evaluated; below, power laws of the strain lose their meaning.
const SMALLEST_STRAIN: f64 = 1e-3;

/// Coefficients of the Hensel-Spittel equation
/// k_f = A e^(m1 θ) θ^m9 φ^m2 e^(m4/φ) (1+φ)^(m5 θ + m6) e^(m7 φ) φ̇^(m3 + m8 θ) in MPa, θ in degC.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct HenselSpittel {
    /// Factor in MPa.
    pub a: f64,
    /// Temperature, 1/K.
    pub m1: f64,
    /// Strain exponent.
    pub m2: f64,
    /// Rate exponent.
    pub m3: f64,
    /// Inverse strain.
    pub m4: f64,
    /// Exponent of 1 + strain, per K.
    pub m5: f64,
    /// Exponent of 1 + strain.
    pub m6: f64,
    /// Strain in the exponential.
    pub m7: f64,
    /// Rate exponent, per K.
    pub m8: f64,
    /// Exponent of temperature.
    pub m9: f64,
}

/// The form of a flow stress law.
#[derive(Debug, Clone, PartialEq)]
pub enum FlowLaw {
    /// The same everywhere.
    Constant {
        /// Stress in Pa.
        stress_pa: f64,
    },
    /// Shida, J. JSTP 10 (103) (1969) 610; signs of the rate exponent as in [`shida_pa`].
    Shida {
        /// Carbon, or a carbon equivalent for low-alloy steel, wt-%.
        carbon: f64,
    },
    /// Misaka and Yoshimoto 1967, from hammer drop tests.
    Misaka {
        /// Carbon, wt-%.
        carbon: f64,
    },
    /// Hensel and Spittel.
    HenselSpittel(HenselSpittel),
    /// Peak stress by the hyperbolic sine law, Z = ε̇ exp(Q/RT) = A sinh(ασ)^n; no strain.
    HyperbolicSine {
        /// Natural logarithm of A in 1/s.
        ln_a: f64,
        /// α in 1/MPa.
        alpha_per_mpa: f64,
        /// Stress exponent.
        n: f64,
        /// Activation energy in J/mol.
        activation_j_mol: f64,
    },
    /// Low-alloy steel: the peak stress of Medina and Hernández, Acta Mater. 44 (1996) 137 (α = 0.0118 1/MPa
    /// and n = 4.458 from memory), reached along Shida's strain function and held beyond.
    Medina {
        /// Carbon in wt-%, of the strain function.
        carbon: f64,
        /// ln A with A in 1/s.
        ln_a: f64,
        /// Activation energy in J/mol.
        activation_j_mol: f64,
    },
}

/// Range of a flow stress law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowRange {
    /// Temperature, degC.
    pub temp_c: (f64, f64),
    /// True strain.
    pub strain: (f64, f64),
    /// Strain rate, 1/s.
    pub rate_per_s: (f64, f64),
}

/// A quantity outside the range of a law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutOfRange {
    /// `temperature`, `strain` or `strain rate`.
    pub quantity: &'static str,
    /// Unit of the numbers.
    pub unit: &'static str,
    /// The value asked for.
    pub value: f64,
    /// The range of the law.
    pub range: (f64, f64),
}

impl std::fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let OutOfRange {
            quantity,
            unit,
            value,
            range: (low, high),
        } = self;
        write!(f, "{quantity} {value:.4} {unit} is outside {low} to {high} {unit}")
    }
}

/// A flow stress law with its range and source.
///
/// ```
/// use billet_thermal::steel::{FlowLaw, FlowStress, Provenance};
/// let law = FlowStress::new(FlowLaw::Shida { carbon: 0.45 }, "Shida 1969", Provenance::Given);
/// let mpa = law.stress_pa(1100.0, 0.3, 10.0) / 1e6;
/// assert!((mpa - 109.0).abs() < 1.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct FlowStress {
    /// The law.
    pub law: FlowLaw,
    /// Where it holds.
    pub range: FlowRange,
    /// Where the coefficients come from.
    pub source: String,
    /// Who owns them.
    pub provenance: Provenance,
}

/// Positive abscissae and weights of the Gauss-Legendre rule with 16 points (calculated as roots of
/// the Legendre polynomial; Abramowitz and Stegun, table 25.4).
const GAUSS: [(f64, f64); 8] = [
    (0.09501250983763744, 0.18945061045506864),
    (0.2816035507792589, 0.18260341504492364),
    (0.45801677765722737, 0.16915651939500265),
    (0.6178762444026438, 0.1495959888165767),
    (0.755404408355003, 0.12462897125553407),
    (0.8656312023878318, 0.0951585116824926),
    (0.9445750230732326, 0.062253523938647456),
    (0.9894009349916499, 0.027152459411754176),
];

impl FlowStress {
    /// A law over its own published range (see [`FlowLaw::range`]).
    pub fn new(law: FlowLaw, source: impl Into<String>, provenance: Provenance) -> FlowStress {
        FlowStress {
            range: law.range(),
            law,
            source: source.into(),
            provenance,
        }
    }

    /// Flow stress (Pa) at a temperature (degC), true strain and strain rate (1/s).
    ///
    /// For Misaka and Yoshimoto, whose formula is the mean up to the strain, this is the derivative
    /// of strain times mean, 1.21 times the mean.
    pub fn stress_pa(&self, temp_c: f64, strain: f64, strain_rate_per_s: f64) -> f64 {
        let r = &self.range;
        let temp = temp_c.max(r.temp_c.0);
        let strain = strain
            .max(r.strain.0)
            .max(SMALLEST_STRAIN)
            .min(r.strain.1.max(SMALLEST_STRAIN));
        let rate = strain_rate_per_s.abs().max(SLOWEST_PER_S);
        match &self.law {
            FlowLaw::Constant { stress_pa } => *stress_pa,
            FlowLaw::Shida { carbon } => shida_pa(*carbon, temp, strain, rate),
            FlowLaw::Misaka { carbon } => 1.21 * misaka_mean_pa(*carbon, temp, strain, rate),
            FlowLaw::HenselSpittel(m) => hensel_spittel_pa(m, temp, strain, rate),
            FlowLaw::Medina {
                carbon,
                ln_a,
                activation_j_mol,
            } => {
                let ln_z = rate.ln() + activation_j_mol / (GAS_CONSTANT * kelvin(temp));
                let peak = ((ln_z - ln_a) / MEDINA_N).exp().asinh() / MEDINA_ALPHA_PER_MPA * 1e6;
                peak * hardening(*carbon, strain)
            }
            FlowLaw::HyperbolicSine {
                ln_a,
                alpha_per_mpa,
                n,
                activation_j_mol,
            } => {
                let ln_z = rate.ln() + activation_j_mol / (GAS_CONSTANT * kelvin(temp));
                ((ln_z - ln_a) / n).exp().asinh() / alpha_per_mpa * 1e6
            }
        }
    }

    /// Mean flow stress (Pa) between strain 0 and `strain`: (1/ε) ∫ σ dε.
    pub fn mean_stress_pa(&self, temp_c: f64, strain: f64, strain_rate_per_s: f64) -> f64 {
        self.mean_between_pa(temp_c, 0.0, strain, strain_rate_per_s)
    }

    /// Mean flow stress (Pa) between two strains, by Gauss's rule in u with strain ∝ u⁴, which
    /// removes the root at zero strain; the stress itself when the strains are equal.
    pub fn mean_between_pa(&self, temp_c: f64, from_strain: f64, to_strain: f64, strain_rate_per_s: f64) -> f64 {
        let width = to_strain - from_strain;
        if width.abs() < 1e-9 {
            return self.stress_pa(temp_c, to_strain, strain_rate_per_s);
        }
        let low = (from_strain / to_strain).max(0.0).sqrt().sqrt();
        let (middle, half) = (0.5 * (1.0 + low), 0.5 * (1.0 - low));
        let at = |u: f64| {
            let cubed = u * u * u;
            4.0 * cubed * self.stress_pa(temp_c, to_strain * cubed * u, strain_rate_per_s)
        };
        let sum: f64 = GAUSS
            .iter()
            .map(|(x, w)| w * (at(middle - half * x) + at(middle + half * x)))
            .sum();
        to_strain * half * sum / width
    }

    /// Where the law holds.
    pub fn range(&self) -> FlowRange {
        self.range
    }

    /// The first quantity that lies outside the range, if any.
    pub fn out_of_range(&self, temp_c: f64, strain: f64, strain_rate_per_s: f64) -> Option<OutOfRange> {
        let r = &self.range;
        [
            ("temperature", "degC", temp_c, r.temp_c),
            ("strain", "", strain, r.strain),
            ("strain rate", "1/s", strain_rate_per_s, r.rate_per_s),
        ]
        .into_iter()
        .find(|(_, _, value, (low, high))| value < low || value > high)
        .map(|(quantity, unit, value, range)| OutOfRange {
            quantity,
            unit,
            value,
            range,
        })
    }
}

impl FlowLaw {
    /// Published range of the law; wide open where the form has none of its own.
    pub fn range(&self) -> FlowRange {
        match self {
            FlowLaw::Shida { .. } => FlowRange {
                temp_c: (700.0, 1200.0),
                strain: (0.0, 0.7),
                rate_per_s: (0.1, 100.0),
            },
            FlowLaw::Misaka { .. } => FlowRange {
                temp_c: (750.0, 1200.0),
                strain: (0.0, 0.5),
                rate_per_s: (30.0, 200.0),
            },
            FlowLaw::Medina { .. } => FlowRange {
                temp_c: (850.0, 1150.0),
                strain: (0.0, f64::INFINITY),
                rate_per_s: (0.1, 10.0),
            },
            _ => FlowRange {
                temp_c: (-273.15, f64::INFINITY),
                strain: (0.0, f64::INFINITY),
                rate_per_s: (0.0, f64::INFINITY),
            },
        }
    }

    /// Name as in material files.
    pub fn name(&self) -> &'static str {
        match self {
            FlowLaw::Constant { .. } => "constant",
            FlowLaw::Shida { .. } => "shida",
            FlowLaw::Misaka { .. } => "misaka",
            FlowLaw::HenselSpittel(_) => "hensel-spittel",
            FlowLaw::HyperbolicSine { .. } => "hyperbolic-sine",
            FlowLaw::Medina { .. } => "medina",
        }
    }
}

/// Share of the peak stress that is reached at a strain: Shida's strain function over its maximum (which
/// lies at a strain of 0.4 to 0.45), and one beyond, where hardening and recrystallisation are in balance.
fn hardening(carbon: f64, strain: f64) -> f64 {
    let n = shida_exponent(carbon);
    let peak = (1.3 * n / 0.3).powf(1.0 / (1.0 - n));
    shida_strain(n, (strain / 0.2).min(peak)) / shida_strain(n, peak)
}

/// Exponent of Shida's strain function for carbon (wt-%).
fn shida_exponent(carbon: f64) -> f64 {
    0.41 - 0.07 * carbon
}

/// Shida's strain function of strain over 0.2.
fn shida_strain(n: f64, strain_over_0_2: f64) -> f64 {
    1.3 * strain_over_0_2.powf(n) - 0.3 * strain_over_0_2
}

/// Shida's flow stress (Pa) for carbon (wt-%), temperature (degC), strain and rate (1/s).
///
/// Shida, J. JSTP 10 (103) (1969) 610: 700 to 1200 degC, strain up to 0.7, 0.1 to 100 1/s, C up to
/// 1.2 %. Printed copies disagree in signs; those here (+0.126 and +0.081 in the rate exponent,
/// 5/T_p below the transformation, a square on the bracket alone) make the stress continuous at
/// T_p within 1.5 % and the rate sensitivity positive.
pub fn shida_pa(carbon: f64, temp_c: f64, strain: f64, rate_per_s: f64) -> f64 {
    let c = carbon;
    let t = (temp_c + 273.0) / 1000.0;
    let tp = shida_transformation(c);
    let (deformation, m) = if t >= tp {
        (
            0.28 * (5.0 / t - 0.01 / (c + 0.05)).exp(),
            (-0.019 * c + 0.126) * t + (0.075 * c - 0.050),
        )
    } else {
        let bracket = t - 0.95 * (c + 0.49) / (c + 0.42);
        let q = 30.0 * (c + 0.9) * bracket * bracket + (c + 0.06) / (c + 0.09);
        (
            0.28 * q * ((c + 0.32) / (0.19 * (c + 0.41)) - 0.01 / (c + 0.05)).exp(),
            (0.081 * c - 0.154) * t + (-0.019 * c + 0.207) + 0.027 / (c + 0.32),
        )
    };
    let f = shida_strain(shida_exponent(c), strain / 0.2);
    KGF_MM2 * deformation * f * (rate_per_s / 10.0).powf(m)
}

/// Shida's transformation temperature T_p in thousands of kelvin (with 273 for the Celsius zero).
pub fn shida_transformation(carbon: f64) -> f64 {
    0.95 * (carbon + 0.41) / (carbon + 0.32)
}

/// Mean flow stress (Pa) of Misaka and Yoshimoto (1967) up to a strain.
///
/// Hammer drop tests: 750 to 1200 degC, strain up to 0.5, 30 to 200 1/s, C up to 1.2 %.
pub fn misaka_mean_pa(carbon: f64, temp_c: f64, strain: f64, rate_per_s: f64) -> f64 {
    let c = carbon;
    let exponent = 0.126 - 1.75 * c + 0.594 * c * c + (2851.0 + 2968.0 * c - 1120.0 * c * c) / kelvin(temp_c);
    KGF_MM2 * exponent.exp() * strain.powf(0.21) * rate_per_s.powf(0.13)
}

/// Hensel and Spittel's flow stress (Pa).
fn hensel_spittel_pa(m: &HenselSpittel, temp_c: f64, strain: f64, rate_per_s: f64) -> f64 {
    let t = temp_c;
    let mpa = m.a
        * (m.m1 * t).exp()
        * t.max(1.0).powf(m.m9)
        * strain.powf(m.m2)
        * (m.m4 / strain).exp()
        * (1.0 + strain).powf(m.m5 * t + m.m6)
        * (m.m7 * strain).exp()
        * rate_per_s.powf(m.m3 + m.m8 * t);
    1e6 * mpa
}
