//! The `[[stage]]` tables and what stands inside them.

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;

use super::{At, Grips, RawConveyor, RawDie, RawFan, RawPile};
use crate::line::file::either::SteelRef;

/// One stage of the line.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawStage {
    /// What happens in the stage.
    #[schemars(
        with = "Option<String>",
        extend("enum" = ["carry", "wait", "rest", "descale", "forge", "trim", "cool"])
    )]
    pub kind: At<String>,
    /// Name, used by limits and reports. Default: the kind with a number where needed.
    #[schemars(with = "Option<String>")]
    pub name: At<String>,
    /// Length of the stage (carry, wait, rest, descale, cool).
    #[schemars(with = "Option<f64>")]
    pub seconds: At<f64>,
    /// Air temperature of this stage, in place of the shop's.
    #[schemars(with = "Option<f64>")]
    pub ambient_c: At<f64>,
    /// Temperature of what the part radiates to, in place of the shop's.
    #[schemars(with = "Option<f64>")]
    pub surroundings_c: At<f64>,
    /// Speed of the air past the part, in place of the shop's.
    #[schemars(with = "Option<f64>")]
    pub air_speed_m_s: At<f64>,
    /// Fixed film coefficient in place of the correlations.
    #[schemars(with = "Option<f64>")]
    pub film_w_m2k: At<f64>,
    /// View factor, in place of the shop's.
    #[schemars(with = "Option<f64>")]
    pub view_factor: At<f64>,
    /// Emissivity in this stage, in place of the billet's (freshly descaled, say).
    #[schemars(with = "Option<f64>")]
    pub emissivity: At<f64>,
    /// Jaws that hold the part (carry): one table, or a list of two.
    #[schemars(with = "Option<Grips>")]
    pub grip: At<Grips>,
    /// What the part rests on (rest, cool).
    #[schemars(with = "Option<RawSupport>")]
    pub support: At<RawSupport>,
    /// Neighbours on the conveyor (cool).
    #[schemars(with = "Option<RawConveyor>")]
    pub conveyor: At<RawConveyor>,
    /// Basket or heap that the part lies in (cool).
    #[schemars(with = "Option<RawPile>")]
    pub pile: At<RawPile>,
    /// Forced air during a part of the stage (cool).
    #[schemars(with = "Option<RawFan>")]
    pub fan: At<RawFan>,
    /// Film coefficient of the water, mean over all faces and the stage (descale).
    #[schemars(with = "Option<f64>")]
    pub w_m2k: At<f64>,
    /// Water temperature (descale).
    #[schemars(with = "Option<f64>")]
    pub water_c: At<f64>,
    /// Number of blows or press strokes (forge).
    #[schemars(with = "Option<i64>")]
    pub blows: At<i64>,
    /// Share of the change of shape that each blow makes, in their order; they sum to 1. In place of `blows`,
    /// which share it equally (forge).
    #[schemars(with = "Option<Vec<f64>>")]
    pub blow_shares: At<Vec<Spanned<f64>>>,
    /// Contact time of one blow or stroke (forge, trim).
    #[schemars(with = "Option<f64>")]
    pub contact_ms: At<f64>,
    /// Time from the start of one blow to the start of the next (forge).
    #[schemars(with = "Option<f64>")]
    pub interval_s: At<f64>,
    /// What the part does between blows (forge).
    #[schemars(with = "Option<String>", extend("enum" = ["lying", "lifted", "pressed"]))]
    pub between: At<String>,
    /// Lying on the lower die before the first blow (forge, trim).
    #[schemars(with = "Option<f64>")]
    pub lying_before_s: At<f64>,
    /// Lying on the lower die after the last blow (forge).
    #[schemars(with = "Option<f64>")]
    pub lying_after_s: At<f64>,
    /// Off both dies after each blow: the part jumps with the rebound (forge).
    #[schemars(with = "Option<f64>")]
    pub rebound_s: At<f64>,
    /// Pressed on the lower die after each blow while the gripper yields (forge).
    #[schemars(with = "Option<f64>")]
    pub pressed_s: At<f64>,
    /// Sticking in the lower die before the last lying (forge).
    #[schemars(with = "Option<f64>")]
    pub stuck_s: At<f64>,
    /// How long a knock-out carries the part at the end of the stage (forge).
    #[schemars(with = "Option<f64>")]
    pub knock_out_s: At<f64>,
    /// Outer diameter of the knock-out pin or ring.
    #[schemars(with = "Option<f64>")]
    pub knock_out_outer_mm: At<f64>,
    /// Inner diameter of a knock-out ring; zero for a pin.
    #[schemars(with = "Option<f64>")]
    pub knock_out_inner_mm: At<f64>,
    /// Contact coefficient of the knock-out.
    #[schemars(with = "Option<f64>")]
    pub knock_out_w_m2k: At<f64>,
    /// Blow from which the cavity is filled and the side walls touch the part (forge).
    #[schemars(with = "Option<i64>")]
    pub fills_at_blow: At<i64>,
    /// Press whose stroke gives the contact time (forge).
    #[schemars(with = "Option<String>", extend("enum" = ["mechanical", "screw", "hydraulic"]))]
    pub machine: At<String>,
    /// Full stroke of a mechanical press (forge).
    #[schemars(with = "Option<f64>")]
    pub stroke_mm: At<f64>,
    /// Strokes per minute of a mechanical press (forge).
    #[schemars(with = "Option<f64>")]
    pub strokes_per_min: At<f64>,
    /// How far the ram moves with the part between the dies (forge).
    #[schemars(with = "Option<f64>")]
    pub squeeze_mm: At<f64>,
    /// How long the press holds at the end of its stroke (forge).
    #[schemars(with = "Option<f64>")]
    pub hold_ms: At<f64>,
    /// `standing` with the bar axis upright, or `lying` on the side face (forge, trim).
    #[schemars(with = "Option<String>", extend("enum" = ["standing", "lying"]))]
    pub pose: At<String>,
    /// Share of the touched faces that meets the dies; of the whole side face when lying.
    #[schemars(with = "Option<f64>")]
    pub share: At<f64>,
    /// Share of the whole side face of a round bar that lies on the die before the first blow as a long
    /// part (forge).
    #[schemars(with = "Option<f64>")]
    pub bar_share: At<f64>,
    /// Shape after the last blow as rings about the bar axis, or as strips of the `[[section]]` tables
    /// (forge). Its volume is the billet's.
    #[schemars(with = "Option<Vec<RawRing>>")]
    pub shape: At<Vec<Spanned<RawRing>>>,
    /// Total strain of the stage. Default: from the heights before and after.
    #[schemars(with = "Option<f64>")]
    pub strain: At<f64>,
    /// Strain rate. Default: the strain over the contact time.
    #[schemars(with = "Option<f64>")]
    pub strain_rate_1_s: At<f64>,
    /// Speed of the ram, from which the strain rate follows with the mean height.
    #[schemars(with = "Option<f64>")]
    pub ram_speed_m_s: At<f64>,
    /// Constant flow stress in place of the metal's.
    #[schemars(with = "Option<f64>")]
    pub flow_stress_mpa: At<f64>,
    /// Energy of one blow, in place of strain and flow stress.
    #[schemars(with = "Option<f64>")]
    pub blow_energy_kj: At<f64>,
    /// Share of the blow energy that forms the part.
    #[schemars(with = "Option<f64>")]
    pub blow_efficiency: At<f64>,
    /// Share of the forming work that becomes heat (Taylor and Quinney).
    #[schemars(with = "Option<f64>")]
    pub heat_share: At<f64>,
    /// Dies of this stage, where they differ from the `[die]` table (forge, trim).
    #[schemars(with = "Option<RawDie>")]
    pub die: At<RawDie>,
    /// Zones that leave the part with the stroke: `flash`, `web`, ... (trim).
    #[schemars(with = "Option<Vec<String>>")]
    pub removes: At<Vec<Spanned<String>>>,
}

