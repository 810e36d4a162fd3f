//! The line file as it stands in the text: flat tables of optional keys, each with its place.
//!
//! Nothing is checked here beyond types and key names. One struct a table, with `kind` as a plain
//! word and every key optional, keeps the exact place of each value; tagged or flattened enums
//! would lose it. The doc comments become the descriptions of the JSON Schema; units, ranges and
//! defaults are added to them from [`super::keys`].

mod cool;
mod fields;
mod induction;
mod stage;

pub(crate) use cool::{RawConveyor, RawFan, RawPile};
pub(crate) use fields::Fields;
pub(crate) use induction::{RawStep, RawTarget, RawZone};
pub(crate) use stage::{RawGrip, RawRing, RawSection, RawStage, RawSupport};

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;

use super::either::{OneOrMany, SteelRef};

/// A value with its place in the file.
pub(crate) type At<T> = Option<Spanned<T>>;

/// A line file: one part number on one line, from the heater to the conveyor.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "billet line file")]
pub(crate) struct RawFile {
    /// Title of the line file, shown on every report.
    #[schemars(with = "Option<String>", extend("minLength" = 1, "maxLength" = 10000))]
    pub title: At<String>,
    /// Part number.
    #[schemars(with = "Option<String>")]
    pub part: At<String>,
    /// Revision of this file.
    #[schemars(with = "Option<String>")]
    pub revision: At<String>,
    /// Free remark.
    #[schemars(with = "Option<String>")]
    pub note: At<String>,
    /// How finely to resolve the part.
    #[schemars(with = "Option<String>", extend("enum" = ["quick", "standard", "fine"]))]
    pub resolution: At<String>,
    /// Whether the limits of the steel are judged too. Default: only when the file has no limit of its own.
    #[schemars(with = "Option<bool>")]
    pub steel_limits: At<bool>,
    /// The billet: its metal and its size.
    #[schemars(with = "Option<RawBillet>")]
    pub billet: At<RawBillet>,
    /// The shop around the part.
    #[schemars(with = "Option<RawShop>")]
    pub shop: At<RawShop>,
    /// How the billet gets hot.
    #[schemars(with = "Option<RawHeater>")]
    pub heater: At<RawHeater>,
    /// Scale as a layer that insulates. Without it, contact coefficients hold the scale, and radiation
    /// leaves the metal itself.
    #[schemars(with = "Option<RawScale>")]
    pub scale: At<RawScale>,
    /// What holds for the dies of all stages that do not say otherwise.
    #[schemars(with = "Option<RawDie>")]
    pub die: At<RawDie>,
    /// What holds for all grips that do not say otherwise.
    #[schemars(with = "Option<RawGrip>")]
    pub grip: At<RawGrip>,
    /// What holds for all supports that do not say otherwise.
    #[schemars(with = "Option<RawSupport>")]
    pub support: At<RawSupport>,
    /// Cross-sections of a long part from the grip end on, each with its share of the mass.
    #[schemars(with = "Vec<RawSection>")]
    #[serde(default)]
    pub section: Vec<Spanned<RawSection>>,
    /// The stages from heater exit on, in order.
    #[schemars(with = "Vec<RawStage>")]
    #[serde(default)]
    pub stage: Vec<Spanned<RawStage>>,
    /// The limits to judge. Without any, those of the steel apply.
    #[schemars(with = "Vec<RawLimit>")]
    #[serde(default)]
    pub limit: Vec<Spanned<RawLimit>>,
    /// What the planning commands vary and assume; read by them, not by a run.
    #[schemars(with = "Option<serde_json::Map<String, serde_json::Value>>")]
    #[allow(dead_code)]
    pub study: Option<toml::Value>,
}

