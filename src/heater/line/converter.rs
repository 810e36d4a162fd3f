//! A converter with several coils, and how it divides its power among them.

use crate::heater::coil::{Circuit, Coil, Drive, Electrical, Load};
use crate::heater::error::{HeaterError, positive};

/// How a converter divides its power among its coils.
#[derive(Debug, Clone, PartialEq)]
pub enum Division {
    /// Windings in parallel on one voltage: each takes what its impedance lets it.
    Voltage,
    /// Each gets its part of the power at the terminals; one part for each coil, of any sum.
    Power(Vec<f64>),
}

/// Coils on one converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Converter {
    /// Name for tables.
    pub name: String,
    /// Its coils, counted from the cold end of the line.
    pub coils: Vec<usize>,
    /// How it divides its power.
    pub division: Division,
}

/// What is in a coil at a time.
#[derive(Debug, Clone, Copy)]
pub(super) struct InCoil {
    /// The load.
    pub load: Load,
    /// Short-coil factor; of no meaning without a load.
    pub short_coil: f64,
}

impl InCoil {
    fn is_empty(&self) -> bool {
        self.load.active == 0.0
    }
}

/// What instruments at a coil or a converter show.
#[derive(Debug, Clone, Copy, PartialEq, Default, serde::Serialize)]
pub struct Reading {
    /// Active power, W.
    pub power_w: f64,
    /// Voltage, V RMS; of coils that have none in common that of the highest.
    pub volts: f64,
    /// Current, A RMS; of coils in parallel that of all together before any capacitor.
    pub amperes: f64,
    /// Reactive power, var: what the capacitors must have.
    pub reactive_var: f64,
}

impl Reading {
    /// Of one coil.
    pub fn of(electrical: &Electrical, power_w: f64) -> Reading {
        Reading {
            power_w,
            volts: electrical.volts,
            amperes: electrical.amperes,
            reactive_var: electrical.reactive_var,
        }
    }

    /// The higher of each number.
    pub fn most(self, other: Reading) -> Reading {
        Reading {
            power_w: self.power_w.max(other.power_w),
            volts: self.volts.max(other.volts),
            amperes: self.amperes.max(other.amperes),
            reactive_var: self.reactive_var.max(other.reactive_var),
        }
    }
}

impl Converter {
    /// Refuses a converter that cannot be, for a line of so many coils.
    pub fn check(&self, coils: usize) -> Result<(), HeaterError> {
        let parts = match &self.division {
            Division::Voltage => self.coils.len(),
            Division::Power(parts) => {
                for part in parts {
                    positive("part of the power of a converter", *part)?;
                }
                parts.len()
            }
        };
        if self.coils.is_empty() || parts != self.coils.len() || self.coils.iter().any(|c| *c >= coils) {
            return Err(HeaterError::Drives {
                coils: self.coils.len(),
                drives: parts,
            });
        }
        Ok(())
    }

    /// Whether its coils hang on one voltage.
    pub fn is_parallel(&self) -> bool {
        self.division == Division::Voltage
    }

    /// What its instruments show, from the readings of its coils.
    ///
    /// Phasors of windings in parallel add to √(P² + Q²)/V; coils on different voltages have no current in common.
    pub fn reading(&self, coils: &[Reading]) -> Reading {
        let of = |f: fn(&Reading) -> f64| self.coils.iter().map(|c| f(&coils[*c])).sum::<f64>();
        let volts = self.coils.iter().map(|c| coils[*c].volts).fold(0.0, f64::max);
        let (power_w, reactive_var) = (of(|r| r.power_w), of(|r| r.reactive_var));
        let amperes = match self.division {
            Division::Voltage if volts > 0.0 => power_w.hypot(reactive_var) / volts,
            _ => 0.0,
        };
        Reading {
            power_w,
            volts,
            amperes,
            reactive_var,
        }
    }

    /// Weights by which coils with these loads share its power. Without any load it is off: all would go into copper.
    fn weights(&self, coils: &[Coil], inside: &[InCoil]) -> Result<Vec<f64>, HeaterError> {
        let empty = self.coils.iter().all(|c| inside[*c].is_empty());
        let weight = |(n, c): (usize, &usize)| match &self.division {
            _ if empty => Ok(0.0),
            Division::Voltage => coils[*c].power_at(1.0, &inside[*c].load),
            Division::Power(parts) => Ok(parts[n]),
        };
        self.coils.iter().enumerate().map(weight).collect()
    }
}

/// Drives of the coils one by one, with what is in them now: those of a converter get their powers of its common
/// setting. A coil without a load is off, unless it hangs on a voltage that others need.
pub(super) fn divided(
    converters: &[Converter],
    coils: &[Coil],
    drives: &[Drive],
    inside: &[InCoil],
) -> Result<Vec<Drive>, HeaterError> {
    let off = Drive::Terminals(0.0);
    let mut own: Vec<Drive> = drives
        .iter()
        .zip(inside)
        .map(|(d, i)| if i.is_empty() { off } else { *d })
        .collect();
    for converter in converters {
        let weights = converter.weights(coils, inside)?;
        let all: f64 = weights.iter().sum();
        for (c, weight) in converter.coils.iter().zip(&weights) {
            let alone = matches!(converter.division, Division::Power(_)) && inside[*c].is_empty();
            own[*c] = match drives[*c] {
                _ if alone => off,
                Drive::Volts(volts) => Drive::Terminals(volts * volts * weight),
                Drive::Common(_) | Drive::CommonLoad(_) if all == 0.0 => off,
                Drive::Common(power) => Drive::Terminals(power * weight / all),
                Drive::CommonLoad(power) => {
                    let loads = converter.coils.iter().zip(&weights);
                    let into: f64 = loads
                        .filter(|(c, _)| !inside[**c].is_empty())
                        .map(|(c, w)| w * coils[*c].efficiency(&inside[*c].load, inside[*c].short_coil))
                        .sum();
                    Drive::Terminals(power * weight / into)
                }
                _ => own[*c],
            };
        }
    }
    Ok(own)
}

/// What instruments at a coil show at a power (W).
pub(super) fn reading(coil: &Coil, load: &Load, power_w: f64) -> Result<Reading, HeaterError> {
    let circuit = Circuit::new(coil, load)?;
    Ok(Reading::of(&Electrical::of(coil, &circuit, power_w), power_w))
}
