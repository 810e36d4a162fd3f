//! Stages of the line after heater exit.

use super::cool::Cool;
use super::piece::{Metal, Shape};
use super::support::{Pose, Support};
use crate::conduction::DeepEnd;
use crate::die::{BlowOff, DieBlock, Spray};
use crate::judge::Kind;

/// What the part radiates and convects to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// Air temperature, degC.
    pub ambient_c: f64,
    /// Temperature of what the part radiates to, degC.
    pub surroundings_c: f64,
    /// Speed of the air past the part, m/s; zero for still air.
    pub air_speed_m_s: f64,
    /// Fixed film coefficient in W/m²K that replaces the correlations.
    pub film_w_m2k: Option<f64>,
    /// View factor from the part to its surroundings.
    pub view_factor: f64,
    /// Emissivity that replaces that of the metal.
    pub emissivity: Option<f64>,
}

/// One stage of the line.
#[derive(Debug, Clone)]
pub struct Stage {
    /// Name, distinct in the line.
    pub name: String,
    /// What happens in it.
    pub kind: StageKind,
    /// Surroundings of all faces that touch nothing.
    pub surroundings: Surroundings,
    /// Line of the stage's name (or of its table header) in the line file, from 1.
    pub line: usize,
}

impl Stage {
    /// Length of the stage in s.
    pub fn seconds(&self) -> f64 {
        match &self.kind {
            StageKind::Carry { seconds, .. }
            | StageKind::Wait { seconds }
            | StageKind::Rest { seconds, .. }
            | StageKind::Descale { seconds, .. } => *seconds,
            StageKind::Cool(cool) => cool.seconds,
            StageKind::Forge(forge) => forge.seconds(),
            StageKind::Trim(trim) => trim.lying_before_s + trim.contact_s,
        }
    }
}

/// What happens in a stage.
#[derive(Debug, Clone)]
pub enum StageKind {
    /// Moved through air, perhaps held by jaws.
    Carry {
        /// Length in s.
        seconds: f64,
        /// Jaws that hold it; `both` in the file gives two.
        grips: Vec<Grip>,
    },
    /// Held in free air.
    Wait {
        /// Length in s.
        seconds: f64,
    },
    /// Resting on a support.
    Rest {
        /// Length in s.
        seconds: f64,
        /// What it rests on.
        support: Support,
    },
    /// Sprayed with water to take off the scale.
    Descale {
        /// Length in s.
        seconds: f64,
        /// Film coefficient of the water, mean over all faces and the stage, W/m²K.
        film_w_m2k: f64,
        /// Water temperature, degC.
        water_c: f64,
    },
    /// Struck or pressed between dies.
    Forge(Box<Forge>),
    /// Flash or web taken off.
    Trim(Box<Trim>),
    /// Cooled in air, on a conveyor, in a heap or under a fan.
    Cool(Box<Cool>),
}

impl StageKind {
    /// Its kind as a word.
    pub fn kind(&self) -> Kind {
        match self {
            StageKind::Carry { .. } => Kind::Carry,
            StageKind::Wait { .. } => Kind::Wait,
            StageKind::Rest { .. } => Kind::Rest,
            StageKind::Descale { .. } => Kind::Descale,
            StageKind::Forge(_) => Kind::Forge,
            StageKind::Trim(_) => Kind::Trim,
            StageKind::Cool(_) => Kind::Cool,
        }
    }
}

/// Which end a grip holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GripEnd {
    /// The end at position zero of the bar axis.
    GripEnd,
    /// The other end.
    FreeEnd,
}

/// Jaws round one end of the part.
#[derive(Debug, Clone)]
pub struct Grip {
    /// Which end.
    pub end: GripEnd,
    /// Gripped length from that end, m.
    pub length_m: f64,
    /// How long after the start of the stage it closes, s.
    pub late_s: f64,
    /// How long after the start of the stage it opens, s; `None` at its end.
    pub opens_s: Option<f64>,
    /// Distance from the end at which the jaws begin, m.
    pub from_end_m: f64,
    /// The gripper that it belongs to; `None` for jaws that this grip alone uses.
    pub gripper: Option<Gripper>,
    /// Temperature of the jaws when they close, degC.
    pub jaw_c: f64,
    /// Contact coefficient, W/m²K.
    pub contact_w_m2k: f64,
    /// Share of the gripped side face that touches the jaws.
    pub share: f64,
    /// Metal of the jaws.
    pub metal: Metal,
    /// Thickness of the jaws behind the contact, m.
    pub depth_m: f64,
    /// What is behind that thickness; jaws of a gripper with a name have no end there, they cool as a whole.
    pub back: DeepEnd,
}

