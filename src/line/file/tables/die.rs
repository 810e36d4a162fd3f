//! Tools: dies, jaws, supports.

use super::ranges::{
    BLOW, COEFFICIENT, FLASH, GAP, GRIPPED, RESTING, SECONDS, SHARE, SIZE_MM, TEMPERATURE, UNDER_A_BLOW, published,
};
use crate::die::{CHANNEL_C, COUPLE_M, HOLDER_W_M2K, WELL_M};
use crate::line::file::metals::SteelRef;
use crate::line::plan::{Behind, GripEnd, Pose};
use crate::surface::contact::{POROUS_SCALE, PressureLaw, SCALE_CONDUCTIVITY};
use crate::text::{Choice, Usual, Words, above, any, flag, number, table, text};

/// Ends that a grip holds.
pub(crate) type Ends = &'static [GripEnd];

impl Words for Ends {
    const WORDS: &'static [(&'static str, Ends)] = &[
        ("grip_end", &[GripEnd::GripEnd]),
        ("free_end", &[GripEnd::FreeEnd]),
        ("both", &[GripEnd::GripEnd, GripEnd::FreeEnd]),
    ];
}

impl Words for Pose {
    const WORDS: &'static [(&'static str, Pose)] = &[("standing", Pose::Standing), ("lying", Pose::Lying)];
}

impl Words for Behind {
    const WORDS: &'static [(&'static str, Behind)] = &[("held", Behind::Held), ("insulated", Behind::Insulated)];
}

/// Dies of hot-work steel are tempered at some 600 degC and soften above (trade practice); isothermal forging in
/// superalloys goes further.
const DIE_USUAL: Usual = Usual {
    low: -40.0,
    high: 700.0,
    of: "the usual range",
    code: "unusual-temperature",
};

/// Constants of the pressure law.
const LAW: PressureLaw = PressureLaw::FITTED;