/// The billet.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawBillet {
    /// Metal: a grade of the library, the path of a steel file (ending in `.toml`, relative to this
    /// file), or a table with the keys of a steel file.
    #[schemars(with = "Option<SteelRef>")]
    pub steel: At<SteelRef>,
    /// Cross-section.
    #[schemars(with = "Option<String>", extend("enum" = ["round", "square", "rectangle", "plate"]))]
    pub section: At<String>,
    /// Diameter of a round billet.
    #[schemars(with = "Option<f64>")]
    pub diameter_mm: At<f64>,
    /// Side of a square billet.
    #[schemars(with = "Option<f64>")]
    pub side_mm: At<f64>,
    /// Width of a rectangular billet.
    #[schemars(with = "Option<f64>")]
    pub width_mm: At<f64>,
    /// Height of a rectangular billet.
    #[schemars(with = "Option<f64>")]
    pub height_mm: At<f64>,
    /// Thickness of a plate, cooled on its two faces only.
    #[schemars(with = "Option<f64>")]
    pub thickness_mm: At<f64>,
    /// Length. Without it the piece is a long bar, followed by its section alone.
    #[schemars(with = "Option<f64>")]
    pub length_mm: At<f64>,
    /// Emissivity of the surface in place of the metal's.
    #[schemars(with = "Option<f64>")]
    pub emissivity: At<f64>,
    /// Share of the mass that turns into scale in the heater and comes off with the first new shape.
    #[schemars(with = "Option<f64>")]
    pub scale_loss_percent: At<f64>,
    /// Temperature below which the ends of a gripped bar count as too cold.
    #[schemars(with = "Option<f64>")]
    pub cold_end_c: At<f64>,
}

/// The shop.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawShop {
    /// Air temperature.
    #[schemars(with = "Option<f64>")]
    pub ambient_c: At<f64>,
    /// Temperature of what the part radiates to.
    #[schemars(with = "Option<f64>")]
    pub surroundings_c: At<f64>,
    /// Time from part to part.
    #[schemars(with = "Option<f64>")]
    pub takt_s: At<f64>,
    /// Speed of the air past the part: a draught, a fan, or the speed of the move.
    #[schemars(with = "Option<f64>")]
    pub air_speed_m_s: At<f64>,
    /// Fixed film coefficient in place of the correlations.
    #[schemars(with = "Option<f64>")]
    pub film_w_m2k: At<f64>,
    /// Film coefficient of the air at tool faces that no part touches.
    #[schemars(with = "Option<f64>")]
    pub tool_film_w_m2k: At<f64>,
    /// View factor from the part to its surroundings.
    #[schemars(with = "Option<f64>")]
    pub view_factor: At<f64>,
}

/// The heater.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawHeater {
    /// `measured`: the state at heater exit is known. `furnace`, `coil_line` (a row of coils) and
    /// `static_coil` (one charge at a time): heating from cold is computed.
    #[schemars(with = "Option<String>", extend("enum" = ["measured", "furnace", "coil_line", "static_coil"]))]
    pub kind: At<String>,
    /// Uniform temperature at heater exit (measured), or temperature of the furnace.
    #[schemars(with = "Option<f64>")]
    pub temperature_c: At<f64>,
    /// Surface temperature at heater exit, mid-length.
    #[schemars(with = "Option<f64>")]
    pub surface_c: At<f64>,
    /// Core temperature at heater exit.
    #[schemars(with = "Option<f64>")]
    pub core_c: At<f64>,
    /// How much colder the core is than the surface (negative: hotter).
    #[schemars(with = "Option<f64>")]
    pub core_below_surface_k: At<f64>,
    /// Temperatures from the core (at = 0) to the surface (at = 1), in place of surface and core.
    #[schemars(with = "Option<Vec<RawPoint>>")]
    pub points: At<Vec<Spanned<RawPoint>>>,
    /// Time in the furnace.
    #[schemars(with = "Option<f64>")]
    pub seconds: At<f64>,
    /// Time in the furnace.
    #[schemars(with = "Option<f64>")]
    pub minutes: At<f64>,
    /// Temperature of the billet when it goes in.
    #[schemars(with = "Option<f64>")]
    pub start_c: At<f64>,
    /// Emissivity of the exchange between furnace and billet.
    #[schemars(with = "Option<f64>")]
    pub emissivity: At<f64>,
    /// Film coefficient of the furnace gas.
    #[schemars(with = "Option<f64>")]
    pub film_w_m2k: At<f64>,
    /// Added everywhere to the exit temperatures that the heater gives: what a pyrometer reads more.
    #[schemars(with = "Option<f64>")]
    pub exit_offset_k: At<f64>,
    /// How billets move through a coil line: `indexed` by one length a takt, or `steady`.
    #[schemars(with = "Option<String>", extend("enum" = ["indexed", "steady"]))]
    pub motion: At<String>,
    /// Frequency of the coils.
    #[schemars(with = "Option<f64>")]
    pub frequency_hz: At<f64>,
    /// Inner diameter of the windings.
    #[schemars(with = "Option<f64>")]
    pub bore_mm: At<f64>,
    /// Length of a static coil.
    #[schemars(with = "Option<f64>")]
    pub length_mm: At<f64>,
    /// Billets end to end in a static coil.
    #[schemars(with = "Option<f64>")]
    pub billets: At<f64>,
    /// Thickness of the lining inside the winding.
    #[schemars(with = "Option<f64>")]
    pub lining_mm: At<f64>,
    /// Thermal conductivity of the lining.
    #[schemars(with = "Option<f64>")]
    pub lining_w_mk: At<f64>,
    /// Emissivity of the lining.
    #[schemars(with = "Option<f64>")]
    pub lining_emissivity: At<f64>,
    /// Temperature of the copper.
    #[schemars(with = "Option<f64>")]
    pub copper_c: At<f64>,
    /// Winding space factor: copper over pitch.
    #[schemars(with = "Option<f64>")]
    pub fill: At<f64>,
    /// Power at the coils' terminals over power from the mains.
    #[schemars(with = "Option<f64>")]
    pub supply_efficiency: At<f64>,
    /// Highest power at the terminals of each coil.
    #[schemars(with = "Option<f64>")]
    pub highest_kw: At<f64>,
    /// Stretches of a coil line from the cold end, or further zones of a furnace.
    #[schemars(with = "Option<Vec<RawZone>>")]
    pub zone: At<Vec<Spanned<RawZone>>>,
    /// Programme of a static coil.
    #[schemars(with = "Option<Vec<RawStep>>")]
    pub step: At<Vec<Spanned<RawStep>>>,
    /// What the powers of a coil line are to reach.
    #[schemars(with = "Option<RawTarget>")]
    pub target: At<RawTarget>,
}