/// A gripper whose jaws go from grip to grip and keep their heat.
#[derive(Debug, Clone, PartialEq)]
pub struct Gripper {
    /// Its name; grips with the same name share the jaws.
    pub name: String,
    /// Time in which open jaws lose 63 % of what they are warmer than the air, s.
    pub cooling_s: f64,
    /// Temperature of the jaws at the start of a shift, degC.
    pub cold_c: f64,
}

/// What is behind jaws or a support.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Behind {
    /// Something so heavy that it stays at their temperature.
    #[default]
    Held,
    /// Nothing that takes heat.
    Insulated,
}

impl Behind {
    /// As the far end of columns that start at a temperature, degC.
    pub fn end(self, temp_c: f64) -> DeepEnd {
        match self {
            Behind::Held => DeepEnd::Fixed(temp_c),
            Behind::Insulated => DeepEnd::Insulated,
        }
    }
}

/// What the part does between two blows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Between {
    /// Lies on the lower die under its own weight.
    Lying,
    /// Is held clear of the dies.
    Lifted,
    /// Stays under the pressed-down upper die.
    Pressed,
}

/// One die.
#[derive(Debug, Clone)]
pub struct Die {
    /// Temperature when a single part arrives in steady work, through the depth, degC.
    pub bulk_c: f64,
    /// Temperature through the depth before the first part of a shift, degC.
    pub preheat_c: f64,
    /// Metal.
    pub metal: Metal,
    /// Depth from the face to the back, m.
    pub depth_m: f64,
    /// The block that it is made of, for many parts. A single part sees nothing of it: it leaves the
    /// temperature at the depth as it is.
    pub block: DieBlock,
    /// Whether the face itself is held at `bulk_c`.
    pub fixed: bool,
}

/// The pair of dies of a stage and how they touch the part.
#[derive(Debug, Clone)]
pub struct Dies {
    /// Upper die.
    pub upper: Die,
    /// Lower die.
    pub lower: Die,
    /// Contact coefficient under own weight, W/m²K.
    pub resting_w_m2k: f64,
    /// Contact coefficient while the upper die stays down between blows, W/m²K.
    pub pressed_w_m2k: f64,
    /// Contact coefficient under a blow or press stroke, W/m²K.
    pub blow_w_m2k: f64,
    /// Contact coefficient under a blow where the shape has the zone `flash`, W/m²K.
    pub flash_w_m2k: f64,
    /// Contact coefficient of the side walls under a blow once the cavity is filled, W/m²K.
    pub wall_w_m2k: f64,
    /// Friction factor between part and dies.
    pub friction_factor: f64,
    /// Coefficient across a small gap: rings that do not touch, walls between blows, W/m²K.
    pub gap_w_m2k: f64,
    /// Spray between parts.
    pub spray: Option<Spray>,
    /// Blow-off after the spray.
    pub blow_off: Option<BlowOff>,
    /// Tempering temperature of the die steel, above which a face softens, degC.
    pub tempering_c: f64,
}

/// Which dies a ring of the shape touches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RingTouch {
    /// Both.
    #[default]
    Both,
    /// The lower one; a gap to the upper.
    Lower,
    /// The upper one; a gap to the lower.
    Upper,
    /// Neither: a gap to both.
    Gap,
}

impl RingTouch {
    /// Whether the ring touches the upper (or else the lower) die.
    pub fn meets(self, upper: bool) -> bool {
        match self {
            RingTouch::Both => true,
            RingTouch::Lower => !upper,
            RingTouch::Upper => upper,
            RingTouch::Gap => false,
        }
    }
}

/// Where the heat of forming comes from, all blows of the stage together.
#[derive(Debug, Clone, PartialEq)]
pub enum DeformationHeat {
    /// No heat of forming.
    None,
    /// Flow stress times strain.
    FlowStress {
        /// Total strain of the stage (volume mean).
        strain: f64,
        /// Total strain of each ring of the new shape; empty when there is no new shape.
        ring_strain: Vec<f64>,
        /// Strain rate, 1/s.
        strain_rate_1_s: f64,
        /// Flow stress in Pa that replaces that of the metal.
        flow_stress_pa: Option<f64>,
        /// Share of the forming work that becomes heat.
        heat_share: f64,
    },
    /// Energy of the blow times its efficiency.
    BlowEnergy {
        /// Energy of one blow, J.
        energy_j: f64,
        /// Share of it that forms the part.
        efficiency: f64,
        /// Share of the forming work that becomes heat.
        heat_share: f64,
    },
}

/// A pin or ring that lifts the part out of the lower die and carries it until the grip closes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnockOut {
    /// How long it carries the part, s.
    pub seconds: f64,
    /// Inner radius of what touches, m; zero for a pin.
    pub inner_m: f64,
    /// Outer radius of what touches, m.
    pub outer_m: f64,
    /// Contact coefficient, W/m²K.
    pub contact_w_m2k: f64,
}

