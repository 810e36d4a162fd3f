//! Dies, jaws and supports: the `[die]`, `[grip]` and `[support]` tables and what stages change of them.

use super::billet::{metal, refused};
use super::context::{Check, own};
use super::interface;
use super::more_die::{self, MoreDie};
use super::pressure::{self, Pressures};
use crate::line::file::metals::SteelRef;
use crate::line::file::tables::{RawDie, RawFile, RawGrip, RawSupport};
use crate::line::plan::{Behind, Die, Dies, Metal, Pose};
use crate::line::trace::Owner;
use crate::surface::contact::Layer;
use crate::text::Given;

/// Grade of dies when none is given: a hot-work steel, EN ISO 4957.
const DIE_STEEL: &str = "X38CrMoV5-1";

/// A pair of dies with everything known.
#[derive(Debug, Clone)]
pub(crate) struct DieValues {
    upper_c: f64,
    lower_c: f64,
    metal: Option<Metal>,
    depth_mm: f64,
    fixed: bool,
    resting_w_m2k: f64,
    pressed_w_m2k: f64,
    blow_w_m2k: f64,
    pressures: Pressures,
    layers: Vec<Layer>,
    more: MoreDie,
}

impl DieValues {
    /// As dies of the plan; `None` when the metal was refused.
    pub fn dies(&self) -> Option<Dies> {
        let die = |bulk_c| {
            Some(Die {
                bulk_c,
                preheat_c: self.more.preheat_c.unwrap_or(bulk_c),
                metal: self.metal.clone()?,
                depth_m: self.depth_mm * 1e-3,
                block: self.more.block.at(bulk_c),
                fixed: self.fixed,
            })
        };
        let through = |bare| interface::through(bare, &self.layers);
        Some(Dies {
            upper: die(self.upper_c)?,
            lower: die(self.lower_c)?,
            resting_w_m2k: through(self.resting_w_m2k),
            pressed_w_m2k: through(self.pressed_w_m2k),
            blow_w_m2k: through(self.blow_w_m2k),
            flash_w_m2k: through(self.more.flash_w_m2k),
            wall_w_m2k: through(self.more.wall_w_m2k.unwrap_or(self.blow_w_m2k)),
            gap_w_m2k: self.more.gap_w_m2k,
            friction_factor: self.more.friction_factor,
            spray: self.more.spray,
            blow_off: self.more.blow_off,
            tempering_c: self.more.tempering_c,
        })
    }
}

/// Jaws with everything known but the end and perhaps the length.
#[derive(Debug, Clone)]
pub(crate) struct GripValues {
    pub length_mm: Option<f64>,
    pub jaw_c: f64,
    pub w_m2k: f64,
    pub share: f64,
    pub depth_mm: f64,
    pub back: Behind,
    pub metal: Option<Metal>,
}

/// A support; pose and share depend on the stage.
#[derive(Debug, Clone)]
pub(crate) struct SupportValues {
    pub pose: Option<Pose>,
    pub share: Option<f64>,
    pub bulk_c: f64,
    pub w_m2k: f64,
    pub depth_mm: f64,
    pub back: Behind,
    pub metal: Option<Metal>,
}

/// What stages start from.
pub(crate) struct Tools {
    pub die: DieValues,
    pub grip: GripValues,
    pub support: SupportValues,
}

/// Which tools some stage has: dies, grips, supports.
fn used(raw: &RawFile) -> (bool, bool, bool) {
    let uses = |kinds: &[&str]| {
        let mut given = raw
            .stage
            .items()
            .iter()
            .filter_map(|stage| stage.get_ref().kind.value());
        given.any(|kind| kinds.contains(&kind.as_str()))
    };
    let grips = raw.stage.items().iter().any(|stage| stage.get_ref().grip.is_some());
    let stands = raw.stage.items().iter().any(|stage| stage.get_ref().support.is_some());
    (uses(&["forge", "trim"]), grips, uses(&["rest"]) || stands)
}

/// Whether some stage grips the part.
pub(crate) fn gripped(raw: &RawFile) -> bool {
    used(raw).1
}

/// Whether some stage has tools.
pub(crate) fn any(raw: &RawFile) -> bool {
    used(raw) != (false, false, false)
}

