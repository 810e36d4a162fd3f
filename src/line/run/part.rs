//! The part as it is now: mesh, nodes, solver, shape and pose.

use std::collections::HashMap;
use std::sync::Arc;

use super::error::RunError;
use crate::body::lengthwise::carry_bar;
use crate::body::reshape::{carry, parcels};
use crate::body::{Body, Face, Fineness, GridError, Growth, Layout, Mesh, Nodes, Shape, Side, Touched, open_views};
use crate::conduction::{Solver, Tolerance};
use crate::line::plan::{Plan, Pose, Resolution, Section, StageKind};
use crate::steel::ThermalTable;

/// The part of a run.
#[derive(Clone)]
pub(super) struct Part {
    pub mesh: Mesh,
    pub nodes: Nodes,
    pub solver: Solver,
    pub shape: Option<Shape>,
    pub pose: Pose,
    pub fine: Fineness,
    pub touched: Touched,
}

/// Cell sizes of a resolution. `contact_m` resolves the chill of a 5 ms blow (about 0.2 mm in
/// steel); the others were found by refinement until the nodes of the example lines stayed within
/// the promised error.
pub(super) fn fineness(resolution: Resolution) -> Fineness {
    let (contact_m, free_m, inner_share, gentle, then, span_share) = match resolution {
        Resolution::Quick => (3e-4, 1e-3, 0.14, 2.2, 2.2, 0.5),
        Resolution::Standard => (3e-5, 2e-4, 0.04, 1.3, 1.32, 0.12),
        Resolution::Fine => (1.5e-5, 1e-4, 0.03, 1.25, 1.25, 0.1),
    };
    // A blow is felt 0.2 mm deep after 5 ms, a press stroke 1 mm deep after 0.2 s.
    let growth = Growth {
        gentle,
        until_m: 5e-4,
        then,
    };
    Fineness {
        contact_m,
        free_m,
        inner_share,
        growth,
        span_share,
    }
}

/// Step tolerance of a resolution, K. The error estimate of a step is some ten times its true error
/// (measured on a cooling billet), so these are not the errors of the result.
pub(super) fn tolerance(resolution: Resolution) -> Tolerance {
    Tolerance::kelvin(match resolution {
        Resolution::Quick => 16.0,
        Resolution::Standard => 3.0,
        Resolution::Fine => 0.05,
    })
}

/// Which surfaces are ever struck on this line. Resting and gripping are gentle enough for the
/// cells that air asks for: their coefficient times half a cell is small against conduction.
fn touched(plan: &Plan) -> Touched {
    let mut t = Touched::default();
    for stage in &plan.stages {
        let pose = match &stage.kind {
            StageKind::Forge(f) => f.pose,
            StageKind::Trim(f) => f.pose,
            // Water chills the skin as fast as a die does.
            StageKind::Descale { .. } => {
                t.side = true;
                continue;
            }
            _ => continue,
        };
        match pose {
            Pose::Standing => t.ends = true,
            Pose::Lying => t.side = true,
        }
    }
    t
}