/// Friction between part and dies where a blow makes the part slide over them.
///
/// The shear stress is the friction factor times the yield stress in shear, σ/√3; the sliding is that of
/// [`crate::body::sliding`].
#[derive(Debug, Clone, PartialEq)]
pub struct Friction {
    /// Friction factor m, 0 to 1.
    pub factor: f64,
    /// Total strain of the stage (volume mean), for the flow stress.
    pub strain: f64,
    /// Total strain of each ring of the new shape.
    pub ring_strain: Vec<f64>,
    /// Strain rate, 1/s.
    pub strain_rate_1_s: f64,
    /// Flow stress in Pa that replaces that of the metal.
    pub flow_stress_pa: Option<f64>,
}

/// Blows or strokes in one impression.
///
/// The stage runs: lying before, then the blows (each starts one interval after the one before),
/// then lying after; it ends with the lying, or with the knock-out after it.
#[derive(Debug, Clone)]
pub struct Forge {
    /// Number of blows or strokes, at least one.
    pub blows: u32,
    /// Share of the change of shape that each blow makes, summing to one; empty when all make the same.
    pub blow_shares: Vec<f64>,
    /// Whether the strain rate of a blow follows its share of the strain, rather than being given.
    pub rate_follows: bool,
    /// Contact time of one blow, s.
    pub contact_s: f64,
    /// Time from the start of one blow to the start of the next, s.
    pub interval_s: f64,
    /// What the part does between blows.
    pub between: Between,
    /// Lying on the lower die before the first blow, s.
    pub lying_before_s: f64,
    /// Off both dies after each blow, s: the part jumps with the rebound.
    pub rebound_s: f64,
    /// Pressed on the lower die after each blow and rebound while the gripper yields, s.
    pub pressed_s: f64,
    /// Lying on the lower die after the last blow, s.
    pub lying_after_s: f64,
    /// Sticking in the lower die beyond that, s; under the pressed coefficient.
    pub stuck_s: f64,
    /// Knock-out at the end of the stage.
    pub knock_out: Option<KnockOut>,
    /// Blow from which the cavity is filled and the side walls touch, from 1.
    pub fills_at_blow: Option<u32>,
    /// Which dies each ring of the new shape touches; empty when all touch both.
    pub ring_touch: Vec<RingTouch>,
    /// How it stands in the die.
    pub pose: Pose,
    /// Share of the touched faces that meet the dies (of the whole side face when lying).
    pub share: f64,
    /// Share of the whole side face of a round bar that lies on the die before the first blow makes
    /// cross-sections of it.
    pub bar_share: f64,
    /// Shape after the last blow; `None` keeps the shape.
    pub shape: Option<Shape>,
    /// Heat of forming.
    pub heat: DeformationHeat,
    /// Friction; `None` where nothing slides.
    pub friction: Option<Box<Friction>>,
    /// The dies.
    pub dies: Dies,
}

impl Forge {
    /// Length of the stage in s.
    pub fn seconds(&self) -> f64 {
        let blows = f64::from(self.blows.saturating_sub(1)) * self.interval_s + self.contact_s;
        let knock_out_s = self.knock_out.map_or(0.0, |knock_out| knock_out.seconds);
        self.lying_before_s + blows + self.lying_after_s + self.stuck_s + knock_out_s
    }

    /// Share of the change of shape that blow `index` (from 0) makes.
    pub fn blow_share(&self, index: u32) -> f64 {
        let equal = 1.0 / f64::from(self.blows.max(1));
        self.blow_shares.get(index as usize).copied().unwrap_or(equal)
    }

    /// Share of the change of shape that the first `count` blows make together.
    pub fn shape_share(&self, count: u32) -> f64 {
        if count >= self.blows {
            return 1.0;
        }
        (0..count).map(|blow| self.blow_share(blow)).sum()
    }

    /// Start of blow `index` (from 0) in s after the start of the stage.
    pub fn blow_start_s(&self, index: u32) -> f64 {
        self.lying_before_s + f64::from(index) * self.interval_s
    }
}

/// A trimming or piercing stroke.
#[derive(Debug, Clone)]
pub struct Trim {
    /// Lying on the trimming die before the stroke, s.
    pub lying_before_s: f64,
    /// Contact time of the stroke, s.
    pub contact_s: f64,
    /// How it stands in the die.
    pub pose: Pose,
    /// Share of the touched faces that meet the dies.
    pub share: f64,
    /// Zones that leave the part at the end of the stroke.
    pub removes: Vec<String>,
    /// The trimming dies.
    pub dies: Dies,
}