table! {
    /// A pair of dies.
    pub(crate) struct RawDie = "Die";

    /// Grade of both dies.
    steel: SteelRef = any();
    /// Temperature of both dies when the part arrives.
    bulk_c: f64 = number("degC", TEMPERATURE).or(200.0, "preheated die, common practice 200 to 300 degC").usual(DIE_USUAL);
    /// Temperature of the upper die, where it differs.
    upper_c: f64 = number("degC", TEMPERATURE).follows("equal to bulk_c").usual(DIE_USUAL);
    /// Temperature of the lower die, where it differs.
    lower_c: f64 = number("degC", TEMPERATURE).follows("equal to bulk_c").usual(DIE_USUAL);
    /// Distance from the face to the back of the die, where its holder is.
    depth_mm: f64 = above("mm", (0.0, 1000.0)).or(60.0, "deeper than the heat of one part goes");
    /// Whether the faces are held at their temperature (a textbook die). Default: false.
    fixed: bool = flag();
    /// Contact coefficient under the part's own weight.
    resting_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(RESTING.typical, RESTING.source).usual(published(RESTING));
    /// Contact coefficient while the upper die stays down between blows.
    pressed_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(GRIPPED.typical, GRIPPED.source).usual(published(GRIPPED));
    /// Contact coefficient under a blow or a press stroke.
    blow_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(BLOW.typical, BLOW.source).usual(UNDER_A_BLOW);
    /// Contact coefficient under a blow at the zone `flash` of a shape.
    flash_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(FLASH.typical, FLASH.source).usual(published(FLASH));
    /// Contact coefficient of the side walls under a blow, once the cavity is filled.
    wall_w_m2k: f64 = number("W/m2K", COEFFICIENT).follows("equal to blow_w_m2k").usual(UNDER_A_BLOW);
    /// Coefficient across a gap: rings that do not touch, walls between blows.
    gap_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(GAP.typical, GAP.source).usual(published(GAP));
    /// Mean contact pressure under a blow: its coefficient then comes from the pressure law.
    pressure_mpa: f64 = number("MPa", (0.0, 500.0));
    /// Mean contact pressure while the part is pressed on between blows or sticks: that coefficient then comes
    /// from the pressure law.
    pressed_mpa: f64 = number("MPa", (0.0, 500.0));
    /// Coefficient of the pressure law without pressure.
    at_zero_w_m2k: f64 = above("W/m2K", COEFFICIENT)
        .or(LAW.at_zero, "pressure law, without pressure: Semiatin et al. 1987 (from memory)");
    /// Coefficient of the pressure law at high pressure.
    plateau_w_m2k: f64 = above("W/m2K", COEFFICIENT)
        .or(LAW.plateau,
            "pressure law, plateau above about 14 MPa, published 7500 to 12000 W/m2K: Semiatin et al. 1987, Burte et al. 1990 (from memory)");
    /// Pressure that closes 63 % of the way to the plateau.
    pressure_scale_mpa: f64 = number("MPa", (0.001, 1000.0))
        .or(LAW.pressure_mpa,
            "pressure law, pressure that closes 63 % of the way to the plateau: fit to the same values (from memory)");
    /// Thickness of scale between part and dies, in series with all contact but gaps.
    scale_um: f64 = number("um", (0.0, 5000.0));
    /// Conductivity of that scale.
    scale_w_mk: f64 = number("W/mK", (0.01, 100.0)).or(SCALE_CONDUCTIVITY, POROUS_SCALE);
    /// Thickness of the dry lubricant film on the dies, in series with all contact but gaps.
    film_um: f64 = number("um", (0.0, 5000.0));
    /// Conductivity of that film.
    film_w_mk: f64 = number("W/mK", (0.01, 100.0));
    /// Friction factor between part and dies: friction stress over yield stress in shear. Round parts only.
    friction_factor: f64 = number("", (0.0, 1.0))
        .or(0.0,
            "heat of friction left out; hot steel on dies lubricated with graphite 0.2 to 0.4, dry and scaled 0.6 to 0.9 (textbooks of forging, from memory)");
    /// Temperature through both dies before the first part of a shift (warm-up).
    preheat_c: f64 = number("degC", TEMPERATURE).follows("equal to the temperature in steady work").usual(DIE_USUAL);
    /// How far the die block reaches beside what the part touches (warm-up); its outside passes no heat.
    beside_mm: f64 = above("mm", (0.0, 2000.0)).follows("equal to depth_mm: more matters little");
    /// Temperature of the holder behind the dies (warm-up).
    holder_c: f64 = number("degC", TEMPERATURE).follows("equal to the temperature when the part arrives").usual(DIE_USUAL);
    /// Coefficient between die and holder (warm-up); zero for an insulated back.
    holder_w_m2k: f64 = number("W/m2K", COEFFICIENT)
        .or(HOLDER_W_M2K, "ground faces of steel, wedged or bolted: 2000 to 10000 W/m2K (order of magnitude, from memory)");
    /// Depth below the face at which the temperature of the die is told (warm-up).
    couple_mm: f64 = above("mm", (0.0, 1000.0))
        .or(1e3 * COUPLE_M, "couples 15 to 25 mm behind the engraving, common practice");
    /// Cooling channels of each die: coefficient of their walls times wetted area (warm-up).
    channel_w_k: f64 = above("W/K", (0.0, 1e5));
    /// Depth of the channels below the face.
    channel_depth_mm: f64 = above("mm", (0.0, 1000.0)).or(1e3 * WELL_M, "behind the couples, common practice");
    /// Temperature of what flows in them.
    channel_c: f64 = number("degC", (-40.0, 350.0)).or(CHANNEL_C, "works water");
    /// Heaters of each die: their power (warm-up).
    heater_kw: f64 = above("kW", (0.0, 1000.0));
    /// Depth of the heaters below the face.
    heater_depth_mm: f64 = above("mm", (0.0, 1000.0)).or(1e3 * WELL_M, "behind the couples, common practice");
    /// Temperature of their place at which a thermostat turns them off; without it they always heat.
    heater_up_to_c: f64 = number("degC", TEMPERATURE);
    /// Length of the spray after each part (warm-up).
    spray_s: f64 = number("s", SECONDS).or(0.0, "no spray");
    /// Coefficient of the spray. Default: by the face temperature, 10000 W/m2K wetted up to 300 degC,
    /// 2000 W/m2K on steam from 400 degC.
    spray_w_m2k: f64 = number("W/m2K", COEFFICIENT);
    /// Temperature of the sprayed fluid.
    spray_water_c: f64 = number("degC", (0.0, 100.0)).or(25.0, "works water");
    /// Length of the blow-off after the spray (warm-up).
    blow_off_s: f64 = number("s", SECONDS).or(0.0, "no blow-off");
    /// Coefficient of the blow-off.
    blow_off_w_m2k: f64 = number("W/m2K", COEFFICIENT).or(100.0, "air blast on a die, 50 to 200 W/m2K (from memory)");
    /// Tempering temperature of the die steel, above which a face softens (warm-up).
    tempering_c: f64 = number("degC", TEMPERATURE)
        .or(550.0, "last temper of hot-work dies, commonly 540 to 595 degC (trade practice)");
}