/// One point of a temperature profile.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawPoint {
    /// Place: 0 at the core, 1 at the surface.
    #[schemars(with = "Option<f64>")]
    pub at: At<f64>,
    /// Temperature there.
    #[schemars(with = "Option<f64>")]
    pub temperature_c: At<f64>,
}

/// Scale between the metal and what it meets.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawScale {
    /// Thickness at heater exit. A measured exit needs it; on the way through a computed heater it grows.
    #[schemars(with = "Option<f64>")]
    pub at_exit_um: At<f64>,
    /// Conductivity.
    #[schemars(with = "Option<f64>")]
    pub w_mk: At<f64>,
    /// Factor on the thickness that grows.
    #[schemars(with = "Option<f64>")]
    pub growth: At<f64>,
    /// Share of the thickness that the first blow leaves.
    #[schemars(with = "Option<f64>")]
    pub left_by_first_blow: At<f64>,
    /// Share of the thickness that descaling leaves.
    #[schemars(with = "Option<f64>")]
    pub left_by_descaling: At<f64>,
}

/// A pair of dies.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawDie {
    /// Grade of both dies.
    #[schemars(with = "Option<SteelRef>")]
    pub steel: At<SteelRef>,
    /// Temperature of both dies when the part arrives.
    #[schemars(with = "Option<f64>")]
    pub bulk_c: At<f64>,
    /// Temperature of the upper die, where it differs.
    #[schemars(with = "Option<f64>")]
    pub upper_c: At<f64>,
    /// Temperature of the lower die, where it differs.
    #[schemars(with = "Option<f64>")]
    pub lower_c: At<f64>,
    /// Depth of die that takes part.
    #[schemars(with = "Option<f64>")]
    pub depth_mm: At<f64>,
    /// Whether the faces are held at their temperature (a textbook die). Default: false.
    #[schemars(with = "Option<bool>")]
    pub fixed: At<bool>,
    /// Contact coefficient under the part's own weight.
    #[schemars(with = "Option<f64>")]
    pub resting_w_m2k: At<f64>,
    /// Contact coefficient while the upper die stays down between blows.
    #[schemars(with = "Option<f64>")]
    pub pressed_w_m2k: At<f64>,
    /// Contact coefficient under a blow or a press stroke.
    #[schemars(with = "Option<f64>")]
    pub blow_w_m2k: At<f64>,
    /// Contact coefficient under a blow at the zone `flash` of a shape.
    #[schemars(with = "Option<f64>")]
    pub flash_w_m2k: At<f64>,
    /// Contact coefficient of the side walls under a blow, once the cavity is filled.
    #[schemars(with = "Option<f64>")]
    pub wall_w_m2k: At<f64>,
    /// Coefficient across a gap: rings that do not touch, walls between blows.
    #[schemars(with = "Option<f64>")]
    pub gap_w_m2k: At<f64>,
    /// Mean contact pressure under a blow: its coefficient then comes from the pressure law.
    #[schemars(with = "Option<f64>")]
    pub pressure_mpa: At<f64>,
    /// Mean contact pressure while the part is pressed on between blows or sticks: that coefficient then comes
    /// from the pressure law.
    #[schemars(with = "Option<f64>")]
    pub pressed_mpa: At<f64>,
    /// Coefficient of the pressure law without pressure.
    #[schemars(with = "Option<f64>")]
    pub at_zero_w_m2k: At<f64>,
    /// Coefficient of the pressure law at high pressure.
    #[schemars(with = "Option<f64>")]
    pub plateau_w_m2k: At<f64>,
    /// Pressure that closes 63 % of the way to the plateau.
    #[schemars(with = "Option<f64>")]
    pub pressure_scale_mpa: At<f64>,
    /// Thickness of scale between part and dies, in series with all contact but gaps.
    #[schemars(with = "Option<f64>")]
    pub scale_um: At<f64>,
    /// Conductivity of that scale.
    #[schemars(with = "Option<f64>")]
    pub scale_w_mk: At<f64>,
    /// Thickness of the dry lubricant film on the dies, in series with all contact but gaps.
    #[schemars(with = "Option<f64>")]
    pub film_um: At<f64>,
    /// Conductivity of that film.
    #[schemars(with = "Option<f64>")]
    pub film_w_mk: At<f64>,
    /// Friction factor between part and dies: friction stress over yield stress in shear. Round parts only.
    #[schemars(with = "Option<f64>")]
    pub friction_factor: At<f64>,
    /// Temperature through both dies before the first part of a shift (warm-up).
    #[schemars(with = "Option<f64>")]
    pub preheat_c: At<f64>,
    /// Length of the spray after each part (warm-up).
    #[schemars(with = "Option<f64>")]
    pub spray_s: At<f64>,
    /// Coefficient of the spray. Default: by the face temperature, 10000 W/m2K wetted up to 300 degC,
    /// 2000 W/m2K on steam from 400 degC.
    #[schemars(with = "Option<f64>")]
    pub spray_w_m2k: At<f64>,
    /// Temperature of the sprayed fluid.
    #[schemars(with = "Option<f64>")]
    pub spray_water_c: At<f64>,
    /// Length of the blow-off after the spray (warm-up).
    #[schemars(with = "Option<f64>")]
    pub blow_off_s: At<f64>,
    /// Coefficient of the blow-off.
    #[schemars(with = "Option<f64>")]
    pub blow_off_w_m2k: At<f64>,
    /// Tempering temperature of the die steel, above which a face softens (warm-up).
    #[schemars(with = "Option<f64>")]
    pub tempering_c: At<f64>,
}

