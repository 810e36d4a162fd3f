//! How a coil is driven, and the field that follows from it.

use serde::Serialize;

use super::circuit::{Circuit, Load};
use super::winding::Coil;
use crate::heater::error::{HeaterError, not_negative};

/// How the power of a coil is prescribed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Drive {
    /// Active power at the coil's terminals, W: coil loss and load together.
    Terminals(f64),
    /// Power into the load, W.
    Load(f64),
    /// Field strength at the load's surface, A/m RMS.
    Field(f64),
    /// Voltage at the coil's terminals, V RMS; the power follows from the impedance of coil and load.
    Volts(f64),
    /// Active power at the terminals of all coils on the converter of this one, W. The converter divides it.
    Common(f64),
    /// Power into the load of all coils on the converter of this one, W.
    CommonLoad(f64),
}

impl Drive {
    /// Refuses a negative or non-finite setting.
    pub fn check(self) -> Result<(), HeaterError> {
        match self {
            Drive::Terminals(power) => not_negative("terminal power in W", power)?,
            Drive::Load(power) => not_negative("power into the load in W", power)?,
            Drive::Field(h) => not_negative("field strength in A/m", h)?,
            Drive::Volts(volts) => not_negative("voltage in V", volts)?,
            Drive::Common(power) => not_negative("power of a converter in W", power)?,
            Drive::CommonLoad(power) => not_negative("power of a converter into the loads in W", power)?,
        };
        Ok(())
    }

    /// Power at the terminals in W, of the coil or of its converter, where that is what is prescribed.
    pub fn terminals_w(self) -> Option<f64> {
        match self {
            Drive::Terminals(power) | Drive::Common(power) => Some(power),
            _ => None,
        }
    }

    /// Whether the setting is one for all coils of a converter together.
    pub fn is_common(self) -> bool {
        matches!(self, Drive::Common(_) | Drive::CommonLoad(_))
    }

    /// Whether the coil is off.
    pub fn is_off(self) -> bool {
        let (Drive::Terminals(x)
        | Drive::Load(x)
        | Drive::Field(x)
        | Drive::Volts(x)
        | Drive::Common(x)
        | Drive::CommonLoad(x)) = self;
        x == 0.0
    }

    /// The drive with all powers times a share.
    pub fn scaled(self, share: f64) -> Drive {
        match self {
            Drive::Terminals(power) => Drive::Terminals(power * share),
            Drive::Load(power) => Drive::Load(power * share),
            Drive::Field(h) => Drive::Field(h * share.sqrt()),
            Drive::Volts(volts) => Drive::Volts(volts * share.sqrt()),
            Drive::Common(power) => Drive::Common(power * share),
            Drive::CommonLoad(power) => Drive::CommonLoad(power * share),
        }
    }
}

impl Coil {
    /// Active power in W that the coil takes at a voltage (V RMS) with a load in it: V² Re Z/|Z|².
    pub fn power_at(&self, volts: f64, load: &Load) -> Result<f64, HeaterError> {
        let z = Circuit::new(self, load)?.impedance(false);
        Ok(not_negative("voltage in V", volts)?.powi(2) * z.re / z.norm_sqr())
    }

    /// Power at the terminals per square of the load's surface field, W (m/A)²: A + W/k_sc².
    ///
    /// With the short-coil factor k_sc the winding carries N I/l = H/k_sc, so
    /// P_terminals = H² (A + W/k_sc²) with the load's A and the winding's W per square of field.
    /// The balance is exact: what is not in the winding is in the load.
    fn watts_per_field2(&self, load: &Load, k_sc: f64) -> f64 {
        load.active + self.winding_loss_per_field2() / (k_sc * k_sc)
    }

    /// Power into the load over power at the terminals.
    pub fn efficiency(&self, load: &Load, k_sc: f64) -> f64 {
        load.active / self.watts_per_field2(load, k_sc)
    }

    /// Field strength at the load's surface in A/m RMS for a way of driving the coil.
    ///
    /// # Errors
    /// A setting that is negative, power into no load, and a setting that several coils share.
    pub fn field(&self, drive: Drive, load: &Load, k_sc: f64) -> Result<f64, HeaterError> {
        drive.check()?;
        let square = match drive {
            Drive::Terminals(power) => power / self.watts_per_field2(load, k_sc),
            Drive::Volts(volts) => self.power_at(volts, load)? / self.watts_per_field2(load, k_sc),
            Drive::Load(0.0) => 0.0,
            Drive::Load(power) if load.active > 0.0 => power / load.active,
            Drive::Load(power) => {
                return Err(HeaterError::OutOfRange {
                    name: "power into the load in W",
                    value: power,
                    allowed: "must be 0 while nothing is in the coil",
                });
            }
            Drive::Field(h) => h * h,
            Drive::Common(power) | Drive::CommonLoad(power) => {
                return Err(HeaterError::OutOfRange {
                    name: "power of a converter in W",
                    value: power,
                    allowed: "is for all its coils together, and this coil is on none",
                });
            }
        };
        Ok(square.sqrt())
    }
}
