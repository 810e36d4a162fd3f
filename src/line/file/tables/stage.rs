//! The stages and their shapes.

use toml::Spanned;

use super::cool::{RawConveyor, RawFan, RawPile};
use super::die::{RawDie, RawGrip, RawSupport};
use super::ranges::{COEFFICIENT, GRIPPED, SECONDS, SHARE, SIZE_MM, TEMPERATURE, published};
use crate::line::plan::{Between, Pose, RingTouch};
use crate::text::{Choice, OneOrMany, Words, above, any, number, table, text, whole};

/// From a blow of hard metal on metal, some 0.1 ms, to a press that holds for a minute.
const CONTACT_MS: (f64, f64) = (0.01, 60_000.0);

/// From creep in isothermal forging, some 0.01 mm/s, to high-speed hammers, some 20 m/s (from memory).
const RAM_SPEED: (f64, f64) = (1.0e-6, 30.0);

/// A press whose stroke gives the contact time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Machine {
    Mechanical,
    Screw,
    Hydraulic,
}

impl Words for Machine {
    const WORDS: &'static [(&'static str, Machine)] = &[
        ("mechanical", Machine::Mechanical),
        ("screw", Machine::Screw),
        ("hydraulic", Machine::Hydraulic),
    ];
}

impl Words for Between {
    const WORDS: &'static [(&'static str, Between)] = &[
        ("lying", Between::Lying),
        ("lifted", Between::Lifted),
        ("pressed", Between::Pressed),
    ];
}

impl Words for RingTouch {
    const WORDS: &'static [(&'static str, RingTouch)] = &[
        ("both", RingTouch::Both),
        ("lower", RingTouch::Lower),
        ("upper", RingTouch::Upper),
        ("gap", RingTouch::Gap),
    ];
}