table! {
    /// Jaws round one end, or both ends, of the part.
    pub(crate) struct RawGrip = "Grip";

    /// Which end is held.
    end: Choice<Ends> = any().of(&["stage"]);
    /// Gripped length from that end.
    length_mm: f64 = above("mm", SIZE_MM);
    /// How long after the start of the stage this grip closes.
    late_s: f64 = number("s", SECONDS).or(0.0, "closes as the stage starts").of(&["stage"]);
    /// How long after the start of the stage this grip opens again; at the end of the stage without it.
    opens_s: f64 = above("s", SECONDS).follows("open as the stage ends").of(&["stage"]);
    /// Distance from the end at which the jaws begin.
    from_end_mm: f64 = number("mm", SIZE_MM).or(0.0, "the jaws begin at the end of the bar").of(&["stage"]);
    /// Name of the gripper. Grips with the same name share its jaws, which warm up from grip to grip
    /// and from part to part.
    gripper: String = text(100.0).of(&["stage"]);
    /// Time in which open jaws of a named gripper lose 63 % of what they are warmer than the air.
    cooling_s: f64 = above("s", SECONDS).or(300.0, "open jaws in air, some minutes, common practice").of(&["stage"]);
    /// Temperature of the jaws of a named gripper before a shift (warm-up).
    cold_c: f64 = number("degC", TEMPERATURE).follows("equal to ambient_c: jaws before a shift").of(&["stage"]);
    /// Temperature of the jaws when they close.
    jaw_c: f64 = number("degC", TEMPERATURE).or(120.0, "jaws warm from the parts before, common practice");
    /// Contact coefficient of the jaws.
    w_m2k: f64 = number("W/m2K", COEFFICIENT).or(GRIPPED.typical, GRIPPED.source).usual(published(GRIPPED));
    /// Pressure of the jaws on what they touch: their coefficient then comes from the pressure law.
    pressure_mpa: f64 = number("MPa", (0.0, 500.0));
    /// Share of the gripped side face that touches the jaws.
    share: f64 = number("", SHARE).or(0.3, "V jaws touch about a third of the side face, common practice");
    /// Thickness of the jaws behind the contact.
    depth_mm: f64 = above("mm", (0.0, 1000.0)).or(20.0, "thickness of a jaw, common practice");
    /// What is behind that thickness: `held` at `jaw_c` or `insulated`. Default: held, for the arm behind the jaws is
    /// long against a grip; jaws of a named gripper cool as a whole instead.
    back: Choice<Behind> = any();
    /// Grade of the jaws. Default: that of the dies.
    steel: SteelRef = any();
}

table! {
    /// What a part rests on.
    pub(crate) struct RawSupport = "Support";

    /// `standing` on the gripped-end face, or `lying` on the side face.
    pose: Choice<Pose> = any();
    /// Share of that face in contact; of the whole side face when lying.
    share: f64 = number("", SHARE)
        .follows("0.03 lying (two lines of contact 1 to 3 mm wide on a round of 60 mm); standing all of the lowest ring");
    /// Temperature of the support.
    bulk_c: f64 = number("degC", TEMPERATURE).or(100.0, "a rail or table beside the line, common practice");
    /// Contact coefficient under the part's own weight.
    w_m2k: f64 = number("W/m2K", COEFFICIENT).or(RESTING.typical, RESTING.source).usual(published(RESTING));
    /// Thickness of the support behind the contact.
    depth_mm: f64 = above("mm", (0.0, 1000.0)).or(30.0, "thickness of a rail or table plate, common practice");
    /// What is behind that thickness: `held` at `bulk_c` or `insulated`. Default: held, for the table or floor under
    /// it is far heavier.
    back: Choice<Behind> = any();
    /// Grade of the support. Default: that of the dies.
    steel: SteelRef = any();
}
