//! What is set with one number: a converter with its coils, or a coil on its own.

use super::converter::Reading;
use super::layout::HeaterLine;
use crate::heater::coil::Drive;
use crate::heater::error::HeaterError;

/// What is set with one number.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Name of the converter or of the coil.
    pub name: String,
    /// Its coils, counted from the cold end.
    pub coils: Vec<usize>,
    /// The number of its converter; `None` for a coil on its own.
    pub converter: Option<usize>,
}

/// Highest readings in a stretch of time.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub struct Highest {
    /// Of each coil.
    pub coils: Vec<Reading>,
    /// Of each converter.
    pub converters: Vec<Reading>,
}

impl Highest {
    /// Takes in the readings of the coils at a time.
    pub(super) fn take(&mut self, line: &HeaterLine, coils: &[Reading]) {
        let converters: Vec<Reading> = line.converters.iter().map(|c| c.reading(coils)).collect();
        let most = |so_far: &mut Vec<Reading>, now: &[Reading]| {
            so_far.resize(now.len(), Reading::default());
            for (a, b) in so_far.iter_mut().zip(now) {
                *a = a.most(*b);
            }
        };
        most(&mut self.coils, coils);
        most(&mut self.converters, &converters);
    }
}

impl HeaterLine {
    /// What is set with one number each, in the order of the first coils from the cold end.
    pub fn channels(&self) -> Vec<Channel> {
        let mut channels: Vec<Channel> = Vec::new();
        for (index, (zone, _)) in self.coils().enumerate() {
            let converter = self.converters.iter().position(|c| c.coils.contains(&index));
            match converter {
                Some(_) if channels.iter().any(|c| c.converter == converter) => {}
                Some(n) => channels.push(Channel {
                    name: self.converters[n].name.clone(),
                    coils: self.converters[n].coils.clone(),
                    converter,
                }),
                None => channels.push(Channel {
                    name: self.zones[zone].name.clone(),
                    coils: vec![index],
                    converter,
                }),
            }
        }
        channels
    }

    /// Drives of the coils from those of the channels; power at the terminals or into the loads is that of all coils of a
    /// converter together.
    pub fn spread(&self, settings: &[Drive]) -> Vec<Drive> {
        let mut drives = vec![Drive::Terminals(0.0); self.coils().count()];
        for (channel, setting) in self.channels().iter().zip(settings) {
            let each = match (*setting, channel.converter) {
                (Drive::Terminals(power), Some(_)) => Drive::Common(power),
                (Drive::Load(power), Some(_)) => Drive::CommonLoad(power),
                (setting, _) => setting,
            };
            for coil in &channel.coils {
                drives[*coil] = each;
            }
        }
        drives
    }

    /// Drives of the coils from the power at the terminals of each channel, W.
    pub fn at_powers(&self, powers_w: &[f64]) -> Vec<Drive> {
        let settings: Vec<Drive> = powers_w.iter().map(|p| Drive::Terminals(*p)).collect();
        self.spread(&settings)
    }

    /// Power at the terminals that each channel is set to by drives of the coils, W; NaN where another thing is set.
    pub fn set_powers(&self, drives: &[Drive]) -> Vec<f64> {
        let first = |coils: &[usize]| drives[coils[0]].terminals_w().unwrap_or(f64::NAN);
        self.channels().iter().map(|c| first(&c.coils)).collect()
    }

    /// Sums of what belongs to single coils, for each channel.
    pub fn by_channel(&self, of_coils: &[f64]) -> Vec<f64> {
        let sum = |coils: &[usize]| coils.iter().filter_map(|c| of_coils.get(*c)).sum();
        self.channels().iter().map(|c| sum(&c.coils)).collect()
    }

    /// Refuses drives that cannot be: of another number than the coils, or not the same on one converter.
    pub(super) fn check_drives(&self, drives: &[Drive]) -> Result<(), HeaterError> {
        let coils = self.coils().count();
        if drives.len() != coils {
            return Err(HeaterError::Drives {
                coils,
                drives: drives.len(),
            });
        }
        for drive in drives {
            drive.check()?;
        }
        for channel in self.channels() {
            let mut of = channel.coils.iter().map(|c| drives[*c]);
            let first = of.next();
            let common = first.is_some_and(Drive::is_common);
            if (common && channel.converter.is_none()) || of.any(|d| (common || d.is_common()) && Some(d) != first) {
                return Err(HeaterError::NotCommon { name: channel.name });
            }
        }
        Ok(())
    }
}
