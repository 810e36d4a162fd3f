//! What all slices of one bar in one heater share: grids, transfer, metal.

use std::f64::consts::PI;
use std::sync::Arc;

use super::coil::{Coil, short_coil_factor};
use super::error::{HeaterError, positive};
use super::field::{
    FieldOptions, FieldWorkspace, LineSection, Mesh, Rectangle, RectangleTransfer, RectangleWorkspace, Sampler,
    SurfaceImpedance, Symmetry, Transfer, skin_depth,
};
use super::metal::Metal;
use super::section_field::SectionField;
use crate::body::{Axis, AxisKind, Grid, Side};
use crate::conduction::Solver;

/// How finely the heater is resolved, in space and time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Field grid: cells per skin depth at the surface, and over the radius in the middle.
    pub per_skin: f64,
    /// Thermal grid: surface cell as a share of the radius.
    pub surface_share: f64,
    /// Thermal grid: largest cell as a share of the radius.
    pub inner_share: f64,
    /// Time between two looks at the field, as a share of R²/a with a = 6e-6 m²/s.
    pub look_share: f64,
    /// Error tolerance of a time step, K.
    pub step_k: f64,
    /// Field solver.
    pub field: FieldOptions,
}

impl Fineness {
    /// For searches.
    pub fn quick() -> Fineness {
        Fineness {
            per_skin: 4.0,
            surface_share: 0.06,
            inner_share: 0.16,
            look_share: 1.0 / 60.0,
            step_k: 1.0,
            field: FieldOptions {
                tolerance: 3e-4,
                ..FieldOptions::default()
            },
        }
    }

    /// The default.
    pub fn standard() -> Fineness {
        Fineness {
            per_skin: 6.0,
            surface_share: 0.03,
            inner_share: 0.1,
            look_share: 1.0 / 150.0,
            step_k: 0.3,
            field: FieldOptions::default(),
        }
    }

    /// For checking the others.
    pub fn fine() -> Fineness {
        Fineness {
            per_skin: 16.0,
            surface_share: 0.01,
            inner_share: 0.04,
            look_share: 1.0 / 600.0,
            step_k: 0.03,
            field: FieldOptions {
                reuse: 2e-3,
                tolerance: 1e-5,
                ..FieldOptions::default()
            },
        }
    }
}

/// Elements of a rectangle at the surface over the cells of a radius.
const ELEMENT_SHARE: f64 = 2.0;

impl Fineness {
    /// The same for a section in two dimensions, where each cell costs a row: for a 55 mm square bar in
    /// three coils the mean at the exit stays within 1 K and the hottest point within 0.8 K of a grid
    /// with sixteen times the cells and a fifth of the time between looks (measured).
    pub fn in_two_axes(self) -> Fineness {
        Fineness {
            per_skin: 5.0 / 6.0 * self.per_skin,
            surface_share: 1.7 * self.surface_share,
            inner_share: 1.4 * self.inner_share,
            look_share: 2.0 * self.look_share,
            step_k: 2.0 * self.step_k,
            field: FieldOptions {
                reuse: 2.0 * self.field.reuse,
                ..self.field
            },
        }
    }
}

/// The section with its field grid and its ties to the thermal grid.
#[derive(Debug, Clone)]
enum Shape {
    /// A radius.
    Round {
        section: LineSection,
        sampler: Sampler,
        transfer: Transfer,
    },
    /// A quarter of a rectangle.
    Rectangle(Quarter),
}

#[derive(Debug, Clone)]
struct Quarter {
    section: Rectangle,
    across: Sampler,
    up: Sampler,
    transfer: RectangleTransfer,
    /// Thermal cells across and up.
    cells: (usize, usize),
    /// Place of each outer face of the thermal grid among the places, and its number in the grid.
    faces: Vec<(usize, usize)>,
    /// Relative places up.
    up_places: Vec<f64>,
}

/// Work space and latest solution of the field in a bar.
#[derive(Debug, Clone)]
pub enum BarField {
    /// On a radius.
    Round(FieldWorkspace),
    /// Over a quarter.
    Rectangle(RectangleWorkspace),
}

impl BarField {
    /// Forgets the stored solution, so that the next call solves.
    pub fn forget(&mut self) {
        match self {
            BarField::Round(w) => w.forget(),
            BarField::Rectangle(w) => w.forget(),
        }
    }