/// The defaults of the file. Only what some stage uses is recorded as an input.
pub(crate) fn defaults(check: &mut Check, raw: &RawFile) -> Tools {
    let used = used(raw);
    let die = kept(check, used.0 || raw.die.is_some(), |check| die(check, raw, used));
    let grip = kept(check, used.1 || raw.grip.is_some(), |check| {
        grip(check, &raw.grip, die.metal.clone())
    });
    let support = kept(check, used.2 || raw.support.is_some(), |check| {
        support(check, &raw.support, die.metal.clone())
    });
    Tools { die, grip, support }
}

/// Runs a check, dropping the inputs it recorded when nothing uses them.
fn kept<T>(check: &mut Check, used: bool, make: impl FnOnce(&mut Check) -> T) -> T {
    let before = check.inputs.len();
    let made = make(check);
    if !used {
        check.inputs.truncate(before);
    }
    made
}

fn die(check: &mut Check, file: &RawFile, used: (bool, bool, bool)) -> DieValues {
    let empty = RawDie::default();
    let raw = file.die.value().unwrap_or(&empty);
    let base = "die";
    let metal = match raw.steel.as_ref() {
        Some(steel) => metal(check, base, steel.get_ref(), steel.span()),
        None if used == (false, false, false) => None,
        None => {
            let found = check
                .metals
                .find(&SteelRef::Named(DIE_STEEL.to_owned()), check.source, 0..0);
            match found {
                Ok(metal) => {
                    let reason = "a common hot-work die steel";
                    check.record_word(base, "steel", DIE_STEEL, Owner::Default, reason.into());
                    Some(metal)
                }
                Err(error) => {
                    refused(check, error, 0..0);
                    None
                }
            }
        }
    };
    let more = more_die::defaults(check, base, raw, metal.as_ref());
    let pressures = pressure::defaults(check, base, raw, file);
    let bulk_c = check.or_default(base, &raw.bulk_c);
    let upper_c = check.or_follow(base, &raw.upper_c, bulk_c);
    let lower_c = check.or_follow(base, &raw.lower_c, bulk_c);
    DieValues {
        upper_c,
        lower_c,
        metal,
        depth_mm: check.or_default(base, &raw.depth_mm),
        fixed: flag(check, base, &raw.fixed),
        resting_w_m2k: check.or_default(base, &raw.resting_w_m2k),
        pressed_w_m2k: interface::pressed(check, base, raw, &pressures, None),
        blow_w_m2k: interface::blow(check, base, raw, &pressures, None, file.scale.is_some()),
        pressures,
        layers: interface::layers(check, base, raw, &[]),
        more,
    }
}

fn flag(check: &mut Check, base: &str, given: &Given<bool>) -> bool {
    let word = |value: bool| if value { "true" } else { "false" };
    match given.as_ref() {
        Some(at) => check.record_given(base, given.key.name, word(*at.get_ref()), at.span()),
        None => {
            let reason = "dies warm up under the part";
            check.record_word(base, given.key.name, word(false), Owner::Default, reason.into());
        }
    }
    given.value().copied().unwrap_or(false)
}

fn grip(check: &mut Check, raw: &Given<RawGrip>, die_metal: Option<Metal>) -> GripValues {
    let empty = RawGrip::default();
    let base = "grip";
    let raw = raw.value().unwrap_or(&empty);
    let hint = "say the end in the grip of the stage";
    check.only(raw, "all", "for all grips at once", |_| hint.to_owned());
    let metal = own_metal(check, base, &raw.steel, die_metal);
    let values = GripValues {
        length_mm: check.number(base, &raw.length_mm),
        jaw_c: check.or_default(base, &raw.jaw_c),
        w_m2k: pressure::jaws(check, base, raw, None),
        share: check.or_default(base, &raw.share),
        depth_mm: check.or_default(base, &raw.depth_mm),
        back: check.word(base, &raw.back).unwrap_or_default(),
        metal,
    };
    record_metal(check, base, &raw.steel, &values.metal);
    values
}

