//! Time of one line: reading its file, following the part, and what both are made of.

use std::hint::black_box;
use std::sync::Arc;

use billet_thermal::body::{Fineness, Mesh, NodeSource, Nodes, Shape, Touched};
use billet_thermal::conduction::{FaceTemperatures, Solver, Tolerance};
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::steel::{Library, Steel};
use criterion::{Criterion, criterion_group, criterion_main};

const HUB: &str = "examples/hub.toml";

fn hub() -> Document {
    Document::load(HUB).unwrap_or_else(|error| panic!("{error}"))
}

fn traces(c: &mut Criterion) {
    let document = hub();
    let mut group = c.benchmark_group("hub trace");
    group.sample_size(20);
    for (name, resolution) in [("quick", Resolution::Quick), ("standard", Resolution::Standard)] {
        let bare = RunOptions {
            resolution: Some(resolution),
            ..RunOptions::bare()
        };
        group.bench_function(format!("{name}, verdicts"), |b| {
            b.iter(|| run(black_box(document.plan()), &bare).unwrap());
        });
        let recorded = RunOptions { record: true, ..bare };
        group.bench_function(format!("{name}, samples and maps"), |b| {
            b.iter(|| run(black_box(document.plan()), &recorded).unwrap());
        });
        let whole = RunOptions { ..recorded };
        group.bench_function(format!("{name}, margins in seconds too"), |b| {
            b.iter(|| run(black_box(document.plan()), &whole).unwrap());
        });
    }
    group.finish();
}

fn files(c: &mut Criterion) {
    let text = std::fs::read_to_string(HUB).unwrap();
    c.bench_function("read and check the hub file", |b| {
        b.iter(|| Document::parse(black_box(text.as_str()), HUB).unwrap());
    });
    let document = hub();
    c.bench_function("change one number of the hub file", |b| {
        b.iter(|| document.with(black_box(&[("heater.surface_c", 1235.0)])).unwrap());
    });
}

fn tables(c: &mut Criterion) {
    let text = std::fs::read_to_string("materials/42crmo4.toml").unwrap();
    c.bench_function("read a steel and make its thermal table", |b| {
        b.iter(|| {
            Steel::from_library_str(black_box(&text), "42crmo4.toml")
                .unwrap()
                .thermal()
        });
    });
}

fn nodes(c: &mut Criterion) {
    let fine = Fineness {
        contact_m: 5e-5,
        free_m: 3e-4,
        inner_share: 0.07,
        growth: 1.6.into(),
        span_share: 0.34,
    };
    let touched = Touched {
        ends: true,
        side: false,
    };
    let mesh = Mesh::rings(&Shape::disc(0.03, 0.14), &fine, touched).unwrap();
    let medium = Library::builtin().unwrap().find("42CrMo4").unwrap().thermal();
    let solver = Solver::uniform(mesh.grid.clone(), Arc::clone(&medium), 1200.0, Tolerance::kelvin(1.0));
    let nodes = Nodes::of(&mesh);
    let (mut cells, mut faces, mut values) = (Vec::new(), FaceTemperatures::default(), Vec::new());
    c.bench_function("read the nodes of a billet", |b| {
        b.iter(|| {
            solver.read_cells(&mut cells);
            solver.read_faces(&mut faces);
            let source = NodeSource {
                cells_c: &cells,
                faces_c: &faces.temps_c,
                enthalpy: solver.enthalpy(),
                temperature_of: &|_, h| medium.heating.at(h).temp_c,
            };
            nodes.values(black_box(&source), &mut values);
        });
    });
    c.bench_function("find the nodes of a billet", |b| b.iter(|| Nodes::of(black_box(&mesh))));
}

criterion_group!(benches, traces, files, tables, nodes);
criterion_main!(benches);