table! {
    /// One stage of the line.
    pub(crate) struct RawStage = "Stage";

    /// What happens in the stage.
    kind: String = any().required().words(&["carry", "wait", "rest", "descale", "forge", "trim", "cool"]);
    /// Name, used by limits and reports. Default: the kind with a number where needed.
    name: String = text(200.0);
    /// Length of the stage (carry, wait, rest, descale, cool).
    seconds: f64 = number("s", SECONDS).required().of(&["carry", "wait", "rest", "descale", "cool"]);
    /// Air temperature of this stage, in place of the shop's.
    ambient_c: f64 = number("degC", TEMPERATURE).follows("that of the shop");
    /// Temperature of what the part radiates to, in place of the shop's.
    surroundings_c: f64 = number("degC", TEMPERATURE)
        .follows("that of the shop; equal to the stage's ambient_c where only that is given");
    /// Speed of the air past the part, in place of the shop's.
    air_speed_m_s: f64 = number("m/s", (0.0, 100.0)).follows("that of the shop");
    /// Fixed film coefficient in place of the correlations.
    film_w_m2k: f64 = number("W/m2K", COEFFICIENT).follows("that of the shop");
    /// View factor, in place of the shop's.
    view_factor: f64 = number("", SHARE).follows("that of the shop");
    /// Emissivity in this stage, in place of the billet's (freshly descaled, say).
    emissivity: f64 = number("", SHARE).follows("that of the billet");
    /// Jaws that hold the part (carry): one table, or a list of two.
    grip: OneOrMany<RawGrip> = any().of(&["carry"]);
    /// What the part rests on (rest, cool).
    support: RawSupport = any().of(&["rest", "cool"]);
    /// Neighbours on the conveyor (cool).
    conveyor: RawConveyor = any().of(&["cool"]);
    /// Basket or heap that the part lies in (cool).
    pile: RawPile = any().of(&["cool"]);
    /// Forced air during a part of the stage (cool).
    fan: RawFan = any().of(&["cool"]);
    /// Film coefficient of the water, mean over all faces and the stage (descale).
    w_m2k: f64 = number("W/m2K", COEFFICIENT)
        .or(1200.0,
            "calculated from 20 K mean drop a second on a round of 60 mm, the middle of practice (10 to 30 K in 1 to 2 s, from memory)")
        .of(&["descale"]);
    /// Water temperature (descale).
    water_c: f64 = number("degC", (0.0, 100.0)).or(20.0, "works water").of(&["descale"]);
    /// Number of blows or press strokes (forge).
    blows: i64 = whole((1.0, 200.0)).or(1.0, "one blow or stroke").of(&["forge"]);
    /// Share of the change of shape that each blow makes, in their order; they sum to 1. In place of `blows`,
    /// which share it equally (forge).
    blow_shares: Vec<Spanned<f64>> = above("", SHARE).follows("the same for each blow").of(&["forge"]);
    /// Contact time of one blow or stroke (forge, trim).
    contact_ms: f64 = number("ms", CONTACT_MS).or_by_kind(&[
            ("forge", 5.0, "hammer blow, 1 to 10 ms, common practice"),
            ("trim", 50.0, "stroke of a mechanical press, 30 to 80 ms, common practice"),
        ]).of(&["forge", "trim"]);
    /// Time from the start of one blow to the start of the next (forge).
    interval_s: f64 = above("s", (0.0, 3600.0))
        .or(0.8, "rhythm of a power hammer, 0.6 to 1.2 s, common practice")
        .of(&["forge"]);
    /// What the part does between blows (forge).
    between: Choice<Between> = any().of(&["forge"]);
    /// Lying on the lower die before the first blow (forge, trim).
    lying_before_s: f64 = number("s", SECONDS)
        .or(0.5, "rest in the die before the first blow, common practice 0.3 to 1 s")
        .of(&["forge", "trim"]);
    /// Lying on the lower die after the last blow (forge).
    lying_after_s: f64 = number("s", SECONDS)
        .or(0.5, "rest in the die before the grip closes, common practice 0.3 to 1 s")
        .of(&["forge"]);
    /// Off both dies after each blow: the part jumps with the rebound (forge).
    rebound_s: f64 = number("s", SECONDS).or(0.0, "the part does not jump").of(&["forge"]);
    /// Pressed on the lower die after each blow while the gripper yields (forge).
    pressed_s: f64 = number("s", SECONDS).or(0.0, "the gripper holds no pressure").of(&["forge"]);
    /// Sticking in the lower die before the last lying (forge).
    stuck_s: f64 = number("s", SECONDS).or(0.0, "the part comes free").of(&["forge"]);
    /// How long a knock-out carries the part at the end of the stage (forge).
    knock_out_s: f64 = number("s", SECONDS).of(&["forge"]);
    /// Outer diameter of the knock-out pin or ring.
    knock_out_outer_mm: f64 = above("mm", SIZE_MM).of(&["forge"]);
    /// Inner diameter of a knock-out ring; zero for a pin.
    knock_out_inner_mm: f64 = number("mm", SIZE_MM).or(0.0, "a pin").of(&["forge"]);
    /// Contact coefficient of the knock-out.
    knock_out_w_m2k: f64 = number("W/m2K", COEFFICIENT)
        .or(GRIPPED.typical, GRIPPED.source)
        .of(&["forge"])
        .usual(published(GRIPPED));
    /// Blow from which the cavity is filled and the side walls touch the part (forge).
    fills_at_blow: i64 = whole((1.0, 200.0)).of(&["forge"]);
    /// Press whose stroke gives the contact time (forge).
    machine: Choice<Machine> = any().of(&["forge"]);
    /// Full stroke of a mechanical press (forge).
    stroke_mm: f64 = above("mm", SIZE_MM).of(&["forge"]);
    /// Strokes per minute of a mechanical press (forge).
    strokes_per_min: f64 = above("1/min", (0.0, 1000.0)).of(&["forge"]);
    /// How far the ram moves with the part between the dies (forge).
    squeeze_mm: f64 = above("mm", SIZE_MM).follows("loss of mean height in one stroke").of(&["forge"]);
    /// How long the press holds at the end of its stroke (forge).
    hold_ms: f64 = number("ms", (0.0, 60_000.0)).or(0.0, "the ram turns at once").of(&["forge"]);
    /// `standing` with the bar axis upright, or `lying` on the side face (forge, trim).
    pose: Choice<Pose> = any().of(&["forge", "trim"]);
    /// Share of the touched faces that meets the dies; of the whole side face when lying.
    share: f64 = number("", SHARE)
        .follows("1 standing and on cross-sections, 0.1 lying (a flat along each side of a round bar)")
        .of(&["forge", "trim"]);
    /// Share of the whole side face of a round bar that lies on the die before the first blow as a long
    /// part (forge).
    bar_share: f64 = number("", SHARE)
        .or(0.1, "a flat along the side of a round bar, common practice")
        .of(&["forge"]);
    /// Shape after the last blow as rings about the bar axis, or as strips of the `[[section]]` tables
    /// (forge). Its volume is the billet's.
    shape: Vec<Spanned<RawRing>> = any().of(&["forge"]);
    /// Total strain of the stage. Default: from the heights before and after.
    strain: f64 = number("", (0.0, 10.0))
        .follows("volume mean of |ln(mean height before / height of the ring)|; 0 without a new shape")
        .of(&["forge"]);
    /// Strain rate. Default: the strain over the contact time.
    strain_rate_1_s: f64 = above("1/s", (0.0, 1.0e4))
        .follows("strain over the contact time of all blows")
        .of(&["forge"]);
    /// Speed of the ram, from which the strain rate follows with the mean height.
    ram_speed_m_s: f64 = number("m/s", RAM_SPEED).of(&["forge"]);
    /// Constant flow stress in place of the metal's.
    flow_stress_mpa: f64 = above("MPa", (0.0, 5000.0)).follows("that of the steel").of(&["forge"]);
    /// Energy of one blow, in place of strain and flow stress.
    blow_energy_kj: f64 = above("kJ", (0.0, 1.0e5)).of(&["forge"]);
    /// Share of the blow energy that forms the part.
    blow_efficiency: f64 = number("", SHARE)
        .or(0.8, "soft blow on an anvil hammer, 0.8 to 0.9; last blows 0.2 to 0.5 (Altan, from memory)")
        .of(&["forge"]);
    /// Share of the forming work that becomes heat (Taylor and Quinney).
    heat_share: f64 = number("", SHARE).or(0.9, "Taylor and Quinney 1934, from memory").of(&["forge"]);
    /// Dies of this stage, where they differ from the `[die]` table (forge, trim).
    die: RawDie = any().of(&["forge", "trim"]);
    /// Zones that leave the part with the stroke: `flash`, `web`, ... (trim).
    removes: Vec<Spanned<String>> = any().of(&["trim"]);
}

