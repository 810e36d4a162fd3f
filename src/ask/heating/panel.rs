//! What the electrical side of a row of coils says: limits that are reached or passed, and cooling water.

use serde::Serialize;

use crate::heater::energy::StopWay;
use crate::heater::line::{HeaterLine, Highest, Reading, Steady};
use crate::heater::ratings::Rating;
use crate::line::plan::CoilLine;

/// Heat that a cubic metre of water takes per kelvin at some 40 degC, J/(m³ K): 992.2 kg/m³ times 4179 J/(kg K)
/// (IAPWS, from memory).
const WATER_J_M3K: f64 = 992.2 * 4179.0;

/// When coils and converters are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// In the settled state.
    Settled,
    /// In a cold start.
    Start,
    /// As the empty heater fills.
    Empty,
    /// As it runs out.
    RunOut,
    /// On the way to another takt.
    Pace,
    /// On the way to the next order.
    Next,
    /// With a warm billet among the others.
    Warm,
    /// In a stop and the restart after it.
    Stop {
        /// Its length, s.
        seconds: f64,
        /// What the heater does meanwhile.
        way: StopWay,
    },
}

/// A limit of a coil or a converter that is passed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overload {
    /// When.
    pub when: When,
    /// Which, with the reading.
    #[serde(flatten)]
    pub rating: Rating,
}

/// A converter at work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConverterState {
    /// Its name.
    pub name: String,
    /// Its coils.
    pub coils: Vec<String>,
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// Whether its coils hang on one voltage.
    pub parallel: bool,
    /// What its instruments show.
    pub reading: Reading,
}

/// Water that cools a winding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cooling {
    /// Coil.
    pub name: String,
    /// Loss of the winding and what comes through the lining, W.
    pub heat_w: f64,
    /// Flow for the rise asked for, m³/s.
    pub flow_m3_s: f64,
}

/// The electrical side of a settled line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Electrics {
    /// Converters with several coils.
    pub converters: Vec<ConverterState>,
    /// Limits reached in the settled state: no more can be had of these.
    pub binding: Vec<Rating>,
    /// Water of each coil.
    pub water: Vec<Cooling>,
    /// Rise of the water, K.
    pub water_rise_k: f64,
}

impl Electrics {
    /// Of a settled line.
    pub fn of(heater: &CoilLine, steady: &Steady) -> Electrics {
        let line = &heater.line;
        let readings = line.readings(&steady.coils);
        let ratings = heater.ratings.of(line, &readings);
        Electrics {
            converters: converters(line, steady, &readings),
            binding: ratings.into_iter().filter(Rating::binds).collect(),
            water: water(steady, heater.water_rise_k),
            water_rise_k: heater.water_rise_k,
        }
    }

    /// Water of all coils.
    pub fn all_water(&self) -> (f64, f64) {
        let sum = |f: fn(&Cooling) -> f64| self.water.iter().map(f).sum();
        (sum(|c| c.heat_w), sum(|c| c.flow_m3_s))
    }
}

fn converters(line: &HeaterLine, steady: &Steady, readings: &Highest) -> Vec<ConverterState> {
    let state = |(converter, reading): (&crate::heater::line::Converter, &Reading)| ConverterState {
        name: converter.name.clone(),
        coils: converter.coils.iter().map(|c| steady.coils[*c].name.clone()).collect(),
        frequency_hz: steady.coils[converter.coils[0]].frequency_hz,
        parallel: converter.is_parallel(),
        reading: *reading,
    };
    line.converters.iter().zip(&readings.converters).map(state).collect()
}

fn water(steady: &Steady, rise_k: f64) -> Vec<Cooling> {
    let of = |coil: &crate::heater::line::CoilResult| {
        let lining = steady
            .losses
            .iter()
            .find(|l| l.name == coil.name)
            .map_or(0.0, |l| l.loss_w);
        // A lining colder than the copper takes nothing from it.
        let heat_w = coil.winding_w + lining.max(0.0);
        Cooling {
            name: coil.name.clone(),
            heat_w,
            flow_m3_s: heat_w / (WATER_J_M3K * rise_k),
        }
    };
    steady.coils.iter().map(of).collect()
}

/// Every limit that is passed by what was seen.
pub(super) fn overloads(heater: &CoilLine, seen: &[(When, Highest)]) -> Vec<Overload> {
    let broken = |(when, highest): &(When, Highest)| {
        let ratings = heater.ratings.of(&heater.line, highest).into_iter();
        let when = *when;
        ratings
            .filter(Rating::is_broken)
            .map(move |rating| Overload { when, rating })
            .collect::<Vec<_>>()
    };
    seen.iter().flat_map(broken).collect()
}
