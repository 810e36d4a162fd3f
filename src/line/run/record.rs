//! Recording a run: samples, moments, section maps, tool faces, and limits that hold always.

use super::dense::densified;
use super::error::RunError;
use super::part::Part;
use crate::body::{Layout, NodeSource, Nodes, Place, below};
use crate::conduction::{FaceTemperatures, Solver};
use crate::judge::{Datum, Kind, Moment, Reading, StageSpan, Warning, Watch};
use crate::line::plan::{Heater, Plan};
use crate::line::trace::{ColdEnds, DieRecord, MapAxis, Sample, ScaleRecord, SectionMap};

/// Reads node values of a solver into room that is used again.
#[derive(Debug, Clone, Default)]
pub(super) struct Reader {
    cells: Vec<f64>,
    faces: FaceTemperatures,
    values: Vec<f64>,
}

impl Reader {
    /// Node values in degC, in the order of the nodes' names.
    pub fn read(&mut self, solver: &Solver, nodes: &Nodes) -> &[f64] {
        self.read_some(solver, nodes, &|_| true)
    }

    /// As [`Reader::read`], of the wanted nodes only; the others are NaN.
    fn read_some(&mut self, solver: &Solver, nodes: &Nodes, wanted: &dyn Fn(usize) -> bool) -> &[f64] {
        solver.read_cells(&mut self.cells);
        solver.read_faces(&mut self.faces);
        let (medium, cooled) = (solver.medium(), solver.cooled());
        let source = NodeSource {
            cells_c: &self.cells,
            faces_c: &self.faces.temps_c,
            enthalpy: solver.enthalpy(),
            temperature_of: &|cell, h| medium.branch(cooled[cell]).at(h).temp_c,
        };
        nodes.values_of(wanted, &source, &mut self.values);
        &self.values
    }
}

/// Keeps what a run gives.
#[derive(Clone)]
pub(super) struct Recorder {
    names: Vec<String>,
    /// Node names of the present part and their columns.
    present: Vec<String>,
    columns: Vec<usize>,
    reader: Reader,
    row: Vec<f64>,
    stages: Vec<StageSpan>,
    times: Vec<(f64, usize)>,
    rows: Vec<f64>,
    moments: Vec<Reading>,
    maps: Vec<SectionMap>,
    dies: Vec<DieRecord>,
    ends: Vec<ColdEnds>,
    scale: Vec<ScaleRecord>,
    /// What is too cold for an end \[degC\], while the part is the bar that the heater gave.
    cold_end_c: Option<f64>,
    watched: Vec<Watch>,
    keep: bool,
    mass_kg: f64,
    bad: Option<(String, f64)>,
}

/// What a recorder gives at the end.
pub(super) struct Recorded {
    pub nodes: Vec<String>,
    pub stages: Vec<StageSpan>,
    pub samples: Vec<Sample>,
    pub moments: Vec<Reading>,
    pub maps: Vec<SectionMap>,
    pub dies: Vec<DieRecord>,
    pub ends: Vec<ColdEnds>,
    pub scale: Vec<ScaleRecord>,
    pub watched: Vec<Watch>,
}

impl Recorder {
    pub fn new(plan: &Plan, part: &Part, keep: bool) -> Recorder {
        let names = node_names(plan, &part.nodes);
        let watched = Watch::of(&plan.limits, &names, &plan.section_names());
        Recorder {
            row: vec![f64::NAN; names.len()],
            names,
            present: Vec::new(),
            columns: Vec::new(),
            reader: Reader::default(),
            stages: Vec::new(),
            times: Vec::new(),
            rows: Vec::new(),
            moments: Vec::new(),
            maps: Vec::new(),
            dies: Vec::new(),
            ends: Vec::new(),
            scale: Vec::new(),
            cold_end_c: plan.cold_end_c.filter(|_| keep),
            watched,
            keep,
            mass_kg: part.solver.total_mass(),
            bad: None,
        }
    }

    pub fn mass_kg(&self) -> f64 {
        self.mass_kg
    }

    pub fn begin(&mut self, span: StageSpan) {
        self.stages.push(span);
    }

    pub fn end(&mut self, time_s: f64) {
        if let Some(stage) = self.stages.last_mut() {
            stage.end_s = time_s;
        }
    }

