//! Dies, jaws and supports behind the part's faces, as sets of columns.

use std::sync::Arc;

use super::part::Part;
use super::{RunError, Runner};
use crate::body::mesh::is_zone;
use crate::body::{Axis, AxisKind, Block, Layout, Mesh, Shape, Skin};
use crate::conduction::{Columns, Contact, DeepEnd, Exchange};
use crate::die::{Across, DieBlock, Faces, Ground, Strip, merged};
use crate::line::plan::{Die, Gripper, Pose, RingTouch, Surroundings};
use crate::line::trace::DieRecord;
use crate::steel::{Steel, ThermalTable};

/// Zone whose faces take the coefficient of the flash land.
pub(super) const FLASH: &str = "flash";

/// A tool of the present stage.
pub(super) struct Tool {
    /// Index of its columns in the solver.
    pub set: usize,
    /// Name in the ledger and the die record.
    pub name: &'static str,
    /// Skins that it may touch.
    pub skins: Vec<Skin>,
    /// Faces it may touch, one per column.
    pub faces: Vec<usize>,
    /// Share of each face.
    pub share: f64,
    /// Share of that which each face takes, where the tool covers some in part; empty where it covers all.
    pub taken: Vec<f64>,
    /// Extent of each face across the tool, for carrying columns over when the part changes shape.
    pub spans: Vec<(f64, f64)>,
    /// The face as a whole, where the tool is kept from part to part.
    pub ground: Option<Ground>,
    /// Time up to which `ground` has been followed, s.
    pub settled_s: f64,
    /// Law of open faces.
    pub air: Exchange,
    /// Whether it is jaws, and of which gripper.
    pub jaws: Option<Option<String>>,
    /// Faces when the part came.
    pub before: Faces,
    /// Hottest face since, degC.
    pub peak_c: f64,
}

/// What a tool is made of.
pub(super) struct Body<'a> {
    pub metal: &'a Arc<Steel>,
    pub depth_m: f64,
    /// Temperature through the depth when a part arrives in steady work, degC.
    pub bulk_c: f64,
    /// Temperature through the depth before the first part of a shift.
    pub cold_c: f64,
    /// The face is held at `bulk_c`.
    pub fixed: bool,
    /// What is behind the depth for a single part.
    pub back: DeepEnd,
    /// The block of a die, which can be preheated.
    pub die: Option<&'a DieBlock>,
    /// Jaws: kept from grip to grip.
    pub jaws: Option<Jaws<'a>>,
}

/// Jaws as a body of their own.
#[derive(Clone, Copy)]
pub(super) struct Jaws<'a> {
    /// The gripper that they belong to.
    pub gripper: Option<&'a Gripper>,
    /// Kept although they belong to no gripper: they close more than once in the stage.
    pub again: bool,
    /// Where they hold along the axis of the part, m.
    pub reach: (f64, f64),
}

impl<'a> Body<'a> {
    pub fn of_die(die: &'a Die) -> Body<'a> {
        Body {
            metal: &die.metal,
            depth_m: die.depth_m,
            bulk_c: die.bulk_c,
            cold_c: die.preheat_c,
            fixed: die.fixed,
            back: DeepEnd::Fixed(die.bulk_c),
            die: Some(&die.block),
            jaws: None,
        }
    }
}

/// Rings whose lower faces are no farther apart than this, m, lie on one plane.
const FLAT_M: f64 = 1e-4;

/// How a tool touches the part.
#[derive(Clone, Copy)]
pub(super) struct Press<'a> {
    /// Coefficient, W/m²K.
    pub coefficient: f64,
    /// Coefficient at faces of the flash, W/m²K.
    pub flash: f64,
    /// Coefficient where there is a gap, W/m²K.
    pub gap: f64,
    /// What each ring touches; empty when all touch.
    pub rings: &'a [RingTouch],
}

impl Press<'_> {
    /// The same coefficient everywhere.
    pub fn even(coefficient: f64) -> Press<'static> {
        Press {
            coefficient,
            flash: coefficient,
            gap: coefficient,
            rings: &[],
        }
    }
}