    /// (full solutions, permeability iterations in them, solutions reused) so far.
    pub fn counts(&self) -> (u64, u64, u64) {
        match self {
            BarField::Round(w) => w.counts(),
            BarField::Rectangle(w) => w.counts(),
        }
    }

    /// Skin depth in m in the outermost cell (of a rectangle at the middle of the upright face).
    pub fn surface_skin_m(&self, frequency_hz: f64) -> f64 {
        let (rho, mu) = match self {
            BarField::Round(w) => {
                let last = w.resistivity().len() - 1;
                (w.resistivity()[last], w.permeability()[last])
            }
            BarField::Rectangle(w) => w.face_medium(),
        };
        skin_depth(rho, mu, frequency_hz)
    }
}

/// What all slices of one bar in one heater share: grids, transfer, metal.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Half width and half height, m; the radius twice when round.
    half_m: (f64, f64),
    metal: Arc<Metal>,
    grid: Arc<Grid>,
    shape: Shape,
    fineness: Fineness,
    highest_hz: f64,
    /// Relative distance of the thermal cell middles and of the surface, along the radius or across.
    places: Vec<f64>,
}

/// Places of cell middles and of the surface, m.
fn places_of(axis: &Axis) -> Vec<f64> {
    let mut places: Vec<f64> = (0..axis.cells()).map(|i| axis.centre(i)).collect();
    places.extend(axis.faces().last());
    places
}

fn thermal_axis(kind: AxisKind, half_m: f64, fine: &Fineness) -> Result<Axis, HeaterError> {
    Ok(Axis::graded(
        kind,
        0.0,
        half_m,
        None,
        Some(fine.surface_share * half_m),
        1.3,
        fine.inner_share * half_m,
    )?)
}

/// The thinnest skin: cold steel in a field as strong as billet coils make it, m.
fn thinnest_skin(metal: &Metal, highest_hz: f64) -> f64 {
    use super::field::Medium;
    skin_depth(
        metal.resistivity_ohm_m(20.0),
        metal.relative_permeability(1e5, 20.0),
        highest_hz,
    )
}

impl Bar {
    /// A round bar of `radius_m` (m) for coils of up to `highest_hz` (Hz).
    pub fn round(radius_m: f64, metal: Arc<Metal>, highest_hz: f64, fineness: Fineness) -> Result<Bar, HeaterError> {
        positive("billet radius in m", radius_m)?;
        positive("frequency in Hz", highest_hz)?;
        let axis = thermal_axis(AxisKind::Radial, radius_m, &fineness)?;
        let faces = axis.faces().to_vec();
        let places = places_of(&axis);
        let grid = Grid::new(vec![axis])?;
        let mesh = Mesh::for_skin(radius_m, thinnest_skin(&metal, highest_hz), fineness.per_skin)?;
        let section = LineSection::new(Symmetry::Radial, &mesh);
        let sampler = Sampler::new(&places, &section.middles())?;
        let transfer = Transfer::new(&section, &faces, 0.0)?;
        Ok(Bar {
            half_m: (radius_m, radius_m),
            metal,
            grid: Arc::new(grid),
            shape: Shape::Round {
                section,
                sampler,
                transfer,
            },
            fineness,
            highest_hz,
            places: places.into_iter().map(|p| p / radius_m).collect(),
        })
    }