/// A limit: what must hold, at which node and which moment.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawLimit {
    /// Stage by name, or `heater`. Without it: every stage that has the moment.
    #[schemars(with = "Option<String>")]
    pub stage: At<String>,
    /// `start`, `end`, `exit` (heater), `first blow`, `last blow`, `every blow`, `blow N`, `always`.
    /// A trimming stroke is the one blow of its stage; without a stage, blows are those of forging.
    #[schemars(with = "Option<String>")]
    pub moment: At<String>,
    /// `core`, `surface`, `grip_end`, `free_end`, `edge`, `mean`, `coldest`, `hottest`, or a zone's
    /// `<zone>.mean`, `<zone>.core`, `<zone>.surface`, `<zone>.coldest`, `<zone>.hottest`.
    #[schemars(with = "Option<String>")]
    pub node: At<String>,
    /// The node must be at least this hot.
    #[schemars(with = "Option<f64>")]
    pub min_c: At<f64>,
    /// The node must be at most this hot.
    #[schemars(with = "Option<f64>")]
    pub max_c: At<f64>,
    /// Second node of a difference limit.
    #[schemars(with = "Option<String>")]
    pub difference_to: At<String>,
    /// The two nodes may differ by at most this much.
    #[schemars(with = "Option<f64>")]
    pub max_k: At<f64>,
    /// Where the limit comes from, shown beside it.
    #[schemars(with = "Option<String>")]
    pub source: At<String>,
}

/// Grips of a carry: one, or one an end.
pub(crate) type Grips = OneOrMany<RawGrip>;