impl Runner<'_> {
    /// Adds a tool behind the given skins, not yet in contact. `later` is the shape that the part
    /// will have in it.
    pub(super) fn add_tool(
        &mut self,
        name: &'static str,
        skins: &[Skin],
        share: f64,
        body: &Body<'_>,
        surroundings: &Surroundings,
        later: Option<&Shape>,
    ) -> Result<Tool, RunError> {
        let faces = self.part.faces_of(skins);
        let taken: Vec<f64> = body.jaws.map_or(Vec::new(), |jaws| {
            let of = self.part.mesh.grid.faces();
            let share = |f: &usize| self.part.mesh.covered_length(&of[*f], jaws.reach);
            faces.iter().map(share).collect()
        });
        let gripper = body.jaws.and_then(|jaws| jaws.gripper);
        let start_c = self.start_of(body);
        let mut columns = self.columns(name, faces.len(), body, start_c)?;
        let air = self.air_on(body, surroundings);
        columns.set_open(Some(air.clone()));
        let areas = self.areas(&faces, share, &taken);
        columns.set_contacts(&vec![None; faces.len()], &areas);
        let mut spans = self.part.spans(&faces);
        if let Some(jaws) = body.jaws {
            spans = along_jaws(&spans, jaws.reach);
        }
        let kept = self.tooling.keep || body.jaws.is_some_and(|jaws| jaws.again || jaws.gripper.is_some());
        let ground = if kept && !body.fixed && !faces.is_empty() {
            let taken = match gripper {
                Some(gripper) => self.tooling.take_jaws(&gripper.name),
                None => self.tooling.take(self.plan_stage(), name),
            };
            let ground = match taken {
                Some(kept) => kept
                    .rested(self.part.solver.time_s(), self.step_k())
                    .map_err(|source| RunError::Solve {
                        stage: self.recorder.stage_name().to_owned(),
                        source,
                    })?,
                None => {
                    let whole = match later {
                        Some(shape) => merged(&spans, &self.part.spans_in(shape, skins)?),
                        None => spans.clone(),
                    };
                    let width: f64 = spans.iter().map(|s| s.1 - s.0).sum();
                    let ground = Ground::new(&columns, whole, areas.iter().sum::<f64>() / width);
                    match body.jaws {
                        Some(_) => ground,
                        None => {
                            let alone = DieBlock::with_back(body.back);
                            let across = across(&self.part.mesh, &faces, self.part.shape.as_ref());
                            ground.within(body.die.unwrap_or(&alone), &across, &air)
                        }
                    }
                }
            };
            ground.lend(&spans, &mut columns);
            Some(ground)
        } else {
            None
        };
        let set = self.part.solver.add_columns(columns);
        let before = match &ground {
            Some(ground) => ground.faces(),
            None => Faces {
                mean_c: start_c,
                hottest_c: start_c,
                coldest_c: start_c,
            },
        };
        self.recorder.open_die(DieRecord {
            stage: self.recorder.stage(),
            body: name.to_owned(),
            face_start_c: before.mean_c,
            face_peak_c: before.hottest_c,
            face_end_c: before.mean_c,
            heat_kj: 0.0,
            friction_kj: 0.0,
        });
        Ok(Tool {
            set,
            name,
            skins: skins.to_vec(),
            faces,
            share,
            taken,
            spans,
            ground,
            settled_s: self.part.solver.time_s(),
            air,
            jaws: body.jaws.map(|jaws| jaws.gripper.map(|gripper| gripper.name.clone())),
            before,
            peak_c: before.hottest_c,
        })
    }

    /// Temperature with which a tool starts, degC.
    fn start_of(&self, body: &Body<'_>) -> f64 {
        match (self.tooling.cold, self.tooling.preheat_c) {
            (true, Some(preheat_c)) if body.die.is_some() => preheat_c,
            (true, _) => body.cold_c,
            (false, _) => body.bulk_c,
        }
    }

    /// Columns behind `count` faces that a tool touches, all at its start temperature.
    fn columns(
        &mut self,
        name: &'static str,
        count: usize,
        body: &Body<'_>,
        start_c: f64,
    ) -> Result<Columns, RunError> {
        let account = self.part.solver.account(name);
        let deep = match body.jaws.and_then(|jaws| jaws.gripper) {
            Some(_) => DeepEnd::Insulated,
            None => body.back,
        };
        if body.fixed {
            // One thin cell of a body that conducts without resistance, held at its far end.
            let depth = self.depth_axis(1e-3, 1)?;
            let medium = Arc::new(ThermalTable::constant(1e7, 500.0, 8000.0));
            return Ok(Columns::new(medium, &depth, count, body.bulk_c, deep, account));
        }
        let depth = self.depth_axis(body.depth_m, 0)?;
        Ok(Columns::new(
            body.metal.thermal(),
            &depth,
            count,
            start_c,
            deep,
            account,
        ))
    }

    /// What open faces of a tool exchange with its surroundings.
    fn air_on(&self, body: &Body<'_>, surroundings: &Surroundings) -> Exchange {
        if let Some(gripper) = body.jaws.and_then(|jaws| jaws.gripper) {
            // Open jaws cool as a whole: the film that gives them their time constant.
            let medium = body.metal.thermal();
            let heat = medium.heating.at(medium.heating.enthalpy(body.bulk_c)).dtemp_dh;
            let film = medium.density * body.depth_m / heat / gripper.cooling_s;
            return Exchange::film(film, surroundings.ambient_c);
        }
        let emissivity = surroundings
            .emissivity
            .unwrap_or_else(|| body.metal.emissivity.at(body.bulk_c));
        Exchange::air(self.plan.tool_film_w_m2k, emissivity, surroundings.ambient_c)
    }

    /// Area of each face that a tool may touch, m².
    fn areas(&self, faces: &[usize], share: f64, taken: &[f64]) -> Vec<f64> {
        let of = self.part.mesh.grid.faces();
        let taken = taken.iter().copied().chain(std::iter::repeat(1.0));
        let whole = faces.iter().map(|f| of[*f].area * share);
        whole
            .zip(taken)
            .map(|(area, taken)| (area * taken).max(1e-12))
            .collect()
    }

    /// Leaves to the air what a tool does not take of each face.
    pub(super) fn expose(&mut self, covered: impl Iterator<Item = (usize, f64)>) {
        let mut exposed = vec![1.0; self.part.mesh.grid.faces().len()];
        for (face, share) in covered {
            exposed[face] -= share;
        }
        self.part.solver.set_exposed(exposed);
    }

    /// Closes or opens the contact of a tool. `upper` tells which way it looks.
    pub(super) fn touch(&mut self, tool: &Tool, press: Option<&Press<'_>>, upper: bool) {
        let areas = self.areas(&tool.faces, tool.share, &tool.taken);
        let part = &self.part;
        let flash: Vec<bool> = part.mesh.zones.iter().map(|z| is_zone(z, FLASH)).collect();
        let rings = press.filter(|p| !p.rings.is_empty()).map(|_| part.ring_of_cells());
        let contacts: Vec<Option<Contact>> = tool
            .faces
            .iter()
            .zip(&areas)
            .map(|(face, area)| {
                let press = press?;
                let at = &part.mesh.grid.faces()[*face];
                let (cell, group) = (at.cell, at.group);
                let ring = rings.as_ref().and_then(|r| r[cell]);
                let touch = ring.and_then(|r| press.rings.get(r)).copied();
                let meets = touch.unwrap_or_default().meets(upper);
                let coefficient = if !meets {
                    press.gap
                } else if flash.get(part.mesh.zone[cell] as usize) == Some(&true) {
                    self.through_scale(press.flash, group)
                } else {
                    self.through_scale(press.coefficient, group)
                };
                Some(Contact {
                    face: *face,
                    area: *area,
                    coefficient,
                })
            })
            .collect();
        self.part.solver.columns_mut(tool.set).set_contacts(&contacts, &areas);
    }

    /// Closes the contact of a tool over a ring of radii \[m\] only; the rest of its faces is left to the air.
    pub(super) fn touch_ring(&mut self, tool: &Tool, coefficient: f64, (inner, outer): (f64, f64)) {
        let grid = &self.part.mesh.grid;
        let axis = &grid.axes()[1];
        let whole = self.areas(&tool.faces, tool.share, &tool.taken);
        let shares: Vec<f64> = tool
            .faces
            .iter()
            .map(|face| {
                let j = grid.position(grid.faces()[*face].cell)[1];
                let (a, b) = (axis.faces()[j], axis.faces()[j + 1]);
                let (low, high) = (a.max(inner), b.min(outer));
                ((high * high - low * low) / (b * b - a * a)).max(0.0) * f64::from(u8::from(high > low))
            })
            .collect();
        let coefficient = match tool.faces.first() {
            Some(face) => self.through_scale(coefficient, grid.faces()[*face].group),
            None => coefficient,
        };
        let areas: Vec<f64> = whole
            .iter()
            .zip(&shares)
            .map(|(area, s)| (area * s).max(1e-12))
            .collect();
        let contacts: Vec<Option<Contact>> = tool
            .faces
            .iter()
            .zip(areas.iter().zip(&shares))
            .map(|(face, (area, share))| {
                (*share > 0.0).then_some(Contact {
                    face: *face,
                    area: *area,
                    coefficient,
                })
            })
            .collect();
        self.part.solver.columns_mut(tool.set).set_contacts(&contacts, &areas);
        self.expose(tool.faces.iter().copied().zip(shares));
    }

    /// Closes the contact of a flat support at the lowest rings of a stepped part and leaves its other
    /// faces to the air. `false`, with nothing done, where the part is flat below.
    pub(super) fn touch_lowest(&mut self, tool: &Tool, coefficient: f64) -> bool {
        let part = &self.part;
        let Some(shape) = &part.shape else { return false };
        let lowest = shape.rings.iter().map(|r| r.bottom_m).fold(f64::INFINITY, f64::min);
        let rings = part.ring_of_cells();
        let faces = part.mesh.grid.faces();
        let low: Vec<bool> = tool
            .faces
            .iter()
            .map(|face| rings[faces[*face].cell].is_none_or(|ring| shape.rings[ring].bottom_m < lowest + FLAT_M))
            .collect();
        if low.iter().all(|low| *low) {
            return false;
        }
        let areas = self.areas(&tool.faces, tool.share, &tool.taken);
        let contacts: Vec<Option<Contact>> = (tool.faces.iter().zip(&areas).zip(&low))
            .map(|((face, area), low)| {
                low.then(|| Contact {
                    face: *face,
                    area: *area,
                    coefficient: self.through_scale(coefficient, faces[*face].group),
                })
            })
            .collect();
        self.part.solver.columns_mut(tool.set).set_contacts(&contacts, &areas);
        let covered = tool.faces.iter().zip(low).filter(|(_, low)| *low);
        self.expose(covered.map(|(face, _)| (*face, tool.share)));
        true
    }

    /// Notes the face temperature of a tool.
    pub(super) fn note_tool(&mut self, tool: &mut Tool) {
        if let Some((mean, peak)) = self.part.solver.tool_faces(tool.set) {
            tool.peak_c = tool.peak_c.max(peak);
            self.recorder.note_die(tool.name, mean, peak);
        }
    }

    /// Puts the tools back behind a part that has changed shape. Columns stay where they are in
    /// the tool: a new column is the overlap-weighted mean of the old ones, and material of the
    /// tool that was not touched before comes from the tool as a whole.
    pub(super) fn carry_tools(&mut self, tools: &mut [&mut Tool], old: Vec<Columns>) -> Result<(), RunError> {
        for tool in tools.iter_mut() {
            let seconds = self.settle(tool)?;
            let columns = &old[tool.set];
            let faces = self.part.faces_of(&tool.skins);
            let spans = self.part.spans(&faces);
            let account = self.part.solver.account(tool.name);
            let mut new = columns.resized(faces.len(), account);
            match &mut tool.ground {
                Some(ground) => {
                    ground.take_back(&tool.spans, columns);
                    let spread = ground.spread(seconds, self.part.solver.tolerance().step_k);
                    spread.map_err(|source| self.in_stage(source))?;
                    ground.lend(&spans, &mut new);
                }
                None => Ground::over(columns.clone(), tool.spans.clone()).lend(&spans, &mut new),
            }
            let areas = self.areas(&faces, tool.share, &[]);
            new.set_contacts(&vec![None; faces.len()], &areas);
            tool.faces = faces;
            tool.spans = spans;
            tool.set = self.part.solver.add_columns(new);
        }
        Ok(())
    }

    /// Cells from a contact face into a tool; `cells` fixes their number (0 grades them).
    fn depth_axis(&self, depth_m: f64, cells: usize) -> Result<Axis, RunError> {
        let fine = &self.part.fine;
        let axis = if cells > 0 {
            Axis::uniform(AxisKind::Linear, 0.0, depth_m, cells)
        } else {
            let first = Some(fine.contact_m.min(0.1 * depth_m));
            Axis::graded(AxisKind::Linear, 0.0, depth_m, first, None, fine.growth, 0.2 * depth_m)
        };
        axis.map_err(|source| RunError::Mesh {
            stage: self.recorder.stage_name().to_owned(),
            source,
        })
    }
}