    /// A rectangular bar of `width_m` by `height_m` (m) with sharp corners for coils of up to
    /// `highest_hz` (Hz). A quarter of it is followed, in two dimensions.
    pub fn rectangle(
        width_m: f64,
        height_m: f64,
        metal: Arc<Metal>,
        highest_hz: f64,
        fineness: Fineness,
    ) -> Result<Bar, HeaterError> {
        let half_m = (
            0.5 * positive("billet width in m", width_m)?,
            0.5 * positive("billet height in m", height_m)?,
        );
        positive("frequency in Hz", highest_hz)?;
        let x = thermal_axis(AxisKind::Linear, half_m.0, &fineness)?;
        let y = thermal_axis(AxisKind::Linear, half_m.1, &fineness)?;
        let cells = (x.cells(), y.cells());
        let (faces_x, faces_y) = (x.faces().to_vec(), y.faces().to_vec());
        let (places_x, places_y) = (places_of(&x), places_of(&y));
        let mut grid = Grid::masked(vec![y, x], vec![true; cells.0 * cells.1], 4.0)?;
        grid.group_faces(|f| usize::from(f.side == Side::High));
        let thinnest = thinnest_skin(&metal, highest_hz);
        // Bilinear elements: fewer to a skin than on a radius do, for each costs a whole row.
        let mesh = |half: f64| {
            let last = half / fineness.per_skin;
            Mesh::between(half, (ELEMENT_SHARE * thinnest / fineness.per_skin).min(last), last)
        };
        let section = Rectangle::new(&mesh(half_m.0)?, &mesh(half_m.1)?);
        let middles = |nodes: &[f64]| -> Vec<f64> { nodes.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect() };
        let across = Sampler::new(&places_x, &middles(section.nodes().0))?;
        let up = Sampler::new(&places_y, &middles(section.nodes().1))?;
        let transfer = RectangleTransfer::new(&section, (&faces_x, 0.0), (&faces_y, 0.0))?;
        let row = cells.0 + 1;
        let faces = grid
            .faces()
            .iter()
            .enumerate()
            .filter(|(_, f)| f.side == Side::High)
            .map(|(n, f)| {
                let (i, j) = (f.cell % cells.0, f.cell / cells.0);
                let place = if f.axis == 1 {
                    j * row + cells.0
                } else {
                    cells.1 * row + i
                };
                (place, n)
            })
            .collect();
        Ok(Bar {
            half_m,
            metal,
            grid: Arc::new(grid),
            shape: Shape::Rectangle(Quarter {
                section,
                across,
                up,
                transfer,
                cells,
                faces,
                up_places: places_y.into_iter().map(|p| p / half_m.1).collect(),
            }),
            fineness,
            highest_hz,
            places: places_x.into_iter().map(|p| p / half_m.0).collect(),
        })
    }

    /// The same bar, resolved otherwise.
    fn resolved(&self, fineness: Fineness) -> Result<Bar, HeaterError> {
        let metal = Arc::clone(&self.metal);
        match self.shape {
            Shape::Round { .. } => Bar::round(self.half_m.0, metal, self.highest_hz, fineness),
            Shape::Rectangle(_) => {
                let (w, h) = self.half_m;
                Bar::rectangle(2.0 * w, 2.0 * h, metal, self.highest_hz, fineness)
            }
        }
    }

    /// The same bar for the first trials of a search, and for studies of the column where it is not
    /// round; `None` where it is no finer itself.
    pub fn coarser(&self) -> Result<Option<Bar>, HeaterError> {
        let quick = match self.shape {
            Shape::Round { .. } => Fineness::quick(),
            Shape::Rectangle(_) => Fineness::quick().in_two_axes(),
        };
        if quick.per_skin < self.fineness.per_skin {
            self.resolved(quick).map(Some)
        } else {
            Ok(None)
        }
    }

    /// Whether the bar is round.
    pub fn is_round(&self) -> bool {
        matches!(self.shape, Shape::Round { .. })
    }

    /// Half width and half height in m; the radius twice when round.
    pub fn half_m(&self) -> (f64, f64) {
        self.half_m
    }

    /// Half of the shorter side, or the radius, in m: what heat and frequency go by.
    pub fn radius_m(&self) -> f64 {
        self.half_m.0.min(self.half_m.1)
    }

    /// Diameter of the circle round the section in m: the diagonal, which must pass the lining.
    pub fn outer_m(&self) -> f64 {
        match self.shape {
            Shape::Round { .. } => 2.0 * self.half_m.0,
            Shape::Rectangle(_) => 2.0 * self.half_m.0.hypot(self.half_m.1),
        }
    }

    /// Area of the section, m².
    pub fn area_m2(&self) -> f64 {
        match self.shape {
            Shape::Round { .. } => PI * self.half_m.0 * self.half_m.0,
            Shape::Rectangle(_) => 4.0 * self.half_m.0 * self.half_m.1,
        }
    }

    /// Perimeter of the section, m.
    pub fn perimeter_m(&self) -> f64 {
        match self.shape {
            Shape::Round { .. } => 2.0 * PI * self.half_m.0,
            Shape::Rectangle(_) => 4.0 * (self.half_m.0 + self.half_m.1),
        }
    }

    /// Diameter of the round bar with the same surface, m. A section without hollows sees nothing
    /// but the lining, so only its surface counts for radiation to it.
    pub fn surface_diameter_m(&self) -> f64 {
        self.perimeter_m() / PI
    }