fn support(check: &mut Check, raw: &Given<RawSupport>, die_metal: Option<Metal>) -> SupportValues {
    let empty = RawSupport::default();
    let raw = raw.value().unwrap_or(&empty);
    let base = "support";
    let metal = own_metal(check, base, &raw.steel, die_metal);
    let values = SupportValues {
        pose: check.word(base, &raw.pose),
        share: check.number(base, &raw.share),
        bulk_c: check.or_default(base, &raw.bulk_c),
        w_m2k: check.or_default(base, &raw.w_m2k),
        depth_mm: check.or_default(base, &raw.depth_mm),
        back: check.word(base, &raw.back).unwrap_or_default(),
        metal,
    };
    record_metal(check, base, &raw.steel, &values.metal);
    values
}

fn own_metal(check: &mut Check, base: &str, raw: &Given<SteelRef>, otherwise: Option<Metal>) -> Option<Metal> {
    match raw.as_ref() {
        Some(steel) => metal(check, base, steel.get_ref(), steel.span()),
        None => otherwise,
    }
}

/// Records that jaws or supports are of the steel of the dies, where they have none of their own.
fn record_metal(check: &mut Check, base: &str, raw: &Given<SteelRef>, metal: &Option<Metal>) {
    if let (None, Some(metal)) = (raw.as_ref(), metal) {
        check.record_word(base, "steel", &metal.name, Owner::Default, "that of the dies".into());
        check.follows();
    }
}

/// The dies of a stage.
pub(crate) fn stage_dies(check: &mut Check, base: &str, raw: &Given<RawDie>, all: &DieValues) -> DieValues {
    let Some(raw) = raw.value() else {
        return all.clone();
    };
    let bulk_c = check.number(base, &raw.bulk_c);
    let (upper_c, lower_c) = (bulk_c.unwrap_or(all.upper_c), bulk_c.unwrap_or(all.lower_c));
    let metal = own_metal(check, base, &raw.steel, all.metal.clone());
    let more = more_die::of_stage(check, base, raw, &all.more, metal.as_ref());
    let pressures = pressure::of_stage(check, base, raw, &all.pressures);
    DieValues {
        upper_c: own(check, base, &raw.upper_c, upper_c),
        lower_c: own(check, base, &raw.lower_c, lower_c),
        metal,
        depth_mm: own(check, base, &raw.depth_mm, all.depth_mm),
        fixed: match raw.fixed.is_some() {
            true => flag(check, base, &raw.fixed),
            false => all.fixed,
        },
        resting_w_m2k: own(check, base, &raw.resting_w_m2k, all.resting_w_m2k),
        pressed_w_m2k: interface::pressed(check, base, raw, &pressures, Some(all.pressed_w_m2k)),
        blow_w_m2k: interface::blow(check, base, raw, &pressures, Some(all.blow_w_m2k), false),
        pressures,
        layers: interface::layers(check, base, raw, &all.layers),
        more,
    }
}

/// The jaws of a stage.
pub(crate) fn stage_grip(check: &mut Check, base: &str, raw: &RawGrip, all: &GripValues) -> GripValues {
    GripValues {
        length_mm: check.number(base, &raw.length_mm).or(all.length_mm),
        jaw_c: own(check, base, &raw.jaw_c, all.jaw_c),
        w_m2k: pressure::jaws(check, base, raw, Some(all.w_m2k)),
        share: own(check, base, &raw.share, all.share),
        depth_mm: own(check, base, &raw.depth_mm, all.depth_mm),
        back: check.word(base, &raw.back).unwrap_or(all.back),
        metal: own_metal(check, base, &raw.steel, all.metal.clone()),
    }
}

/// The support of a stage.
pub(crate) fn stage_support(
    check: &mut Check,
    base: &str,
    raw: &Given<RawSupport>,
    all: &SupportValues,
) -> SupportValues {
    let Some(raw) = raw.value() else {
        return all.clone();
    };
    SupportValues {
        pose: check.word(base, &raw.pose).or(all.pose),
        share: check.number(base, &raw.share).or(all.share),
        bulk_c: own(check, base, &raw.bulk_c, all.bulk_c),
        w_m2k: own(check, base, &raw.w_m2k, all.w_m2k),
        depth_mm: own(check, base, &raw.depth_mm, all.depth_mm),
        back: check.word(base, &raw.back).unwrap_or(all.back),
        metal: own_metal(check, base, &raw.steel, all.metal.clone()),
    }
}
