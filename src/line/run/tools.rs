//! Tools that touch the part: dies, jaws and supports as sets of columns.

use std::sync::Arc;

use super::part::Part;
use super::{RunError, Runner};
use crate::body::{Axis, AxisKind, Skin};
use crate::conduction::{Columns, Contact, DeepEnd, Exchange};
use crate::line::plan::{Die, Pose, Surroundings};
use crate::line::trace::DieRecord;
use crate::steel::{Steel, ThermalTable};

/// A tool of the present stage.
pub(super) struct Tool {
    /// Index of its columns in the solver.
    pub set: usize,
    /// Name in the ledger and the die record.
    pub name: &'static str,
    /// Faces it may touch, one per column.
    pub faces: Vec<usize>,
    /// Share of each face.
    pub share: f64,
    /// Temperature through the depth at the start, degC.
    pub bulk_c: f64,
    /// Extent of each face across the tool, for carrying columns over when the part changes shape.
    spans: Vec<(f64, f64)>,
}

/// What a tool is made of.
pub(super) struct Body<'a> {
    pub metal: &'a Arc<Steel>,
    pub depth_m: f64,
    pub bulk_c: f64,
    /// The face is held at `bulk_c`.
    pub fixed: bool,
}

impl<'a> Body<'a> {
    pub fn of_die(die: &'a Die) -> Body<'a> {
        Body {
            metal: &die.metal,
            depth_m: die.depth_m,
            bulk_c: die.bulk_c,
            fixed: die.fixed,
        }
    }
}

impl Runner<'_> {
    /// Adds a tool behind the given skins, not yet in contact.
    pub(super) fn add_tool(
        &mut self,
        name: &'static str,
        skins: &[Skin],
        share: f64,
        body: &Body<'_>,
        surroundings: &Surroundings,
    ) -> Result<Tool, RunError> {
        let faces = self.part.faces_of(skins);
        let account = self.part.solver.account(name);
        let mut columns = if body.fixed {
            // One thin cell of a body that conducts without resistance, held at its far end.
            let depth = self.depth_axis(1e-3, 1)?;
            let medium = Arc::new(ThermalTable::constant(1e7, 500.0, 8000.0));
            Columns::new(
                medium,
                &depth,
                faces.len(),
                body.bulk_c,
                DeepEnd::Fixed(body.bulk_c),
                account,
            )
        } else {
            let depth = self.depth_axis(body.depth_m, 0)?;
            let medium = body.metal.thermal();
            Columns::new(
                medium,
                &depth,
                faces.len(),
                body.bulk_c,
                DeepEnd::Fixed(body.bulk_c),
                account,
            )
        };
        let emissivity = surroundings
            .emissivity
            .unwrap_or_else(|| body.metal.emissivity.at(body.bulk_c));
        columns.set_open(Some(Exchange::air(TOOL_FILM, emissivity, surroundings.ambient_c)));
        let areas: Vec<f64> = faces
            .iter()
            .map(|f| (self.part.mesh.grid.faces()[*f].area * share).max(1e-12))
            .collect();
        columns.set_contacts(&vec![None; faces.len()], &areas);
        let set = self.part.solver.add_columns(columns);
        let spans = self.part.spans(&faces);
        self.recorder.open_die(DieRecord {
            stage: self.recorder.stage(),
            body: name.to_owned(),
            face_start_c: body.bulk_c,
            face_peak_c: body.bulk_c,
            face_end_c: body.bulk_c,
            heat_kj: 0.0,
        });
        Ok(Tool {
            set,
            name,
            faces,
            share,
            bulk_c: body.bulk_c,
            spans,
        })
    }

