//! The block of steel in which a die face lies: how far it reaches beside the part, and what keeps its back
//! and inside at a temperature.

use crate::conduction::DeepEnd;

/// Coefficient between a die and its holder, W/m²K: ground faces of steel, wedged or bolted together, 2000 to
/// 10,000 (order of magnitude of metallic joints at some MPa, from memory).
pub const HOLDER_W_M2K: f64 = 3000.0;

/// Depth below the face at which a couple is read, m: 15 to 25 mm behind the engraving is common practice, deep
/// enough that a blow is not seen.
pub const COUPLE_M: f64 = 0.02;

/// Depth of channels and heaters below the face, m: behind the couples (common practice).
pub const WELL_M: f64 = 0.04;

/// Temperature of what flows in a channel, works water, degC.
pub const CHANNEL_C: f64 = 25.0;

/// What a die face lies in. The depth from the face to the back is that of the columns.
#[derive(Debug, Clone, PartialEq)]
pub struct DieBlock {
    /// How far the block reaches beyond what parts touch, m; its outside passes no heat, as the block beside it
    /// is as warm or there is air in between. `None` takes the depth: heat that spreads by as much sideways as
    /// it goes down makes the rest unimportant.
    pub beside_m: Option<f64>,
    /// What is behind the back.
    pub back: DeepEnd,
    /// Channels and heaters.
    pub wells: Vec<Well>,
    /// Depth at which the temperature under the part is told, m.
    pub couple_m: f64,
}

impl DieBlock {
    /// A block without channels and heaters, whose back is joined to a holder at a temperature.
    pub fn on_holder(holder_c: f64) -> DieBlock {
        DieBlock::with_back(DeepEnd::Joined {
            temp_c: holder_c,
            w_m2k: HOLDER_W_M2K,
        })
    }

    /// A block without channels and heaters.
    pub fn with_back(back: DeepEnd) -> DieBlock {
        DieBlock {
            beside_m: None,
            back,
            wells: Vec::new(),
            couple_m: COUPLE_M,
        }
    }
}

/// Band in which a thermostat brings the power of a heater down to nothing, K.
const BAND_K: f64 = 10.0;

/// A cooling channel or a heater at a depth below the face \[m\], spread over the section of the block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Well {
    /// A channel through which something flows.
    Channel {
        /// Depth below the face, m.
        depth_m: f64,
        /// Coefficient of its wall times its wetted area, W/K.
        w_k: f64,
        /// Temperature of what flows, degC.
        temp_c: f64,
    },
    /// A heater.
    Heater {
        /// Depth below the face, m.
        depth_m: f64,
        /// Its power, W.
        power_w: f64,
        /// Temperature of its place above which a thermostat gives no power, degC.
        up_to_c: Option<f64>,
    },
}

impl Well {
    /// Depth below the face, m.
    pub fn depth_m(&self) -> f64 {
        match self {
            Well::Channel { depth_m, .. } | Well::Heater { depth_m, .. } => *depth_m,
        }
    }

    /// Heat \[J/m²\] that its layer takes in `seconds` from a temperature, in a block with this section \[m²\]: as much
    /// as fits to the temperature of the layer at the end, which has a heat capacity \[J/m²K\].
    pub fn heat_j_m2(&self, temp_c: f64, seconds: f64, capacity: f64, section_m2: f64) -> f64 {
        let slope = self.slope_w_m2k(section_m2);
        let drawn = |to_c: f64| seconds * slope * (to_c - temp_c) / (1.0 + seconds * slope / capacity);
        match self {
            Well::Channel { temp_c, .. } => drawn(*temp_c),
            Well::Heater { power_w, up_to_c, .. } => {
                let most = seconds * power_w / section_m2;
                up_to_c.map_or(most, |up_to_c| drawn(up_to_c).clamp(0.0, most))
            }
        }
    }

    /// What a kelvin more in its layer takes from its power at most, W/m²K.
    pub fn slope_w_m2k(&self, section_m2: f64) -> f64 {
        let w_k = match self {
            Well::Channel { w_k, .. } => *w_k,
            Well::Heater { power_w, up_to_c, .. } => up_to_c.map_or(0.0, |_| power_w / BAND_K),
        };
        w_k / section_m2
    }
}
