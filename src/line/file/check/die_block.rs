//! The block of a die: holder, reach, couples, channels, heaters. Only what is given is recorded, as nothing of it is
//! seen by a single part.

use super::context::Check;
use crate::conduction::DeepEnd;
use crate::die::{CHANNEL_C, COUPLE_M, DieBlock, HOLDER_W_M2K, WELL_M, Well};
use crate::line::file::tables::RawDie;
use crate::text::Given;

/// What a table says of the block, over what all dies have.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct BlockValues {
    beside_mm: Option<f64>,
    holder_c: Option<f64>,
    holder_w_m2k: Option<f64>,
    couple_mm: Option<f64>,
    channel_w_k: Option<f64>,
    channel_depth_mm: Option<f64>,
    channel_c: Option<f64>,
    heater_kw: Option<f64>,
    heater_depth_mm: Option<f64>,
    heater_up_to_c: Option<f64>,
}

pub(crate) fn of(check: &mut Check, base: &str, raw: &RawDie, all: &BlockValues) -> BlockValues {
    let mut over = |given: &Given<f64>, all: Option<f64>| check.number(base, given).or(all);
    BlockValues {
        beside_mm: over(&raw.beside_mm, all.beside_mm),
        holder_c: over(&raw.holder_c, all.holder_c),
        holder_w_m2k: over(&raw.holder_w_m2k, all.holder_w_m2k),
        couple_mm: over(&raw.couple_mm, all.couple_mm),
        channel_w_k: over(&raw.channel_w_k, all.channel_w_k),
        channel_depth_mm: over(&raw.channel_depth_mm, all.channel_depth_mm),
        channel_c: over(&raw.channel_c, all.channel_c),
        heater_kw: over(&raw.heater_kw, all.heater_kw),
        heater_depth_mm: over(&raw.heater_depth_mm, all.heater_depth_mm),
        heater_up_to_c: over(&raw.heater_up_to_c, all.heater_up_to_c),
    }
}

impl BlockValues {
    /// The block of a die that is at a temperature when a part arrives, degC.
    pub fn at(&self, bulk_c: f64) -> DieBlock {
        let depth_m = |given: Option<f64>| given.map_or(WELL_M, |mm| 1e-3 * mm);
        let channel = self.channel_w_k.map(|w_k| Well::Channel {
            depth_m: depth_m(self.channel_depth_mm),
            w_k,
            temp_c: self.channel_c.unwrap_or(CHANNEL_C),
        });
        let heater = self.heater_kw.map(|power_kw| Well::Heater {
            depth_m: depth_m(self.heater_depth_mm),
            power_w: 1e3 * power_kw,
            up_to_c: self.heater_up_to_c,
        });
        DieBlock {
            beside_m: self.beside_mm.map(|beside_mm| 1e-3 * beside_mm),
            back: DeepEnd::Joined {
                temp_c: self.holder_c.unwrap_or(bulk_c),
                w_m2k: self.holder_w_m2k.unwrap_or(HOLDER_W_M2K),
            },
            wells: channel.into_iter().chain(heater).collect(),
            couple_m: self.couple_mm.map_or(COUPLE_M, |couple_mm| 1e-3 * couple_mm),
        }
    }
}