    /// Diameter of the round bar with the same section, m.
    pub fn section_diameter_m(&self) -> f64 {
        2.0 * (self.area_m2() / PI).sqrt()
    }

    /// Short-coil factor of a coil around this bar whose outer skin has a depth of `skin_m` (m).
    /// What counts in [`short_coil_factor`] is the area that the flux leaves out; for a rectangle
    /// it is that of the section less half a skin all round, as a circle.
    pub fn short_coil(&self, coil: &Coil, skin_m: f64) -> Result<f64, HeaterError> {
        match self.shape {
            Shape::Round { .. } => short_coil_factor(coil.bore_m, coil.length_m, 2.0 * self.half_m.0, skin_m),
            Shape::Rectangle(_) => {
                let left = |half: f64| (2.0 * half - skin_m).max(0.0);
                let empty = 2.0 * (left(self.half_m.0) * left(self.half_m.1) / PI).sqrt();
                short_coil_factor(coil.bore_m, coil.length_m, empty, 0.0)
            }
        }
    }

    /// Mass per metre of length, kg/m.
    pub fn mass_kg_m(&self) -> f64 {
        self.area_m2() * self.metal.thermal().density
    }

    /// The metal.
    pub fn metal(&self) -> &Arc<Metal> {
        &self.metal
    }

    /// Time between two looks at the field in s.
    pub fn look_s(&self) -> f64 {
        self.fineness.look_share * self.radius_m() * self.radius_m() / 6e-6
    }

    /// How finely it is resolved.
    pub fn fineness(&self) -> &Fineness {
        &self.fineness
    }

    /// The axes of the thermal grid: the radius, or up and across.
    pub(super) fn axes(&self) -> &[Axis] {
        self.grid.axes()
    }

    pub(super) fn grid(&self) -> &Arc<Grid> {
        &self.grid
    }

    /// Cells of the thermal and of the field grid.
    pub fn cells(&self) -> (usize, usize) {
        let field = match &self.shape {
            Shape::Round { section, .. } => section.cells(),
            Shape::Rectangle(q) => q.section.cells().0 * q.section.cells().1,
        };
        (self.grid.cells(), field)
    }

    /// Number of places with a temperature: cell middles, faces, and the corner.
    pub(super) fn places(&self) -> usize {
        match &self.shape {
            Shape::Round { .. } => self.places.len(),
            Shape::Rectangle(q) => (q.cells.0 + 1) * (q.cells.1 + 1),
        }
    }

    pub(super) fn workspace(&self) -> BarField {
        match &self.shape {
            Shape::Round { section, .. } => BarField::Round(section.workspace()),
            Shape::Rectangle(q) => BarField::Rectangle(q.section.workspace()),
        }
    }

    /// Reads the temperatures at the places off a solver on this bar's own grid.
    pub(super) fn read(&self, solver: &Solver, now: &mut [f64]) {
        self.spread(&|c| solver.temperature(c), now);
        match &self.shape {
            Shape::Round { .. } => now[self.places.len() - 1] = solver.free_face_temperature(0, 1),
            Shape::Rectangle(q) => {
                for &(place, face) in &q.faces {
                    now[place] = solver.free_face_temperature(face, 1);
                }
                self.corner(now);
            }
        }
    }

    /// Puts cell temperatures at their places; faces get that of the cell behind them.
    pub(super) fn spread(&self, cell: &dyn Fn(usize) -> f64, now: &mut [f64]) {
        match &self.shape {
            Shape::Round { .. } => {
                let n = self.places.len() - 1;
                for (c, t) in now.iter_mut().enumerate().take(n) {
                    *t = cell(c);
                }
                now[n] = now[n - 1];
            }
            Shape::Rectangle(q) => {
                let (nx, ny) = q.cells;
                for j in 0..=ny {
                    for i in 0..=nx {
                        now[j * (nx + 1) + i] = cell(j.min(ny - 1) * nx + i.min(nx - 1));
                    }
                }
            }
        }
    }

    /// The corner, by carrying the two faces on in a straight line.
    pub(super) fn corner(&self, now: &mut [f64]) {
        if let Shape::Rectangle(q) = &self.shape {
            let (nx, ny) = q.cells;
            let at = |i: usize, j: usize| j * (nx + 1) + i;
            now[at(nx, ny)] = now[at(nx, ny - 1)] + now[at(nx - 1, ny)] - now[at(nx - 1, ny - 1)];
        }
    }