/// The bodies of which a run may make a large mesh, with the surfaces that tools touch.
pub(super) fn meshes<'p>(plan: &'p Plan, billet: Option<&'p Shape>) -> Vec<(Body<'p>, Touched)> {
    let touched = touched(plan);
    let at_start = if becomes_long(plan) {
        Touched::default()
    } else {
        touched
    };
    let mut bodies: Vec<(Body<'p>, Touched)> = billet.map(|shape| (Body::Shape(shape), at_start)).into_iter().collect();
    match (billet, plan.piece.section, plan.piece.length_m) {
        (None, Section::Square { side_m }, length) => bodies.push((Body::Bar((side_m, side_m), length), touched)),
        (None, Section::Rectangle { width_m, height_m }, length) => {
            bodies.push((Body::Bar((width_m, height_m), length), touched));
        }
        // A radius or a thickness alone is one axis.
        _ => {}
    }
    let shapes = plan.stages.iter().filter_map(|stage| match &stage.kind {
        StageKind::Forge(forge) => forge.shape.as_ref(),
        _ => None,
    });
    bodies.extend(shapes.map(|shape| (Body::Shape(shape), touched)));
    bodies
}

/// Whether the part is followed by its cross-sections from some stage on.
fn becomes_long(plan: &Plan) -> bool {
    let forges = plan.stages.iter().filter_map(|stage| match &stage.kind {
        StageKind::Forge(forge) => forge.shape.as_ref(),
        _ => None,
    });
    forges.into_iter().any(Shape::is_long)
}

impl Part {
    /// The billet before heating: cold mesh, uniform at the enthalpy zero.
    pub fn at_start(plan: &Plan, resolution: Resolution) -> Result<Part, RunError> {
        let fine = fineness(resolution);
        let touched = touched(plan);
        let piece = &plan.piece;
        let shape = piece.shape();
        let mesh = match (&shape, piece.section, piece.length_m) {
            // A bar that becomes a long part is struck as that, not on its own ends.
            (Some(shape), _, _) if becomes_long(plan) => Mesh::rings(shape, &fine, Touched::default()),
            (Some(shape), _, _) => Mesh::rings(shape, &fine, touched),
            (None, Section::Round { radius_m }, _) => Mesh::round_section(radius_m, &fine, touched),
            (None, Section::Plate { thickness_m }, _) => Mesh::plate(thickness_m, &fine, touched),
            (None, Section::Square { side_m }, length) => Mesh::rectangle(side_m, side_m, length, &fine, touched),
            (None, Section::Rectangle { width_m, height_m }, length) => {
                Mesh::rectangle(width_m, height_m, length, &fine, touched)
            }
        }
        .map_err(|source| RunError::Mesh {
            stage: "heater".to_owned(),
            source,
        })?;
        let medium: Arc<ThermalTable> = plan.metal.thermal();
        let nodes = Nodes::of(&mesh);
        let mut solver = Solver::uniform(mesh.grid.clone(), medium, 20.0, tolerance(resolution));
        solver.set_open(open_views(&mesh));
        Ok(Part {
            mesh,
            nodes,
            solver,
            shape,
            pose: Pose::Lying,
            fine,
            touched,
        })
    }

    /// Cells of the part and of the tools that touch it.
    pub fn cells(&self) -> usize {
        self.mesh.grid.cells() + self.solver.column_cells()
    }

    /// Gives the part a temperature per cell \[degC\].
    pub fn set_temperatures(&mut self, temps_c: &[f64]) {
        let time = self.solver.time_s();
        let mut solver = Solver::new(
            self.mesh.grid.clone(),
            self.solver.medium().clone(),
            temps_c,
            self.solver.tolerance(),
        );
        solver.set_time(time);
        solver.set_open(open_views(&self.mesh));
        self.solver = solver;
    }

    /// Takes the part to a new shape. Enthalpy goes by the volume order of the material; where the
    /// change is a homogeneous stretch on cells that stay fine enough, every cell keeps its own.
    /// The ledger, which must be booked before, starts empty.
    pub fn reshape(&mut self, new: &Shape) -> Result<(), GridError> {
        // A stretch keeps the volume of each cell, so none may have come off.
        let same = (new.volume_m3() / self.mesh.grid.total_volume() - 1.0).abs() < 1e-9;
        let stretch = self
            .shape
            .as_ref()
            .filter(|_| same)
            .and_then(|s| s.is_stretched_into(new));
        let mesh = match stretch {
            Some(factor) => {
                let mesh = self.mesh.stretched(factor)?;
                if self.fine_enough(&mesh) {
                    mesh
                } else {
                    Mesh::rings(new, &self.fine, self.touched)?
                }
            }
            None => Mesh::of_shape(new, &self.fine, self.touched)?,
        };
        if new.is_long() && self.mesh.layout != Layout::Strips {
            let shares: Vec<f64> = new.sections.iter().map(|s| s.share).collect();
            let carry = |old: &[f64]| carry_bar(&self.mesh.grid, &shares, &mesh, old);
            let cooled = carry(&self.cooled_share()).iter().map(|f| *f >= 0.5).collect();
            let h = carry(self.solver.enthalpy());
            self.replace(mesh, h, cooled);
            self.shape = Some(new.clone());
            return Ok(());
        }
        let list = parcels(&self.mesh.grid, &mesh.grid);
        // A cell made of transformed and untransformed material follows the larger share.
        let cooled = carry(&list, &self.cooled_share(), mesh.grid.cells())
            .iter()
            .map(|f| *f >= 0.5)
            .collect();
        let h = carry(&list, self.solver.enthalpy(), mesh.grid.cells());
        self.replace(mesh, h, cooled);
        self.shape = Some(new.clone());
        Ok(())
    }

    /// One for each cell on the cooling branch, zero for the others.
    fn cooled_share(&self) -> Vec<f64> {
        self.solver.cooled().iter().map(|c| f64::from(u8::from(*c))).collect()
    }

    /// A shape with heights scaled to a share of the material at hand, of each section where there are
    /// several.
    pub fn fitted(&self, new: &Shape, share: f64) -> Shape {
        let grid = &self.mesh.grid;
        let total = share * grid.total_volume();
        if !new.is_long() {
            return new.with_volume(total);
        }
        let volumes: Vec<f64> = if self.mesh.layout == Layout::Strips {
            grid.block_volumes().iter().map(|v| share * v).collect()
        } else {
            new.sections.iter().map(|s| s.share * total).collect()
        };
        new.with_section_volumes(&volumes)
    }

    /// Takes zones off the part; returns their enthalpy in J.
    pub fn remove(&mut self, zones: &[String]) -> Result<f64, GridError> {
        let gone: Vec<bool> = self
            .mesh
            .zone
            .iter()
            .map(|z| {
                self.mesh
                    .zones
                    .get(*z as usize)
                    .is_some_and(|name| zones.contains(name))
            })
            .collect();
        let lost: f64 = gone
            .iter()
            .zip(self.solver.enthalpy().iter().zip(self.solver.mass()))
            .filter(|(g, _)| **g)
            .map(|(_, (h, m))| h * m)
            .sum();
        let mesh = self.mesh.without(&gone)?;
        let (h, cooled) = (self.solver.enthalpy().to_vec(), self.solver.cooled().to_vec());
        let faces_c = self.faces_after_cut(&mesh);
        self.replace(mesh, h, cooled);
        self.solver.hold_faces_at(faces_c);
        if let Some(shape) = &mut self.shape {
            shape.rings.retain(|r| !zones.contains(&r.zone));
        }
        Ok(lost)
    }

    /// Face temperatures \[degC\] of the part right after cells were cut off: what they were, and
    /// on the cut what the metal was there.
    fn faces_after_cut(&self, cut: &Mesh) -> Vec<f64> {
        let grid = &self.mesh.grid;
        let temps_c = self.solver.face_temperatures();
        let at = |f: &Face| (f.cell, f.axis, f.side == Side::High);
        let known: HashMap<_, _> = grid.faces().iter().map(at).zip(&temps_c).collect();
        let joint = |face: &Face| {
            let axis = &grid.axes_of(face.cell)[face.axis];
            let i = grid.local(face.cell)[face.axis];
            let (stride, high) = (grid.stride()[face.axis], face.side == Side::High);
            let (beyond, j) = if high {
                (face.cell + stride, i + 1)
            } else {
                (face.cell - stride, i - 1)
            };
            let share = face.depth / (axis.centre(j) - axis.centre(i)).abs();
            let (here, there) = (self.solver.temperature(face.cell), self.solver.temperature(beyond));
            here + share * (there - here)
        };
        let faces = cut.grid.faces().iter();
        faces
            .map(|face| known.get(&at(face)).map_or_else(|| joint(face), |t| **t))
            .collect()
    }

    /// Puts the faces into other groups; the solver's laws are to be set again.
    pub fn group(&mut self, regrouped: impl Fn(&Mesh) -> Mesh) {
        let mesh = regrouped(&self.mesh);
        self.solver.regroup(mesh.grid.clone());
        self.mesh = mesh;
    }

    /// The ring of the shape that each cell lies in.
    pub fn ring_of_cells(&self) -> Vec<Option<usize>> {
        let grid = &self.mesh.grid;
        let Some(shape) = &self.shape else {
            return vec![None; grid.cells()];
        };
        (0..grid.cells())
            .map(|c| {
                // Rows that a short section only fills up have no place.
                grid.active()[c].then(|| shape.ring_at(grid.block_of(c), grid.middle(c, 0), grid.middle(c, 1)))?
            })
            .collect()
    }

    fn replace(&mut self, mesh: Mesh, h: Vec<f64>, cooled: Vec<bool>) {
        let time = self.solver.time_s();
        let medium = self.solver.medium().clone();
        let mut solver = Solver::from_enthalpy(mesh.grid.clone(), medium, h, cooled, self.solver.tolerance());
        solver.set_time(time);
        solver.add_work(self.solver.work());
        solver.set_open(open_views(&mesh));
        self.solver = solver;
        self.nodes = Nodes::of(&mesh);
        self.mesh = mesh;
    }

    /// Whether stretched cells still have about the sizes that a fresh mesh would have.
    fn fine_enough(&self, mesh: &Mesh) -> bool {
        let axes = mesh.grid.axes();
        let end = if self.touched.ends {
            self.fine.contact_m
        } else {
            self.fine.free_m
        };
        let side = if self.touched.side {
            self.fine.contact_m
        } else {
            self.fine.free_m
        };
        let (z, r) = (&axes[0], &axes[1]);
        let (first, last) = (z.size(0), z.size(z.cells() - 1));
        let outer = r.size(r.cells() - 1);
        let ok = |size: f64, wanted: f64| size > 0.15 * wanted && size < 2.2 * wanted;
        ok(first, end) && ok(last, end) && ok(outer, side)
    }
}