    /// Takes a stage as over that nobody looks at.
    pub fn pass(&mut self, name: String, kind: Kind, seconds: f64) {
        let start_s = self.stages.last().map_or(0.0, |stage| stage.end_s);
        self.begin(StageSpan {
            name,
            kind,
            start_s,
            end_s: start_s + seconds,
        });
    }

    /// The worst value seen of a limit that holds always, where one was.
    pub fn hottest_seen_c(&self, limit: usize) -> Option<f64> {
        let mine = self.watched.iter().filter(|watch| watch.limit == limit);
        mine.filter_map(|watch| Some(watch.worst?.0)).reduce(f64::max)
    }

    /// Index of the present stage.
    pub fn stage(&self) -> usize {
        self.stages.len().saturating_sub(1)
    }

    pub fn in_heater(&self) -> bool {
        self.stages.last().is_none_or(|stage| stage.kind == Kind::Heater)
    }

    pub fn stage_name(&self) -> &str {
        self.stages.last().map_or("heater", |s| &s.name)
    }

    /// Blows of the present stage up to now, the present one included.
    pub fn blows_done(&self) -> f64 {
        let stage = self.stage();
        self.moments
            .iter()
            .filter(|m| m.stage == stage && m.moment.is_blow())
            .count() as f64
    }

    /// Takes one accepted step.
    pub fn observe(&mut self, solver: &mut Solver, nodes: &Nodes) {
        let stage = self.stage();
        let name = std::mem::take(&mut self.stages[stage].name);
        if self.keep {
            self.read(solver, nodes);
            self.watch(solver, nodes, &name);
            self.sample(solver.time_s());
        } else if self.watched.iter().any(|w| w.in_stage(&name)) {
            // Without samples only the nodes of the limits that hold always are of interest.
            self.read_watched(solver, nodes, &name);
            self.watch(solver, nodes, &name);
        }
        self.stages[stage].name = name;
    }

    /// Compares the values just read with the limits that hold always in stage `name`.
    fn watch(&mut self, solver: &mut Solver, nodes: &Nodes, name: &str) {
        let stage = self.stage();
        for w in 0..self.watched.len() {
            let watch = &self.watched[w];
            if !watch.in_stage(name) {
                continue;
            }
            let Some(excess) = watch.excess(&self.row) else {
                continue;
            };
            if excess > 0.0 && watch.crossing_s.is_none() {
                let watch = watch.clone();
                let (reader, columns) = (std::cell::RefCell::new(Reader::default()), self.columns.clone());
                let row = std::cell::RefCell::new(self.row.clone());
                let value = |solver: &Solver| {
                    let mut row = row.borrow_mut();
                    for (v, column) in reader.borrow_mut().read(solver, nodes).iter().zip(&columns) {
                        row[*column] = *v;
                    }
                    watch.excess(&row).unwrap_or(-1.0)
                };
                let crossing = solver.crossing(&value);
                self.watched[w].crossing_s = Some(crossing.unwrap_or(solver.time_s()));
            }
            self.watched[w].note(&self.row, stage, solver.time_s());
        }
    }

    /// Records a named moment; a second one of the same name in a stage is dropped.
    pub fn moment(&mut self, moment: Moment, part: &Part) {
        let stage = self.stage();
        if self.moments.iter().any(|m| m.stage == stage && m.moment == moment) {
            return;
        }
        self.read(&part.solver, &part.nodes);
        let time_s = part.solver.time_s();
        let name = self.stages[stage].name.clone();
        for watch in &mut self.watched {
            if watch.in_stage(&name) {
                if watch.excess(&self.row).is_some_and(|e| e > 0.0) && watch.crossing_s.is_none() {
                    watch.crossing_s = Some(time_s);
                }
                watch.note(&self.row, stage, time_s);
            }
        }
        self.moments.push(Reading {
            stage,
            moment,
            time_s,
            temps_c: present(&self.row),
        });
        self.note_ends(moment, part);
        self.sample(time_s);
    }

