//! The coil with its load as a circuit: losses, efficiency and power factor.

use std::f64::consts::PI;

use num_complex::Complex64;
use serde::Serialize;

use super::short::nagaoka;
use super::winding::Coil;
use crate::heater::error::HeaterError;
use crate::units::MU_0;

/// What lies in a coil, summed over its pieces.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Load {
    /// Active power per square of the surface field, W (m/A)²: Σ perimeter · length · Re Z.
    pub active: f64,
    /// Reactive power per square of the surface field, var (m/A)²: Σ perimeter · length · Im Z.
    pub reactive: f64,
    /// Volume of the load inside the coil over the coil's length, m².
    pub section_m2: f64,
}

/// Elements of the equivalent circuit, in ohm, all referred to the terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// Load resistance R_w.
    pub load_resistance: f64,
    /// Load reactance X_w.
    pub load_reactance: f64,
    /// Winding resistance R_c; the winding's inner reactance is taken equal to it.
    pub winding_resistance: f64,
    /// Reactance of the air gap between load and winding, X_g.
    pub gap_reactance: f64,
    /// Reactance of the return path outside the coil, X_e; parallel to load and gap.
    pub return_reactance: f64,
}

impl Circuit {
    /// Elements for a coil with a load: R_w = A N²/l², X_w = B N²/l² (A, B the load's powers per
    /// H²), X_g = ωμ₀N²(A_c − A_w)/l, R_c = N²πD_cρ_c/(δ_c l k_s), X_e = ωμ₀N²(A_c/l)·K_N/(1−K_N).
    ///
    /// R. M. Baker, Trans. AIEE 63 (1944) and 1957; E. J. Davies, Conduction and Induction Heating,
    /// 1990 (from memory).
    pub fn new(coil: &Coil, load: &Load) -> Result<Circuit, HeaterError> {
        let n2 = coil.turns * coil.turns;
        let l = coil.length_m;
        let omega_mu = 2.0 * PI * coil.frequency_hz * MU_0;
        let bore_area = 0.25 * PI * coil.bore_m * coil.bore_m;
        let k_n = nagaoka(coil.bore_m, l)?;
        Ok(Circuit {
            load_resistance: load.active * n2 / (l * l),
            load_reactance: load.reactive * n2 / (l * l),
            winding_resistance: coil.winding_loss_per_field2() * n2 / (l * l),
            gap_reactance: omega_mu * n2 * (bore_area - load.section_m2).max(0.0) / l,
            return_reactance: omega_mu * n2 * bore_area / l * k_n / (1.0 - k_n),
        })
    }

    /// Impedance of load and gap with the return path in parallel.
    fn inside(&self, long: bool) -> Complex64 {
        let z = Complex64::new(self.load_resistance, self.load_reactance + self.gap_reactance);
        if long {
            z
        } else {
            let e = Complex64::new(0.0, self.return_reactance);
            e * z / (e + z)
        }
    }

    /// Impedance at the terminals. `long` leaves the return path out, as in an endless coil.
    pub fn impedance(&self, long: bool) -> Complex64 {
        Complex64::new(self.winding_resistance, self.winding_resistance) + self.inside(long)
    }

    /// Power factor cos φ at the terminals.
    pub fn power_factor(&self, long: bool) -> f64 {
        let z = self.impedance(long);
        z.re / z.norm()
    }

    /// Electrical efficiency: power into the load over power at the terminals.
    pub fn efficiency(&self, long: bool) -> f64 {
        self.inside(long).re / self.impedance(long).re
    }
}

/// What instruments at the terminals of a coil show, RMS.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Electrical {
    /// Turns of the coil.
    pub turns: f64,
    /// Voltage, V.
    pub volts: f64,
    /// Current, A.
    pub amperes: f64,
    /// Reactive power, var: what the capacitor must have.
    pub reactive_var: f64,
}

impl Electrical {
    /// From the active power (W) at the terminals of a coil with its load: P = I² Re Z.
    pub fn of(coil: &Coil, circuit: &Circuit, terminals_w: f64) -> Electrical {
        let z = circuit.impedance(false);
        let amperes = if z.re > 0.0 { (terminals_w / z.re).sqrt() } else { 0.0 };
        Electrical {
            turns: coil.turns,
            volts: amperes * z.norm(),
            amperes,
            reactive_var: amperes * amperes * z.im,
        }
    }
}

/// Electrical efficiency of a long coil, η = 1/[1 + (D_c/D_w)√(ρ_c/(μᵣρ_w))/(K_T k_s)].
///
/// Rapoport and Pleshivtseva, Optimal Control of Induction Heating Processes, 2006, p. 47-50; for
/// K_T = k_s = 1 the handbook formula of Lupi and Nemkov (from memory).
pub fn long_coil_efficiency(
    coil_over_billet: f64,
    copper_resistivity: f64,
    billet_resistivity: f64,
    billet_permeability: f64,
    k_t: f64,
    fill: f64,
) -> f64 {
    let ratio = (copper_resistivity / (billet_permeability * billet_resistivity)).sqrt();
    1.0 / (1.0 + coil_over_billet * ratio / (k_t * fill))
}