    /// Place of a face among the places: of a cell and of the axis it is normal to (0 the radius or
    /// up, 1 across).
    pub(super) fn place_of_face(&self, cell: usize, axis: usize) -> usize {
        match &self.shape {
            Shape::Round { .. } => self.places.len() - 1,
            Shape::Rectangle(q) => {
                let (nx, ny) = q.cells;
                match axis {
                    1 => cell / nx * (nx + 1) + nx,
                    _ => ny * (nx + 1) + cell % nx,
                }
            }
        }
    }

    /// Temperatures at the places into the cells of the field grid.
    pub(super) fn sample(&self, now: &[f64], cells: &mut [f64]) {
        match &self.shape {
            Shape::Round { sampler, .. } => sampler.sample(now, cells),
            Shape::Rectangle(q) => q.across.sample_both(&q.up, now, cells),
        }
    }

    /// Solves for the field with the temperatures of its cells.
    pub(super) fn solve(
        &self,
        cells: &[f64],
        frequency_hz: f64,
        h0: f64,
        field: &mut BarField,
    ) -> Result<SurfaceImpedance, HeaterError> {
        let options = &self.fineness.field;
        match (&self.shape, field) {
            (Shape::Round { section, .. }, BarField::Round(work)) => {
                section.solve(&*self.metal, cells, frequency_hz, h0, options, work)
            }
            (Shape::Rectangle(q), BarField::Rectangle(work)) => {
                q.section.solve(&*self.metal, cells, frequency_hz, h0, options, work)
            }
            _ => Err(HeaterError::BadGrid {
                name: "field",
                problem: "work space of another section".to_owned(),
            }),
        }
    }

    /// Heat of each thermal cell, W per metre of bar, at a surface field of `h0` (A/m).
    pub(super) fn heat(&self, field: &BarField, h0: f64, out: &mut [f64]) {
        match (&self.shape, field) {
            (Shape::Round { transfer, .. }, BarField::Round(work)) => transfer.heat(work, h0, out),
            // The four quarters are alike.
            (Shape::Rectangle(q), BarField::Rectangle(work)) => q.transfer.heat(work, 2.0 * h0, out),
            _ => out.fill(f64::NAN),
        }
    }

    /// Temperature on the axis.
    pub(super) fn core(&self, now: &[f64]) -> f64 {
        // Zero slope at the axis: the parabola through the two innermost cells.
        let past = |axis: &Axis, first: f64, second: f64| {
            let (a, b) = (axis.centre(0), axis.centre(1));
            (first - second) * a * a / (b * b - a * a)
        };
        match &self.shape {
            Shape::Round { .. } => now[0] + past(&self.axes()[0], now[0], now[1]),
            Shape::Rectangle(q) => {
                let row = q.cells.0 + 1;
                now[0] + past(&self.axes()[1], now[0], now[1]) + past(&self.axes()[0], now[0], now[row])
            }
        }
    }

    /// Temperature of the surface at the middle of the upright face.
    pub(super) fn surface(&self, now: &[f64]) -> f64 {
        now[self.places.len() - 1]
    }

    /// Points (relative distance, degC) from the axis to the surface.
    pub(super) fn profile(&self, now: &[f64]) -> Vec<(f64, f64)> {
        let mut points = vec![(0.0, self.core(now))];
        points.extend(self.places.iter().copied().zip(now.iter().copied()));
        points
    }

    /// The whole section, where it is not round.
    pub(super) fn section_field(&self, now: &[f64]) -> Option<SectionField> {
        match &self.shape {
            Shape::Round { .. } => None,
            Shape::Rectangle(q) => Some(SectionField {
                across: self.places.clone(),
                up: q.up_places.clone(),
                temps_c: now.to_vec(),
            }),
        }
    }

    /// Heat density of the cells along the radius or across, W/m³, from the heat of all cells in W
    /// per metre.
    pub(super) fn heat_density(&self, heat: &[f64]) -> Vec<(f64, f64)> {
        let volume = self.grid.volume();
        (0..self.places.len() - 1)
            .map(|c| (self.places[c], heat[c] / volume[c]))
            .collect()
    }
}