    /// Notes how much of the bar is too cold, from heater exit on. The cells and faces were just read.
    fn note_ends(&mut self, moment: Moment, part: &Part) {
        let time_s = part.solver.time_s();
        let Some(limit_c) = self.cold_end_c.filter(|_| time_s >= 0.0) else {
            return;
        };
        if let Some(below) = below(&part.mesh, &self.reader.cells, &self.reader.faces.temps_c, limit_c) {
            self.ends.push(ColdEnds {
                stage: self.stage(),
                moment,
                time_s,
                below_c: limit_c,
                grip_end_surface_mm: 1e3 * below.surface_m.0,
                grip_end_mean_mm: 1e3 * below.mean_m.0,
                free_end_surface_mm: 1e3 * below.surface_m.1,
                free_end_mean_mm: 1e3 * below.mean_m.1,
            });
        }
    }

    /// Takes the scale at a moment.
    pub fn note_scale(&mut self, record: ScaleRecord) {
        if self.keep {
            self.scale.push(record);
        }
    }

    /// The part takes a new shape: it is no bar with two ends any more.
    pub fn reshaped(&mut self) {
        self.cold_end_c = None;
    }

    /// Takes node values \[degC\] that were computed elsewhere, as those inside a heater; nodes that
    /// are not named stay empty.
    pub fn values(&mut self, time_s: f64, values: &[(&str, f64)]) {
        self.peak(time_s, values);
        self.sample(time_s);
    }

    /// As [`Recorder::values`], for the limits that hold always only: no sample is kept.
    pub fn peak(&mut self, time_s: f64, values: &[(&str, f64)]) {
        self.row.fill(f64::NAN);
        for (name, value) in values {
            if let Some(column) = self.names.iter().position(|n| n == name) {
                self.row[column] = *value;
            }
        }
        let stage = self.stage();
        let name = self.stages[stage].name.clone();
        for watch in &mut self.watched {
            if watch.in_stage(&name) {
                if watch.excess(&self.row).is_some_and(|e| e > 0.0) && watch.crossing_s.is_none() {
                    watch.crossing_s = Some(time_s);
                }
                watch.note(&self.row, stage, time_s);
            }
        }
    }

    /// Finds the columns of a part's nodes, where they are not those of the last reading.
    fn locate(&mut self, nodes: &Nodes) {
        if self.present != nodes.names() {
            self.present = nodes.names().to_vec();
            self.columns = self
                .present
                .iter()
                .filter_map(|n| self.names.iter().position(|m| m == n))
                .collect();
        }
        self.row.fill(f64::NAN);
    }

    /// Reads the nodes of the limits that hold always in stage `name`.
    fn read_watched(&mut self, solver: &Solver, nodes: &Nodes, name: &str) {
        self.locate(nodes);
        let (columns, watched) = (&self.columns, &self.watched);
        let wanted = |node: usize| {
            let column = columns.get(node);
            watched
                .iter()
                .any(|w| w.in_stage(name) && column.is_some_and(|c| w.needs(*c)))
        };
        let values = self.reader.read_some(solver, nodes, &wanted);
        for (node, (value, column)) in values.iter().zip(columns).enumerate() {
            self.row[*column] = *value;
            if !value.is_finite() && self.bad.is_none() && wanted(node) {
                self.bad = Some((self.present[node].clone(), solver.time_s()));
            }
        }
    }

    fn read(&mut self, solver: &Solver, nodes: &Nodes) {
        self.locate(nodes);
        for ((value, column), name) in self
            .reader
            .read(solver, nodes)
            .iter()
            .zip(&self.columns)
            .zip(&self.present)
        {
            self.row[*column] = *value;
            if !value.is_finite() && self.bad.is_none() {
                self.bad = Some((name.clone(), solver.time_s()));
            }
        }
    }

    /// All nodes as they are now.
    pub fn nodes_now(&mut self, part: &Part) -> Vec<Option<f64>> {
        self.read(&part.solver, &part.nodes);
        present(&self.row)
    }

    fn sample(&mut self, time_s: f64) {
        if self.keep {
            self.times.push((time_s, self.stage()));
            self.rows.extend_from_slice(&self.row);
        }
    }

    /// Takes a section map.
    pub fn map(&mut self, title: &str, part: &Part) {
        if self.keep {
            let stage = self.stage();
            if part.mesh.layout == Layout::Strips {
                let blocks = 0..part.mesh.grid.blocks().len();
                self.maps.extend(blocks.map(|b| block_map(title, stage, part, b)));
            } else {
                self.maps.push(section_map(title, stage, part));
            }
        }
    }

