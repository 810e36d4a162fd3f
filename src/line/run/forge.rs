//! Impressions and trimming: contact, lying, shape change and the heat of forming.

use super::handover::share_of_one;
use super::tools::{Body, Press, Tool, facing};
use super::{RunError, Runner};
use crate::body::{Shape, Skin};
use crate::judge::Moment;
use crate::line::plan::{Between, Dies, Forge, KnockOut, Pose, RingTouch, Surroundings, Trim};

/// How the part meets the dies.
#[derive(Clone, Copy, PartialEq)]
enum Touch {
    /// Clear of both.
    Off,
    /// On the lower die under its own weight.
    Lying,
    /// On the lower die, pressed on by the gripper or sticking.
    Pressed,
    /// Between both, the upper one down.
    Closed,
    /// Under a blow or stroke.
    Blow,
}

/// The dies of a stage: lower, upper, and the walls once the cavity is filled.
struct Pair<'a> {
    lower: Tool,
    upper: Tool,
    walls: Option<Tool>,
    knock_out: Option<Tool>,
    dies: &'a Dies,
    rings: &'a [RingTouch],
    pose: Pose,
    share: f64,
}

impl Pair<'_> {
    fn tools(&mut self) -> Vec<&mut Tool> {
        let mut tools = vec![&mut self.lower, &mut self.upper];
        tools.extend(self.walls.as_mut());
        tools.extend(self.knock_out.as_mut());
        tools
    }
}