/// Places along the jaws themselves, from where they begin to where they end on the part, so that the same
/// jaws can close elsewhere on it.
fn along_jaws(spans: &[(f64, f64)], (low, high): (f64, f64)) -> Vec<(f64, f64)> {
    let place = |z: f64| ((z - low) / (high - low)).clamp(0.0, 1.0);
    spans.iter().map(|(a, b)| (place(*a), place(*b))).collect()
}

/// Distance that keeps the walls of different rings apart on the one line of spans, m.
const WALL_APART_M: f64 = 100.0;

/// Skins that meet a lower and an upper tool in a pose. The two faces of a plate are one skin,
/// which both tools share.
pub(super) fn facing(pose: Pose, layout: Layout) -> (Vec<Skin>, Vec<Skin>) {
    let side = || vec![Skin::Side, Skin::GripLow, Skin::GripHigh];
    match pose {
        _ if layout == Layout::Strips => (vec![Skin::Bottom], vec![Skin::Top]),
        Pose::Standing if layout != Layout::Plate => (vec![Skin::Bottom], vec![Skin::Top]),
        _ => (side(), side()),
    }
}

impl Part {
    /// Indices of the faces of some skins.
    pub fn faces_of(&self, skins: &[Skin]) -> Vec<usize> {
        faces_of(&self.mesh, skins)
    }