    /// Closes (`Some` coefficient in W/m²K) or opens the contact of a tool.
    pub(super) fn touch(&mut self, tool: &Tool, coefficient: Option<f64>) {
        let faces = self.part.mesh.grid.faces();
        let areas: Vec<f64> = tool
            .faces
            .iter()
            .map(|f| (faces[*f].area * tool.share).max(1e-12))
            .collect();
        let contacts: Vec<Option<Contact>> = tool
            .faces
            .iter()
            .zip(&areas)
            .map(|(face, area)| {
                coefficient.map(|coefficient| Contact {
                    face: *face,
                    area: *area,
                    coefficient,
                })
            })
            .collect();
        self.part.solver.columns_mut(tool.set).set_contacts(&contacts, &areas);
    }

    /// Notes the face temperature of a tool in contact.
    pub(super) fn note_tool(&mut self, tool: &Tool) {
        if let Some((mean, peak)) = self.part.solver.tool_faces(tool.set) {
            self.recorder.note_die(tool.name, mean, peak);
        }
    }

    /// Puts the tools back behind a part that has changed shape. Columns stay where they are in
    /// the tool: a new column is the overlap-weighted mean of the old ones, and material of the
    /// tool that was not touched before is at its bulk temperature.
    pub(super) fn carry_tools(&mut self, tools: &mut [Tool], old: Vec<Columns>, skins: &[Vec<Skin>]) {
        for ((tool, columns), skins) in tools.iter_mut().zip(old).zip(skins) {
            let faces = self.part.faces_of(skins);
            let spans = self.part.spans(&faces);
            let account = self.part.solver.account(tool.name);
            let depth_cells = columns.depth_cells();
            let kept: Vec<Vec<f64>> = (0..columns.count()).map(|c| columns.temperatures(c)).collect();
            let mut new = columns.resized(faces.len(), account);
            for (c, span) in spans.iter().enumerate() {
                let mut temps = vec![0.0; depth_cells];
                let mut covered = 0.0;
                for (old, from) in kept.iter().zip(&tool.spans) {
                    let overlap = (span.1.min(from.1) - span.0.max(from.0)).max(0.0) / (span.1 - span.0);
                    covered += overlap;
                    for (t, o) in temps.iter_mut().zip(old) {
                        *t += overlap * o;
                    }
                }
                let rest = (1.0 - covered).max(0.0);
                for t in &mut temps {
                    *t = (*t + rest * tool.bulk_c) / (covered + rest);
                }
                new.set_temperatures(c, &temps);
            }
            tool.set = self.part.solver.add_columns(new);
            tool.faces = faces;
            tool.spans = spans;
            self.touch(tool, None);
        }
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

/// Film coefficient of a tool face in air, W/m²K (common practice for still air).
const TOOL_FILM: f64 = 10.0;

/// Skins that meet a lower and an upper tool in a pose.
pub(super) fn facing(pose: Pose) -> (Vec<Skin>, Vec<Skin>) {
    let side = || vec![Skin::Side, Skin::GripLow, Skin::GripHigh];
    match pose {
        Pose::Standing => (vec![Skin::Bottom], vec![Skin::Top]),
        Pose::Lying => (side(), side()),
    }
}

impl Part {
    /// Indices of the faces of some skins.
    pub fn faces_of(&self, skins: &[Skin]) -> Vec<usize> {
        let faces = self.mesh.grid.faces();
        (0..faces.len())
            .filter(|f| skins.iter().any(|s| *s as usize == faces[*f].group))
            .collect()
    }

    /// Extent of each face across a tool: squared radii for faces along the axis, lengths for side
    /// faces, so that overlaps are proportional to area.
    fn spans(&self, faces: &[usize]) -> Vec<(f64, f64)> {
        let grid = &self.mesh.grid;
        faces
            .iter()
            .map(|f| {
                let face = &grid.faces()[*f];
                let at = grid.position(face.cell);
                let other = if face.axis == 0 { grid.axes().len() - 1 } else { 0 };
                let axis = &grid.axes()[other];
                let (a, b) = (axis.faces()[at[other]], axis.faces()[at[other] + 1]);
                if axis.kind() == AxisKind::Radial {
                    (a * a, b * b)
                } else {
                    (a, b)
                }
            })
            .collect()
    }
}