impl Runner<'_> {
    /// Runs the blows of one impression.
    pub(super) fn forge(&mut self, index: usize, forge: &Forge) -> Result<(), RunError> {
        let surroundings = self.plan.stages[index].surroundings;
        let start = self.part.solver.time_s();
        self.part.pose = forge.pose;
        let was_long = self.part.shape.as_ref().is_some_and(Shape::is_long);
        let from_bar = !was_long && forge.shape.as_ref().is_some_and(Shape::is_long);
        let first = self.part.shape.clone();
        let before = start + forge.lying_before_s;
        let held = (forge.pose, forge.share);
        let mut pair = if from_bar {
            self.lie_as_bar(forge, &surroundings, before)?;
            self.open_sections(forge, &surroundings)?
        } else {
            let later = forge.shape.as_ref();
            let mut pair = self.dies(&forge.dies, &forge.ring_touch, held, &surroundings, later)?;
            // The rings of the new shape do not exist yet: all of the lower face lies on the die.
            let rings = std::mem::take(&mut pair.rings);
            self.phase(&mut pair, &surroundings, Touch::Lying, "lying before", before)?;
            pair.rings = rings;
            pair
        };
        for blow in 0..forge.blows {
            let at = start + forge.blow_start_s(blow);
            let opened = from_bar && blow == 0;
            if !opened {
                self.before_blow(blow + 1);
            }
            let filled = forge.fills_at_blow.is_some_and(|n| blow + 1 >= n);
            let shape = match (&first, &forge.shape) {
                (Some(from), Some(to)) if !opened => Some(after_blow(from, to, forge, blow + 1)),
                _ => None,
            };
            let struck = shape.as_ref().map(|_| self.part.mesh.grid.clone());
            if shape.is_some() || (filled && pair.walls.is_none()) {
                self.strike_shape(&mut pair, shape.as_ref(), filled, &surroundings)?;
            }
            let friction_j = match (&forge.friction, &struck) {
                (Some(friction), Some(before)) => self.friction_heat(
                    forge,
                    blow,
                    friction,
                    before,
                    [(&pair.lower, false), (&pair.upper, true)],
                )?,
                _ => 0.0,
            };
            self.forming_heat(forge, blow, friction_j)?;
            let end = at + forge.contact_s;
            self.phase(&mut pair, &surroundings, Touch::Blow, "blow", end)?;
            self.part.solver.clear_source();
            for tool in pair.tools() {
                let columns = self.part.solver.columns_mut(tool.set);
                columns.set_source(&vec![0.0; columns.count()]);
            }
            if blow + 1 < forge.blows {
                let next = start + forge.blow_start_s(blow + 1);
                let off = (end + forge.rebound_s).min(next);
                self.phase(&mut pair, &surroundings, Touch::Off, "rebound", off)?;
                let on = (off + forge.pressed_s).min(next);
                self.phase(&mut pair, &surroundings, Touch::Pressed, "pressed on", on)?;
                let (touch, word) = match forge.between {
                    Between::Lying => (Touch::Lying, "lying between"),
                    Between::Lifted => (Touch::Off, "lifted"),
                    Between::Pressed => (Touch::Closed, "closed"),
                };
                self.phase(&mut pair, &surroundings, touch, word, next)?;
            }
        }
        let whole = start + forge.seconds();
        let end = whole - forge.knock_out.map_or(0.0, |knock_out| knock_out.seconds);
        self.phase(
            &mut pair,
            &surroundings,
            Touch::Pressed,
            "stuck",
            end - forge.lying_after_s,
        )?;
        self.phase(&mut pair, &surroundings, Touch::Lying, "lying after", end)?;
        if let Some(knock_out) = &forge.knock_out {
            self.knock_out(&mut pair, knock_out, &surroundings, whole)?;
        }
        self.leave(pair, &surroundings)
    }

    /// Runs a trimming or piercing stroke.
    pub(super) fn trim(&mut self, index: usize, trim: &Trim) -> Result<(), RunError> {
        let surroundings = self.plan.stages[index].surroundings;
        let start = self.part.solver.time_s();
        self.part.pose = trim.pose;
        let mut pair = self.dies(&trim.dies, &[], (trim.pose, trim.share), &surroundings, None)?;
        let before = start + trim.lying_before_s;
        self.phase(&mut pair, &surroundings, Touch::Lying, "lying before", before)?;
        self.recorder.moment(Moment::Blow(1), &self.part);
        self.note_scale(Moment::Blow(1));
        let title = format!("{}, stroke", self.recorder.stage_name());
        self.recorder.map(&title, &self.part);
        let end = start + trim.lying_before_s + trim.contact_s;
        self.phase(&mut pair, &surroundings, Touch::Blow, "stroke", end)?;
        self.leave(pair, &surroundings)?;
        if !trim.removes.is_empty() {
            self.book();
            let before = self.part.mesh.grid.clone();
            let lost = self.part.remove(&trim.removes).map_err(|source| RunError::Mesh {
                stage: self.recorder.stage_name().to_owned(),
                source,
            })?;
            if let Some(scale) = &mut self.scale {
                scale.cut(&before, &self.part.mesh.grid);
            }
            let account = self
                .part
                .solver
                .account(&format!("removed {}", trim.removes.join(", ")));
            self.part.solver.ledger_mut().add(account, -lost);
            self.part.solver.ledger_mut().add_stored(-lost);
            self.set_air(&surroundings, &super::air::BARE)?;
        }
        Ok(())
    }

    fn dies<'d>(
        &mut self,
        dies: &'d Dies,
        rings: &'d [RingTouch],
        (pose, share): (Pose, f64),
        s: &Surroundings,
        later: Option<&Shape>,
    ) -> Result<Pair<'d>, RunError> {
        let layout = self.part.mesh.layout;
        let (below, above) = facing(pose, layout);
        let share = share_of_one(pose, layout, share);
        let later = later.filter(|_| pose == Pose::Standing);
        let lower = self.add_tool("lower die", &below, share, &Body::of_die(&dies.lower), s, later)?;
        let upper = self.add_tool("upper die", &above, share, &Body::of_die(&dies.upper), s, later)?;
        Ok(Pair {
            lower,
            upper,
            walls: None,
            knock_out: None,
            dies,
            rings,
            pose,
            share,
        })
    }

    /// A round bar lies across the lower die of its first impression as a long part.
    fn lie_as_bar(&mut self, forge: &Forge, s: &Surroundings, until: f64) -> Result<(), RunError> {
        if until - self.part.solver.time_s() < 1e-9 {
            return Ok(());
        }
        self.part.pose = Pose::Lying;
        let (below, _) = facing(Pose::Lying, self.part.mesh.layout);
        let share = share_of_one(Pose::Lying, self.part.mesh.layout, forge.bar_share);
        let body = Body::of_die(&forge.dies.lower);
        let mut tool = self.add_tool("lower die (bar)", &below, share, &body, s, None)?;
        self.touch(&tool, Some(&Press::even(forge.dies.resting_w_m2k)), false);
        self.set_air(s, &super::handover::covered(&below, share))?;
        self.advance("lying before", until)?;
        self.note_tool(&mut tool);
        self.touch(&tool, None, false);
        self.put_back(vec![tool])
    }

    /// The first blow that makes cross-sections of a bar: their faces meet dies of their own.
    fn open_sections<'d>(&mut self, forge: &'d Forge, s: &Surroundings) -> Result<Pair<'d>, RunError> {
        self.before_blow(1);
        self.book();
        if let (Some(from), Some(to)) = (&self.part.shape, &forge.shape) {
            self.reshape(&after_blow(from, to, forge, 1))?;
        }
        self.part.pose = forge.pose;
        let held = (forge.pose, forge.share);
        self.dies(&forge.dies, &forge.ring_touch, held, s, forge.shape.as_ref())
    }

    /// Takes the part to a new shape, its scale with it; the first time without the mass that was scale.
    fn reshape(&mut self, new: &Shape) -> Result<(), RunError> {
        let before = self.part.mesh.grid.clone();
        let kept = 1.0 - std::mem::take(&mut self.scale_loss);
        let heat_j = self.part.solver.total_enthalpy();
        // Volumes agree within the tolerance of the line file; the heights take up the rest, so that no
        // mass is made.
        let fitted = self.part.fitted(new, kept);
        self.part.reshape(&fitted).map_err(|source| RunError::Mesh {
            stage: self.recorder.stage_name().to_owned(),
            source,
        })?;
        if kept < 1.0 {
            let gone = self.part.solver.total_enthalpy() - heat_j;
            let account = self.part.solver.account("scale lost");
            self.part.solver.ledger_mut().add(account, gone);
            self.part.solver.ledger_mut().add_stored(gone);
        }
        if let Some(scale) = &mut self.scale {
            scale.reshaped(&before, &self.part.mesh.grid);
        }
        Ok(())
    }

    /// Notes the moment of a blow, just before it.
    fn before_blow(&mut self, number: u32) {
        self.recorder.moment(Moment::Blow(number), &self.part);
        self.note_scale(Moment::Blow(number));
        if let Some(scale) = &mut self.scale {
            scale.blow();
        }
        let title = format!("{}, blow {number}", self.recorder.stage_name());
        self.recorder.map(&title, &self.part);
    }

    /// Marches to `end` with the given contact; nothing happens when that is now.
    fn phase(
        &mut self,
        pair: &mut Pair<'_>,
        s: &Surroundings,
        touch: Touch,
        word: &'static str,
        end: f64,
    ) -> Result<(), RunError> {
        if end - self.part.solver.time_s() < 1e-9 {
            return Ok(());
        }
        let dies = pair.dies;
        let press = |coefficient, flash| Press {
            coefficient,
            flash,
            gap: dies.gap_w_m2k.min(coefficient),
            rings: pair.rings,
        };
        let even = |coefficient| Some(press(coefficient, coefficient));
        let wall_gap = Some(Press::even(dies.gap_w_m2k));
        let (lower, upper, walls) = match touch {
            Touch::Off => (None, None, None),
            Touch::Lying => (even(dies.resting_w_m2k), None, wall_gap),
            Touch::Pressed => (even(dies.pressed_w_m2k), None, wall_gap),
            Touch::Closed => (even(dies.pressed_w_m2k), even(dies.pressed_w_m2k), wall_gap),
            Touch::Blow => {
                let blow = Some(press(dies.blow_w_m2k, dies.flash_w_m2k));
                (blow, blow, Some(Press::even(dies.wall_w_m2k)))
            }
        };
        self.touch(&pair.lower, lower.as_ref(), false);
        self.touch(&pair.upper, upper.as_ref(), true);
        let mut covered = super::air::BARE;
        for (tool, on) in [(&pair.lower, lower.is_some()), (&pair.upper, upper.is_some())] {
            for skin in &tool.skins {
                covered[*skin as usize] += if on { pair.share } else { 0.0 };
            }
        }
        if let Some(tool) = &pair.walls {
            self.touch(tool, walls.as_ref(), false);
            covered[Skin::Wall as usize] = if walls.is_some() { 1.0 } else { 0.0 };
        }
        debug_assert!(pair.pose == Pose::Standing || covered.iter().all(|c| *c <= 1.0));
        self.set_air(s, &covered)?;
        self.advance(word, end)?;
        for tool in pair.tools() {
            self.note_tool(tool);
        }
        Ok(())
    }

    /// The part is lifted clear of the dies on a pin or ring under its lower face.
    fn knock_out(
        &mut self,
        pair: &mut Pair<'_>,
        knock_out: &KnockOut,
        s: &Surroundings,
        end: f64,
    ) -> Result<(), RunError> {
        if end - self.part.solver.time_s() < 1e-9 {
            return Ok(());
        }
        for tool in pair.tools() {
            self.touch(tool, None, false);
        }
        let body = Body::of_die(&pair.dies.lower);
        let mut tool = self.add_tool("knock-out", &[Skin::Bottom], 1.0, &body, s, None)?;
        self.touch_ring(&tool, knock_out.contact_w_m2k, (knock_out.inner_m, knock_out.outer_m));
        self.set_air(s, &super::air::BARE)?;
        self.advance("knock-out", end)?;
        self.note_tool(&mut tool);
        pair.knock_out = Some(tool);
        Ok(())
    }

    /// The part leaves the dies.
    fn leave(&mut self, mut pair: Pair<'_>, s: &Surroundings) -> Result<(), RunError> {
        // The stage ends with the tools still in place, so that its last temperatures are theirs.
        self.recorder.moment(Moment::End, &self.part);
        for tool in pair.tools() {
            self.touch(tool, None, false);
        }
        self.expose(std::iter::empty());
        let walled = pair.walls.is_some();
        let mut tools = vec![pair.lower, pair.upper];
        tools.extend(pair.walls);
        tools.extend(pair.knock_out);
        self.put_back(tools)?;
        if walled {
            self.part.group(|mesh| mesh.gripped(0.0, 0.0));
        }
        self.set_air(s, &super::air::BARE)
    }

    /// Changes the shape with the dies in place; a filled cavity has walls that touch.
    fn strike_shape(
        &mut self,
        pair: &mut Pair<'_>,
        new: Option<&Shape>,
        filled: bool,
        s: &Surroundings,
    ) -> Result<(), RunError> {
        self.book();
        let columns = self.part.solver.take_columns();
        if let Some(new) = new {
            self.recorder.reshaped();
            self.reshape(new)?;
        }
        let walled = filled && pair.pose == Pose::Standing;
        if walled {
            self.part.group(|mesh| mesh.walled(super::tools::FLASH));
        }
        self.carry_tools(&mut pair.tools(), columns)?;
        if walled && pair.walls.is_none() {
            let body = Body::of_die(&pair.dies.lower);
            pair.walls = Some(self.add_tool("die walls", &[Skin::Wall], 1.0, &body, s, None)?);
        }
        Ok(())
    }
}

/// Shape after the first `count` blows: the final outline, still stretched along the axis so that
/// every blow takes its share of the logarithmic height change. Each section of a long part is
/// stretched by itself.
fn after_blow(from: &Shape, to: &Shape, forge: &Forge, count: u32) -> Shape {
    if count >= forge.blows {
        return to.clone();
    }
    let left = 1.0 - forge.shape_share(count);
    if to.is_long() {
        let mut shape = to.clone();
        for section in 0..to.sections.len() {
            let ratio = from.section_height_m(section) / to.section_height_m(section);
            shape.stretch_section(section, ratio.powf(left));
        }
        return shape;
    }
    let ratio = from.mean_height_m() / to.mean_height_m();
    to.stretched(ratio.powf(left))
}