/// Jaws round one end, or both ends, of the part.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawGrip {
    /// Which end is held.
    #[schemars(with = "Option<String>", extend("enum" = ["grip_end", "free_end", "both"]))]
    pub end: At<String>,
    /// Gripped length from that end.
    #[schemars(with = "Option<f64>")]
    pub length_mm: At<f64>,
    /// How long after the start of the stage this grip closes.
    #[schemars(with = "Option<f64>")]
    pub late_s: At<f64>,
    /// How long after the start of the stage this grip opens again; at the end of the stage without it.
    #[schemars(with = "Option<f64>")]
    pub opens_s: At<f64>,
    /// Distance from the end at which the jaws begin.
    #[schemars(with = "Option<f64>")]
    pub from_end_mm: At<f64>,
    /// Name of the gripper. Grips with the same name share its jaws, which warm up from grip to grip
    /// and from part to part.
    #[schemars(with = "Option<String>")]
    pub gripper: At<String>,
    /// Time in which open jaws of a named gripper lose 63 % of what they are warmer than the air.
    #[schemars(with = "Option<f64>")]
    pub cooling_s: At<f64>,
    /// Temperature of the jaws of a named gripper before a shift (warm-up).
    #[schemars(with = "Option<f64>")]
    pub cold_c: At<f64>,
    /// Temperature of the jaws when they close.
    #[schemars(with = "Option<f64>")]
    pub jaw_c: At<f64>,
    /// Contact coefficient of the jaws.
    #[schemars(with = "Option<f64>")]
    pub w_m2k: At<f64>,
    /// Pressure of the jaws on what they touch: their coefficient then comes from the pressure law.
    #[schemars(with = "Option<f64>")]
    pub pressure_mpa: At<f64>,
    /// Share of the gripped side face that touches the jaws.
    #[schemars(with = "Option<f64>")]
    pub share: At<f64>,
    /// Thickness of the jaws behind the contact.
    #[schemars(with = "Option<f64>")]
    pub depth_mm: At<f64>,
    /// Grade of the jaws. Default: that of the dies.
    #[schemars(with = "Option<SteelRef>")]
    pub steel: At<SteelRef>,
}

