//! The column of billets: energy, limits, order and direction of effects.

use std::time::Instant;

use billet_thermal::heater::coil::{Coil, Drive};
use billet_thermal::heater::line::{HeaterLine, Motion, Zone, ZoneKind};
use billet_thermal::heater::lining::Lining;
use billet_thermal::heater::{Bar, Fineness};

use crate::heater_steel::carbon_steel;

fn coil_zone(name: &str, length: f64, frequency: f64) -> Zone {
    Zone {
        name: name.into(),
        length_m: length,
        kind: ZoneKind::Coil {
            coil: Coil::new(length, 0.1, frequency).unwrap(),
            lining: Lining {
                inner_m: 0.072,
                outer_m: 0.092,
                conductivity: 0.3,
                emissivity: 0.8,
                coil_c: 50.0,
            },
        },
    }
}

fn open_zone(name: &str, length: f64) -> Zone {
    Zone {
        name: name.into(),
        length_m: length,
        kind: ZoneKind::Open,
    }
}

/// Three coils for a 60 mm bar of 140 mm billets at 14 s.
pub fn three_coils(motion: Motion) -> HeaterLine {
    HeaterLine {
        zones: vec![
            coil_zone("coil 1", 0.9, 1000.0),
            open_zone("gap 1", 0.1),
            coil_zone("coil 2", 0.9, 1000.0),
            open_zone("gap 2", 0.1),
            coil_zone("coil 3", 0.9, 2000.0),
        ],
        billet_m: 0.14,
        takt_s: 14.0,
        motion,
        start_c: 20.0,
        ambient_c: 25.0,
    }
}

pub const POWERS: [f64; 3] = [140e3, 110e3, 70e3];

fn bar(fineness: Fineness) -> Bar {
    Bar::round(0.03, carbon_steel(), 2000.0, fineness).unwrap()
}

fn drives(powers: &[f64]) -> Vec<Drive> {
    powers.iter().map(|p| Drive::Terminals(*p)).collect()
}

#[test]
fn probe() {
    for (name, fineness) in [
        ("quick", Fineness::quick()),
        ("standard", Fineness::standard()),
        ("fine", Fineness::fine()),
    ] {
        let bar = bar(fineness);
        for (motion, slices) in [(Motion::Continuous, 1), (Motion::Indexed, 1), (Motion::Indexed, 3)] {
            let t = Instant::now();
            let steady = three_coils(motion).steady(&bar, &drives(&POWERS), slices).unwrap();
            println!(
                "{name} {motion:?} {slices}: {:?} cells {:?} steps {} field {:?}\n  {:?} core {:.1} surf {:.1} mean {:.1} hot {:.1} peak {:.1}",
                t.elapsed(),
                bar.cells(),
                steady.steps,
                steady.field_solves,
                steady.balance,
                steady.exit.core_c,
                steady.exit.surface_c,
                steady.exit.mean_c,
                steady.exit.hottest_c,
                steady.exit.peak_c
            );
            for c in &steady.coils {
                println!("    {c:?}");
            }
        }
    }
}