table! {
    /// A ring of a shape: a rectangle turned about the bar axis. In a part with `[[section]]` tables a
    /// strip of a cross-section: a rectangle drawn along the part.
    pub(crate) struct RawRing = "Ring";

    /// Cross-section that a strip belongs to.
    section: String = text(40.0).of(&["strip"]);
    /// Left side of a strip from the middle of its section. Default in a symmetric section: the middle.
    left_mm: f64 = number("mm", (-1e3, 1e3)).of(&["strip"]);
    /// Right side of a strip from the middle of its section.
    right_mm: f64 = number("mm", (-1e3, 1e3)).of(&["strip"]);
    /// Outer diameter.
    outer_mm: f64 = above("mm", SIZE_MM).required().of(&["ring"]);
    /// Inner diameter; zero for a disc.
    inner_mm: f64 = number("mm", SIZE_MM).or(0.0, "a disc").of(&["ring"]);
    /// Height, from the bottom of the shape up.
    height_mm: f64 = above("mm", SIZE_MM);
    /// Lower face above the bottom of the shape.
    bottom_mm: f64 = number("mm", SIZE_MM);
    /// Upper face above the bottom of the shape.
    top_mm: f64 = above("mm", SIZE_MM);
    /// Which dies the ring touches under the blow; there is a gap elsewhere. Default: both.
    touch: Choice<RingTouch> = any();
    /// Zone that the ring belongs to: `body`, `web`, `flash`, ...
    zone: String = text(40.0);
}
