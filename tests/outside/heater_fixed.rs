//! The static coil: energy, ends, and agreement with the long bar far from them.

use billet_thermal::inside::heater::coil::{Coil, Drive};
use billet_thermal::inside::heater::fixed::{FixedCoil, PowerStep};
use billet_thermal::inside::heater::line::{HeaterLine, Motion, Zone, ZoneKind};
use billet_thermal::inside::heater::lining::Lining;
use billet_thermal::inside::heater::{Bar, Fineness};

use crate::heater_steel::carbon_steel;

fn set(billets: usize, steps: Vec<PowerStep>) -> FixedCoil {
    FixedCoil {
        coil: Coil::new(0.6, 0.14, 1000.0).unwrap(),
        lining: Lining {
            inner_m: 0.11,
            outer_m: 0.14,
            conductivity: 0.4,
            emissivity: 0.8,
            coil_c: 50.0,
        },
        billet_m: 0.18,
        billets,
        start_c: 20.0,
        ambient_c: 25.0,
        steps,
    }
}

fn bar() -> Bar {
    Bar::round(0.045, carbon_steel(), 1000.0, Fineness::standard()).unwrap()
}

#[test]
fn a_charge_closes_its_energy_and_its_ends_are_colder() {
    let steps = vec![
        PowerStep {
            seconds: 60.0,
            drive: Drive::Terminals(130e3),
        },
        PowerStep {
            seconds: 60.0,
            drive: Drive::Terminals(60e3),
        },
        PowerStep {
            seconds: 60.0,
            drive: Drive::Load(8e3),
        },
    ];
    let set = set(1, steps);
    let result = set.heat(&bar()).unwrap();
    let c = result.charge;
    let rest = c.terminals_j - c.winding_j - c.lining_j - c.ends_j - c.steel_j;
    assert!((rest / c.terminals_j).abs() < 1e-6, "{c:?}");
    // 60 s at 130 kW, 60 s at 60 kW, and what 8 kW in the steel takes at the terminals.
    assert!(c.terminals_j > 60.0 * 190e3 + 60.0 * 8e3 && c.ends_j > 0.0);
    let exit = &result.exit;
    let n = exit.along.len();
    assert!(
        (exit.along[0] + exit.along[n - 1] - 1.0).abs() < 1e-12,
        "symmetric places"
    );
    let surface = |j: usize| exit.profiles[j][exit.profiles[j].len() - 1].1;
    assert!((surface(0) - surface(n - 1)).abs() < 1e-9);
    assert!(surface(0) < surface(n / 2) - 5.0, "{} {}", surface(0), surface(n / 2));
    assert!(exit.peak_c >= exit.hottest_c);
}

/// At mid-length of a long charge the ends are not felt: the same bar standing still in an endless
/// piece of the same field, followed as a slice, reaches the same temperatures.
#[test]
fn the_middle_of_a_long_charge_is_a_long_bar() {
    let bar = bar();
    let field = 9e4;
    let step = PowerStep {
        seconds: 60.0,
        drive: Drive::Field(field),
    };
    // One billet as long as three: what is shown of a charge is the middle of its outermost billet.
    let charge = FixedCoil {
        billet_m: 0.54,
        ..set(1, vec![step])
    };
    let charge = charge.heat(&bar).unwrap();
    let middle = charge.track[charge.track.len() - 1];
    // One coil passed in 60 s by one billet that is as long as it: the same 60 s in the field.
    let line = HeaterLine {
        zones: vec![Zone {
            name: "coil".into(),
            length_m: 0.6,
            kind: ZoneKind::Coil {
                coil: set(1, Vec::new()).coil,
                lining: set(1, Vec::new()).lining,
            },
        }],
        converters: Vec::new(),
        billet_m: 0.6,
        takt_s: 60.0,
        motion: Motion::Continuous,
        start_c: 20.0,
        ambient_c: 25.0,
    };
    let exit = line.steady(&bar, &[Drive::Field(field)], 1).unwrap().exit;
    assert!(
        (middle.core_c - exit.core_c).abs() < 1.0,
        "{} {}",
        middle.core_c,
        exit.core_c
    );
    assert!(
        (middle.surface_c - exit.surface_c).abs() < 1.0,
        "{} {}",
        middle.surface_c,
        exit.surface_c
    );
}

#[test]
fn a_charge_longer_than_the_coil_is_refused() {
    let error = set(4, Vec::new()).heat(&bar()).unwrap_err().to_string();
    assert!(error.contains("0.72"), "{error}");
}