    /// Starts the record of a tool; jaws that close again in a stage go on with theirs.
    pub fn open_die(&mut self, record: DieRecord) {
        let again = self
            .dies
            .iter()
            .any(|d| d.stage == record.stage && d.body == record.body);
        if !again {
            self.dies.push(record);
        }
    }

    /// Mean and peak of a tool's face now.
    pub fn note_die(&mut self, body: &str, mean_c: f64, peak_c: f64) {
        let stage = self.stage();
        if let Some(record) = self.dies.iter_mut().rev().find(|d| d.stage == stage && d.body == body) {
            record.face_peak_c = record.face_peak_c.max(peak_c);
            record.face_end_c = mean_c;
        }
    }

    /// Adds heat of friction to a tool.
    pub fn note_friction(&mut self, body: &str, energy_kj: f64) {
        let stage = self.stage();
        if let Some(record) = self.dies.iter_mut().rev().find(|d| d.stage == stage && d.body == body) {
            record.friction_kj += energy_kj;
        }
    }

    /// Refuses results that are not numbers.
    pub fn check(&self, stage: &str) -> Result<(), RunError> {
        match &self.bad {
            Some((node, time_s)) => Err(RunError::NotANumber {
                stage: stage.to_owned(),
                node: node.clone(),
                time_s: *time_s,
            }),
            None => Ok(()),
        }
    }

    pub fn into_recorded(self) -> Recorded {
        let width = self.names.len().max(1);
        let (times, rows) = densified(&self.times, &self.rows, width);
        let samples = times
            .iter()
            .zip(rows.chunks(width))
            .map(|((time_s, stage), row)| Sample {
                time_s: *time_s,
                stage: *stage,
                temps_c: present(row),
            })
            .collect();
        Recorded {
            nodes: self.names,
            stages: self.stages,
            samples,
            moments: self.moments,
            maps: self.maps,
            dies: self.dies,
            ends: self.ends,
            scale: self.scale,
            watched: self.watched,
        }
    }
}

/// How far below the range of a property its end value is as good, K: a bar from an unheated store, where the
/// properties of steel change by some 0.1 % a kelvin at most.
const COLD_START_K: f64 = 40.0;
/// Below this a surface radiates less than a tenth of what it gives to the air, degC (1.2 kW/m2 at an emissivity of 0.8
/// against convection and the heat under it).
const COOL_C: f64 = 150.0;

impl Recorded {
    /// Warnings for properties of the part that conduction and radiation used outside their range.
    pub fn property_warnings(&self, plan: &Plan) -> Vec<Warning> {
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for moment in &self.moments {
            for t in moment.temps_c.iter().flatten() {
                low = low.min(*t);
                high = high.max(*t);
            }
        }
        let metal = &plan.metal;
        // A part whose exit state is given starts on the cooling branch.
        let cold_start = !matches!(plan.heater, Heater::Measured(_)) || metal.specific_heat_cooling.is_none();
        let own_emissivity = plan.stages.iter().any(|s| s.surroundings.emissivity.is_none());
        let mut curves = vec![("conductivity", &metal.conductivity)];
        if cold_start {
            curves.push(("specific heat on heating", &metal.specific_heat));
        }
        if let Some(cooling) = &metal.specific_heat_cooling {
            curves.push(("specific heat on cooling", cooling));
        }
        if own_emissivity {
            curves.push(("emissivity", &metal.emissivity));
        }
        curves
            .into_iter()
            .map(|(name, curve)| (name, curve.range_c))
            .filter(|(name, (from, to))| {
                let below = match *name {
                    // What is so cold hardly radiates.
                    "emissivity" if *from <= COOL_C => f64::INFINITY,
                    _ => COLD_START_K,
                };
                low < from - below || high > to + 0.5
            })
            .map(|(name, (from, to))| {
                let message = format!(
                    "{name} of {} is given for {from:.0} to {to:.0} degC; the part was between {low:.0} and \
                     {high:.0} degC, where the end value was used",
                    metal.name
                );
                let mut warning = Warning::new("property-extrapolated", message);
                warning
                    .tell("property", Datum::Term(name.to_owned()))
                    .tell("metal", Datum::Name(metal.name.clone()));
                for (place, temp_c) in [("from", from), ("to", to), ("low", low), ("high", high)] {
                    warning.tell(place, Datum::Celsius(temp_c));
                }
                warning
            })
            .collect()
    }
}