    /// Extent of each face across the tool.
    fn spans(&self, faces: &[usize]) -> Vec<(f64, f64)> {
        spans(&self.mesh, faces, self.shape.as_ref())
    }

    /// Extents that faces of some skins will have in another shape.
    fn spans_in(&self, shape: &Shape, skins: &[Skin]) -> Result<Vec<(f64, f64)>, RunError> {
        let mesh = Mesh::of_shape(shape, &self.fine, self.touched).map_err(|source| RunError::Mesh {
            stage: String::new(),
            source,
        })?;
        let faces = faces_of(&mesh, skins);
        Ok(spans(&mesh, &faces, Some(shape)))
    }
}

fn faces_of(mesh: &Mesh, skins: &[Skin]) -> Vec<usize> {
    let faces = mesh.grid.faces();
    (0..faces.len())
        .filter(|f| skins.iter().any(|s| *s as usize == faces[*f].group))
        .collect()
}

/// Extent of each face across the tool: squared radii for faces along the axis, lengths for side
/// faces, so that overlaps are proportional to area. Walls of different rings lie apart.
fn spans(mesh: &Mesh, faces: &[usize], shape: Option<&Shape>) -> Vec<(f64, f64)> {
    let place = |f: &usize| {
        let (radial, strip, (a, b)) = place(mesh, *f, shape);
        if radial {
            return (a * a, b * b);
        }
        // Sections lie apart, and their lengths along the part make areas of widths.
        (strip.offset + a * strip.length_m, strip.offset + b * strip.length_m)
    };
    faces.iter().map(place).collect()
}

