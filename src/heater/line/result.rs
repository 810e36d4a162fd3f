//! What a heater line in its steady state gives.

use serde::Serialize;

/// One coil at work, mean over a takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoilResult {
    /// Name of its zone.
    pub name: String,
    /// Start along the line, m.
    pub from_m: f64,
    /// End along the line, m.
    pub to_m: f64,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Field strength at the billets, A/m RMS.
    pub field_a_m: f64,
    /// Power at the terminals, W.
    pub terminals_w: f64,
    /// Loss in the winding, W.
    pub winding_w: f64,
    /// Power into the billets, W.
    pub load_w: f64,
    /// Electrical efficiency.
    pub efficiency: f64,
    /// Power factor at the terminals, before any capacitor.
    pub power_factor: f64,
    /// Short-coil factor.
    pub short_coil: f64,
}

/// Heat lost by the billets in one zone, mean over a takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneLoss {
    /// Name of the zone.
    pub name: String,
    /// Whether it is a stretch open to the shop.
    pub open: bool,
    /// Loss, W.
    pub loss_w: f64,
}

/// Temperatures of the bar on its way.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TrackPoint {
    /// Place along the line, m.
    pub place_m: f64,
    /// Time since it went in, s.
    pub time_s: f64,
    /// At the axis, degC.
    pub core_c: f64,
    /// At the surface, degC.
    pub surface_c: f64,
    /// Temperature of the mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the section, degC.
    pub hottest_c: f64,
}

/// State of a billet as it leaves.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exit {
    /// Relative place along the billet of each profile, 0 at the end that leaves last.
    pub along: Vec<f64>,
    /// Points (r/R, degC) from axis to surface, one list per place along the billet.
    pub profiles: Vec<Vec<(f64, f64)>>,
    /// Surface at mid-length, degC.
    pub surface_c: f64,
    /// Core at mid-length, degC.
    pub core_c: f64,
    /// Temperature of the billet's mean enthalpy, degC.
    pub mean_c: f64,
    /// Highest anywhere in the billet as it leaves, degC.
    pub hottest_c: f64,
    /// Highest anywhere in the billet at any time, degC.
    pub peak_c: f64,
    /// Longest time for which the surface was above 900 degC (where scale grows fast), s.
    pub scaling_s: f64,
}

/// Where the power goes, W, mean over a takt.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Balance {
    /// At the terminals of all coils.
    pub terminals_w: f64,
    /// Lost in the windings.
    pub winding_w: f64,
    /// Into the billets.
    pub load_w: f64,
    /// Lost through linings.
    pub lining_w: f64,
    /// Lost from open stretches.
    pub open_w: f64,
    /// Carried out by the billets above what they brought in.
    pub steel_w: f64,
    /// (terminals − winding − lining − open − steel) over terminals.
    pub imbalance: f64,
    /// Throughput, kg/s.
    pub kg_s: f64,
}

impl Balance {
    /// Energy at the terminals per tonne, kWh/t.
    pub fn terminals_kwh_t(&self) -> f64 {
        self.per_tonne(self.terminals_w)
    }

    /// A power per tonne of throughput, kWh/t.
    pub fn per_tonne(&self, power_w: f64) -> f64 {
        power_w / self.kg_s / 3600.0
    }
}

/// A heater line that has settled at one takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Steady {
    /// Coils from the cold end.
    pub coils: Vec<CoilResult>,
    /// Losses by zone.
    pub losses: Vec<ZoneLoss>,
    /// The middle of a billet on its way.
    pub track: Vec<TrackPoint>,
    /// The billet as it leaves.
    pub exit: Exit,
    /// Where the power goes.
    pub balance: Balance,
    /// Field solutions made, and reused.
    pub field_solves: (u64, u64),
    /// Steps of the conduction solver.
    pub steps: u64,
}

impl Steady {
    /// Time with a surface above the scaling temperature until a place along the line, s.
    pub(super) fn scaling_until(&self, place_m: f64) -> f64 {
        let mut before = 0.0;
        let mut sum = 0.0;
        for point in self.track.iter().take_while(|p| p.place_m <= place_m + 1e-9) {
            if point.surface_c > super::steady::SCALING_C {
                sum += point.time_s - before;
            }
            before = point.time_s;
        }
        sum
    }
}