fn present(row: &[f64]) -> Vec<Option<f64>> {
    row.iter().map(|v| v.is_finite().then_some(*v)).collect()
}

fn section_map(title: &str, stage: usize, part: &Part) -> SectionMap {
    let grid = &part.mesh.grid;
    let axes = grid.axes();
    let axis = |name: &str, a: usize| MapAxis {
        name: name.to_owned(),
        faces_m: axes[a].faces().to_vec(),
    };
    let none = || MapAxis {
        name: "height".to_owned(),
        faces_m: Vec::new(),
    };
    let (across, up, cells): (MapAxis, MapAxis, Vec<usize>) = match part.mesh.layout {
        Layout::Radial => (axis("radius", 0), none(), (0..grid.cells()).collect()),
        Layout::Plate => (axis("distance from the middle", 0), none(), (0..grid.cells()).collect()),
        Layout::Axisymmetric => (axis("radius", 1), axis("height", 0), (0..grid.cells()).collect()),
        Layout::Quarter | Layout::Strips => (axis("x", 1), axis("y", 0), (0..grid.cells()).collect()),
        Layout::Bar => {
            // The plane of symmetry along the bar: the innermost layer of the middle axis.
            let shape = grid.shape();
            let cells = (0..shape[0])
                .flat_map(|i| (0..shape[2]).map(move |k| (i, k)))
                .map(|(i, k)| grid.index([i, 0, k]))
                .collect();
            (axis("x", 2), axis("length", 0), cells)
        }
    };
    let inside = |c: &usize| grid.active()[*c];
    SectionMap {
        title: title.to_owned(),
        stage,
        time_s: part.solver.time_s(),
        across,
        up,
        temps_c: cells
            .iter()
            .map(|c| inside(c).then(|| part.solver.temperature(*c)))
            .collect(),
        zone: cells.iter().map(|c| inside(c).then(|| part.mesh.zone[*c])).collect(),
        zones: part.mesh.zones.clone(),
    }
}

/// Map of one cross-section of a long part.
fn block_map(title: &str, stage: usize, part: &Part, block: usize) -> SectionMap {
    let grid = &part.mesh.grid;
    let own = &grid.blocks()[block];
    let (rows, columns) = (own.axes[0].cells(), own.axes[1].cells());
    let cells: Vec<usize> = (0..rows)
        .flat_map(|i| (0..columns).map(move |j| (i, j)))
        .map(|(i, j)| grid.index([i, own.first + j, 0]))
        .collect();
    let axis = |name: &str, a: usize| MapAxis {
        name: name.to_owned(),
        faces_m: own.axes[a].faces().to_vec(),
    };
    let inside = |c: &usize| grid.active()[*c];
    SectionMap {
        title: format!("{title}: {}", own.name),
        stage,
        time_s: part.solver.time_s(),
        across: axis(if own.symmetric { "distance from the middle" } else { "x" }, 1),
        up: axis("height", 0),
        temps_c: cells
            .iter()
            .map(|c| inside(c).then(|| part.solver.temperature(*c)))
            .collect(),
        zone: cells.iter().map(|c| inside(c).then(|| part.mesh.zone[*c])).collect(),
        zones: part.mesh.zones.clone(),
    }
}

/// All node names that a run of the plan can have, in the order of the columns.
fn node_names(plan: &Plan, first: &Nodes) -> Vec<String> {
    let mut names: Vec<String> = first.names().to_vec();
    for index in 0..plan.stages.len() {
        let Some(shape) = plan.shape_after(index) else { continue };
        let sections = shape.sections.iter().map(|s| s.name.as_str());
        let zones: Vec<&str> = sections.chain(shape.zones()).collect();
        if zones.len() < 2 && zones.first() == Some(&"body") {
            continue;
        }
        for zone in zones {
            for place in Place::OF_ZONE {
                let name = place.in_zone(zone);
                if !names.contains(&name) {
                    names.push(name);
                }
            }
        }
    }
    names
}