/// Which way heat spreads beside some faces.
fn across(mesh: &Mesh, faces: &[usize], shape: Option<&Shape>) -> Across {
    let mut strips: Vec<Strip> = Vec::new();
    for f in faces {
        let (radial, strip, _) = place(mesh, *f, shape);
        if radial {
            return Across::Disc;
        }
        let of_walls = mesh.grid.faces()[*f].group == Skin::Wall as usize;
        if !of_walls && mesh.layout != Layout::Strips {
            return Across::Along;
        }
        if !strips.iter().any(|known| known.offset == strip.offset) {
            strips.push(strip);
        }
    }
    strips.sort_by(|a, b| a.offset.total_cmp(&b.offset));
    Across::Strips(strips)
}

/// Whether a face lies along a radius, on which strip it lies otherwise, and from where to where across it.
fn place(mesh: &Mesh, face: usize, shape: Option<&Shape>) -> (bool, Strip, (f64, f64)) {
    let grid = &mesh.grid;
    let face = &grid.faces()[face];
    let at = grid.local(face.cell);
    let axes = grid.axes_of(face.cell);
    let other = if face.axis == 0 { axes.len() - 1 } else { 0 };
    let axis = &axes[other];
    let section = grid.block_of(face.cell);
    let block = grid.blocks().get(section);
    let wall = match shape {
        Some(shape) if face.group == Skin::Wall as usize => {
            let ring = shape.ring_at(section, grid.middle(face.cell, 0), grid.middle(face.cell, 1));
            2 * ring.unwrap_or(0) + usize::from(face.side == crate::body::Side::High)
        }
        _ => section,
    };
    let strip = Strip {
        offset: WALL_APART_M * wall as f64,
        length_m: block.map_or(1.0, Block::depth_m),
        symmetric: block.is_some_and(|block| block.symmetric) && face.group != Skin::Wall as usize,
    };
    let reach = (axis.faces()[at[other]], axis.faces()[at[other] + 1]);
    (axis.kind() == AxisKind::Radial, strip, reach)
}
