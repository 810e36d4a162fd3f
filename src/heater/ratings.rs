//! What coils and converters may carry at most, and what of it is passed.

use serde::Serialize;

use super::line::{HeaterLine, Highest, Reading};

/// How closely a reading is met that a setting asks for: coils settle within this of their power.
const MET: f64 = 3e-3;
/// From this share of a limit on it counts as reached.
const REACHED: f64 = 0.985;

/// What a rating is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rated {
    /// Active power at the terminals, W.
    Power,
    /// Voltage, V RMS.
    Voltage,
    /// Current before any capacitor, A RMS.
    Current,
    /// Reactive power that the capacitors must have, var.
    Reactive,
}

/// Highest readings allowed at a coil or a converter.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Active power at the terminals, W.
    pub power_w: Option<f64>,
    /// Voltage, V RMS.
    pub volts: Option<f64>,
    /// Current before any capacitor, A RMS.
    pub amperes: Option<f64>,
    /// Reactive power, var.
    pub reactive_var: Option<f64>,
}

impl Limits {
    fn against(&self, name: &str, reading: &Reading) -> Vec<Rating> {
        let all = [
            (Rated::Power, reading.power_w, self.power_w),
            (Rated::Voltage, reading.volts, self.volts),
            (Rated::Current, reading.amperes, self.amperes),
            (Rated::Reactive, reading.reactive_var, self.reactive_var),
        ];
        let rating = |(what, value, limit): (Rated, f64, Option<f64>)| {
            Some(Rating {
                name: name.to_owned(),
                what,
                value,
                limit: limit?,
            })
        };
        all.into_iter().filter_map(rating).collect()
    }
}

/// A reading beside its limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rating {
    /// Coil or converter.
    pub name: String,
    /// What of it.
    pub what: Rated,
    /// Highest reading, SI.
    pub value: f64,
    /// What is allowed, SI.
    pub limit: f64,
}

impl Rating {
    /// Whether the limit is passed.
    pub fn is_broken(&self) -> bool {
        self.value > self.limit * (1.0 + MET)
    }

    /// Whether the limit is reached, if not passed: nothing more can be had of it.
    pub fn binds(&self) -> bool {
        self.value > self.limit * REACHED && !self.is_broken()
    }

    /// By which factor the power is too high for the limit, at the same load.
    fn power_factor(&self) -> f64 {
        let share = self.value / self.limit;
        match self.what {
            Rated::Power | Rated::Reactive => share,
            Rated::Voltage | Rated::Current => share * share,
        }
    }
}

/// The limits of all coils and converters of a line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ratings {
    /// Of each coil from the cold end; none where it is empty.
    pub coils: Vec<Limits>,
    /// Of each converter.
    pub converters: Vec<Limits>,
}

impl Ratings {
    /// Every reading that has a limit, beside it.
    pub fn of(&self, line: &HeaterLine, highest: &Highest) -> Vec<Rating> {
        let names = line.coils().map(|(zone, _)| line.zones[zone].name.as_str());
        let coils = names.zip(&self.coils).zip(&highest.coils);
        let converters = line.converters.iter().map(|c| c.name.as_str());
        let converters = converters.zip(&self.converters).zip(&highest.converters);
        coils
            .chain(converters)
            .flat_map(|((name, limits), reading)| limits.against(name, reading))
            .collect()
    }

    /// For each channel, by which factor its power is too high for what its coils and its converter may carry; at most
    /// 1 where it is not.
    pub fn excess(&self, line: &HeaterLine, highest: &Highest) -> Vec<f64> {
        let worst = |limits: Option<&Limits>, reading: Option<&Reading>| {
            let ratings = limits.zip(reading).map_or(Vec::new(), |(l, r)| l.against("", r));
            ratings.iter().map(Rating::power_factor).fold(0.0, f64::max)
        };
        let channels = line.channels().into_iter();
        channels
            .map(|channel| {
                let coils = channel.coils.iter();
                let own = coils.map(|c| worst(self.coils.get(*c), highest.coils.get(*c)));
                let common = channel
                    .converter
                    .map_or(0.0, |n| worst(self.converters.get(n), highest.converters.get(n)));
                own.fold(common, f64::max)
            })
            .collect()
    }
}