/// What a part rests on.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawSupport {
    /// `standing` on the gripped-end face, or `lying` on the side face.
    #[schemars(with = "Option<String>", extend("enum" = ["standing", "lying"]))]
    pub pose: At<String>,
    /// Share of that face in contact; of the whole side face when lying.
    #[schemars(with = "Option<f64>")]
    pub share: At<f64>,
    /// Temperature of the support.
    #[schemars(with = "Option<f64>")]
    pub bulk_c: At<f64>,
    /// Contact coefficient under the part's own weight.
    #[schemars(with = "Option<f64>")]
    pub w_m2k: At<f64>,
    /// Thickness of the support behind the contact.
    #[schemars(with = "Option<f64>")]
    pub depth_mm: At<f64>,
    /// Grade of the support. Default: that of the dies.
    #[schemars(with = "Option<SteelRef>")]
    pub steel: At<SteelRef>,
}

/// A cross-section of a long part, and the piece of the part that it stands for. Heat flow along the
/// part from one section to the next is neglected.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawSection {
    /// Name: nodes are `<name>.mean`, `<name>.<zone>.mean` and so on.
    #[schemars(with = "Option<String>")]
    pub name: At<String>,
    /// Share of the billet's mass, in the order of the sections from the grip end on.
    #[schemars(with = "Option<f64>")]
    pub mass_percent: At<f64>,
    /// Length of the forging that it stands for.
    #[schemars(with = "Option<f64>")]
    pub length_mm: At<f64>,
    /// Whether its strips are the right half of it. Default: false.
    #[schemars(with = "Option<bool>")]
    pub symmetric: At<bool>,
}

/// A ring of a shape: a rectangle turned about the bar axis. In a part with `[[section]]` tables a
/// strip of a cross-section: a rectangle drawn along the part.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawRing {
    /// Cross-section that a strip belongs to.
    #[schemars(with = "Option<String>")]
    pub section: At<String>,
    /// Left side of a strip from the middle of its section. Default in a symmetric section: the middle.
    #[schemars(with = "Option<f64>")]
    pub left_mm: At<f64>,
    /// Right side of a strip from the middle of its section.
    #[schemars(with = "Option<f64>")]
    pub right_mm: At<f64>,
    /// Outer diameter.
    #[schemars(with = "Option<f64>")]
    pub outer_mm: At<f64>,
    /// Inner diameter; zero for a disc.
    #[schemars(with = "Option<f64>")]
    pub inner_mm: At<f64>,
    /// Height, from the bottom of the shape up.
    #[schemars(with = "Option<f64>")]
    pub height_mm: At<f64>,
    /// Lower face above the bottom of the shape.
    #[schemars(with = "Option<f64>")]
    pub bottom_mm: At<f64>,
    /// Upper face above the bottom of the shape.
    #[schemars(with = "Option<f64>")]
    pub top_mm: At<f64>,
    /// Which dies the ring touches under the blow; there is a gap elsewhere. Default: both.
    #[schemars(with = "Option<String>", extend("enum" = ["both", "lower", "upper", "gap"]))]
    pub touch: At<String>,
    /// Zone that the ring belongs to: `body`, `web`, `flash`, ...
    #[schemars(with = "Option<String>")]
    pub zone: At<String>,
}
