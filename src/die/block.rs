//! The block of steel in which a die face lies: how far it reaches beside the part, and what keeps its back
//! and inside at a temperature.

use crate::conduction::DeepEnd;

/// Coefficient between a die and its holder, W/m²K: ground faces of steel, wedged or bolted together, 2000 to
/// 10,000 (order of magnitude of metallic joints at some MPa, from memory).
pub const HOLDER_W_M2K: f64 = 3000.0;

/// Depth below the face at which a couple is read, m: 15 to 25 mm behind the engraving is common practice, deep
/// enough that a blow is not seen.
pub const COUPLE_M: f64 = 0.02;

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

/// A cooling channel or a heater at a depth, spread over the section of the block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Well {
    /// Depth below the face, m.
    pub depth_m: f64,
    /// Power per area of the section, W/m²; zero without a heater.
    pub power_w_m2: f64,
    /// Coefficient per area of the section, W/m²K: that of the channel's wall times its wetted area over the
    /// area of the section.
    pub w_m2k: f64,
    /// Temperature of what flows in the channel, or at which a heater holds its place, degC.
    pub temp_c: f64,
    /// Whether it only heats, as a heater with a thermostat does.
    pub heats_only: bool,
}

impl Well {
    /// Power per area into its layer \[W/m²\] at a temperature there.
    pub fn power(&self, temp_c: f64) -> f64 {
        let over = self.temp_c - temp_c;
        let over = if self.heats_only { over.max(0.0) } else { over };
        self.power_w_m2 + self.w_m2k * over
    }
}
