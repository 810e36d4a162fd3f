//! Time of the heater: one field, a line to its periodic state, set-points, start-up and stoppage.

use std::hint::black_box;
use std::sync::Arc;

use billet_thermal::inside::heater::coil::{Coil, Drive};
use billet_thermal::inside::heater::field::{FieldOptions, LineSection, Medium, Mesh, Symmetry};
use billet_thermal::inside::heater::line::{
    Criteria, Filling, HeaterLine, Motion, StopMode, Target, Zone, ZoneKind, start_up, stoppage,
};
use billet_thermal::inside::heater::lining::Lining;
use billet_thermal::inside::heater::search::{Goal, Least, find_powers};
use billet_thermal::inside::heater::{Bar, Fineness, Metal};
use billet_thermal::steel::Library;
use criterion::{Criterion, criterion_group, criterion_main};

fn metal() -> Arc<Metal> {
    let steel = Library::builtin().and_then(|l| l.find("42CrMo4")).unwrap();
    Arc::new(Metal::of(&steel, None).unwrap())
}

/// `coils` coils of `billets` billets each, 60 mm bar, 140 mm billets, 14 s.
fn line(coils: usize, billets: usize, motion: Motion) -> HeaterLine {
    let length = 0.14 * billets as f64;
    let zones = (0..coils)
        .map(|i| Zone {
            name: format!("coil {}", i + 1),
            length_m: length,
            kind: ZoneKind::Coil {
                coil: Coil::new(length, 0.1, if i + 1 == coils { 2000.0 } else { 1000.0 }).unwrap(),
                lining: Lining {
                    inner_m: 0.076,
                    outer_m: 0.1,
                    conductivity: 0.4,
                    emissivity: 0.8,
                    coil_c: 50.0,
                },
            },
        })
        .collect();
    HeaterLine {
        zones,
        converters: Vec::new(),
        billet_m: 0.14,
        takt_s: 14.0,
        motion,
        start_c: 20.0,
        ambient_c: 25.0,
    }
}

fn field(c: &mut Criterion) {
    let metal = metal();
    let mesh = Mesh::for_skin(0.03, 1e-3, 6.0).unwrap();
    let section = LineSection::new(Symmetry::Radial, &mesh);
    let mut work = section.workspace();
    let options = FieldOptions {
        reuse: 0.0,
        ..FieldOptions::default()
    };
    let mut group = c.benchmark_group("field");
    for (name, temp_c) in [("saturated, 400 degC", 400.0), ("hot, 1200 degC", 1200.0)] {
        let temps = vec![temp_c; section.cells()];
        let medium: &dyn Medium = &*metal;
        group.bench_function(name, |b| {
            b.iter(|| {
                section
                    .solve(medium, black_box(&temps), 1000.0, 1e5, &options, &mut work)
                    .unwrap()
            });
        });
    }
    group.finish();
}

fn lines(c: &mut Criterion) {
    let bar = Bar::round(0.03, metal(), 2000.0, Fineness::standard()).unwrap();
    let powers = [70e3, 125e3, 52e3].map(Drive::Terminals);
    let mut group = c.benchmark_group("heater line");
    group.sample_size(10);
    for (name, motion, slices) in [("steady", Motion::Continuous, 1), ("indexed", Motion::Indexed, 3)] {
        let three = line(3, 7, motion);
        group.bench_function(format!("three coils, {name}: periodic state"), |b| {
            b.iter(|| three.steady(&bar, black_box(&powers), slices).unwrap());
        });
        let goal = Goal {
            target: Target::Mean,
            value_c: 1230.0,
            after_s: 0.0,
            difference_k: Some(50.0),
            never_above_c: 1280.0,
            tolerance_k: 1.0,
            least: Least::Energy,
        };
        let five = line(5, 4, motion);
        group.bench_function(format!("five coils, {name}: set-points"), |b| {
            b.iter(|| find_powers(&five, &bar, black_box(&goal), &[150e3; 5], None, slices).unwrap());
        });
        let thirty = line(3, 10, motion);
        let criteria = Criteria {
            at_least: (Target::Mean, 1200.0),
            at_most_c: None,
            never_above_c: 1280.0,
            difference_k: None,
        };
        group.bench_function(format!("thirty billets, {name}: cold start"), |b| {
            let cold = Filling::Uniform(20.0);
            b.iter(|| start_up(&thirty, &bar, &powers, slices, cold, 60, &criteria).unwrap());
        });
        group.bench_function(format!("thirty billets, {name}: stop of 600 s and restart"), |b| {
            b.iter(|| stoppage(&thirty, &bar, &powers, slices, (600.0, &StopMode::Off), 40, &criteria).unwrap());
        });
    }
    group.finish();
}

fn square(c: &mut Criterion) {
    let mut group = c.benchmark_group("square bar");
    group.sample_size(10);
    for (name, fineness) in [("quick", Fineness::quick()), ("standard", Fineness::standard())] {
        let bar = Bar::rectangle(0.05, 0.05, metal(), 2000.0, fineness.in_two_axes()).unwrap();
        let three = line(3, 7, Motion::Continuous);
        let powers = [70e3, 125e3, 52e3].map(Drive::Terminals);
        group.bench_function(format!("three coils, {name}: periodic state"), |b| {
            b.iter(|| three.steady(&bar, black_box(&powers), 1).unwrap());
        });
    }
    group.finish();
}

criterion_group!(benches, field, lines, square);
criterion_main!(benches);
