//! Square and rectangular bars in coils: hand-over of heat, energy, corners, the line's start field.

use billet_thermal::inside::heater::coil::{Coil, Drive};
use billet_thermal::inside::heater::field::skin_depth;
use billet_thermal::inside::heater::fixed::{FixedCoil, PowerStep, disc_to_opening};
use billet_thermal::inside::heater::line::{Motion, StopMode, ZoneKind, stoppage, takt_change};
use billet_thermal::inside::heater::lining::Lining;
use billet_thermal::inside::heater::{Bar, Fineness, SectionField, Slice};

use crate::heater_line::{criteria, drives, three_coils};
use crate::heater_steel::carbon_steel;

fn square(side: f64) -> Bar {
    Bar::rectangle(side, side, carbon_steel(), 2000.0, Fineness::quick().in_two_axes()).unwrap()
}

/// Mains to steel closes for square billets, and what the field puts in is what the slices got.
#[test]
fn energy_of_a_square_line_closes() {
    let bar = square(0.045);
    for motion in [Motion::Continuous, Motion::Indexed] {
        let steady = three_coils(motion)
            .steady(&bar, &drives(&[60e3, 40e3, 20e3]), 1)
            .unwrap();
        assert!(steady.balance.imbalance.abs() < 1e-6, "{:e}", steady.balance.imbalance);
        assert!(steady.exit.mean_c > 700.0, "{}", steady.exit.mean_c);
        // The whole section is handed on, and its corner is in the hottest point or below it.
        let section = &steady.exit.sections[0];
        let corner = section.at(1.0, 1.0);
        assert!(corner <= steady.exit.hottest_c + 1e-9);
        assert!((section.at(1.0, 0.0) - steady.exit.surface_c).abs() < 1.0);
        // Nothing leaps in the last tenth towards the corner.
        assert!(
            (corner - section.at(0.9, 0.9)).abs() < 10.0,
            "{corner} {}",
            section.at(0.9, 0.9)
        );
    }
}

/// The field hands over P'' times perimeter, whatever the thermal grid (Poynting sum to 1e-6).
#[test]
fn a_slice_gets_the_power_of_its_surface() {
    for bar in [
        square(0.05),
        Bar::rectangle(0.08, 0.03, carbon_steel(), 2000.0, Fineness::quick()).unwrap(),
    ] {
        for start in [20.0, 1200.0] {
            let mut slice = Slice::new(&bar, start);
            let z = slice.impedance(&bar, 0, 1000.0, 1e5, 0.1).unwrap();
            slice.advance(&bar, Some((0, 1e5)), 0.1).unwrap();
            let power = slice.energies().0 / 0.1;
            let want = z.resistance * 1e10 * bar.perimeter_m();
            assert!((power / want - 1.0).abs() < 1e-6, "{power} {want}");
        }
    }
}

/// Hot square bar of 50 mm at 1 kHz and 1e5 A/m: 7.04e4 W/m for 1.15e-6 ohm m, from the Fourier
/// series of the uniform section. K_T changes slowly with the side, so the power of this steel at
/// 1200 degC is compared after scaling to its own resistivity.
#[test]
fn hot_square_takes_the_power_of_the_series_solution() {
    let bar = Bar::rectangle(0.05, 0.05, carbon_steel(), 2000.0, Fineness::standard().in_two_axes()).unwrap();
    let mut slice = Slice::new(&bar, 1200.0);
    let z = slice.impedance(&bar, 0, 1000.0, 1e5, 0.1).unwrap();
    let metal = bar.metal();
    let rho = billet_thermal::inside::heater::field::Medium::resistivity_ohm_m(&**metal, 1200.0);
    let k_t = crate::eddy_exact::square_factors(rho, 1.0, 1000.0, 0.05).re;
    let want = rho / skin_depth(rho, 1.0, 1000.0) * k_t;
    assert!((z.resistance / want - 1.0).abs() < 5e-3, "{} {want}", z.resistance);
}

/// A kept field stays within its bound: the exit of a line moves by less than 0.03 K when every field
/// is solved anew.
#[test]
fn reuse_over_a_section_moves_nothing_that_counts() {
    let at = |reuse: f64| {
        let mut fine = Fineness::quick().in_two_axes();
        fine.field.reuse = reuse;
        let bar = Bar::rectangle(0.045, 0.045, carbon_steel(), 2000.0, fine).unwrap();
        let line = three_coils(Motion::Continuous);
        line.steady(&bar, &drives(&[60e3, 40e3, 20e3]), 1).unwrap()
    };
    let (kept, anew) = (at(0.02), at(0.0));
    assert!(kept.field_solves.1 > 0 && anew.field_solves.1 == 0);
    for (a, b) in [
        (kept.exit.mean_c, anew.exit.mean_c),
        (kept.exit.peak_c, anew.exit.peak_c),
        (kept.exit.core_c, anew.exit.core_c),
    ] {
        assert!((a - b).abs() < 0.03, "{a} {b}");
    }
}

/// High frequency on a hot bar leaves the corner above the middle of the face while power is on: two
/// faces feed it, although |J| falls to 0 in the very corner; low frequency leaves it below.
#[test]
fn corners_overheat_at_high_frequency_only() {
    let after = |frequency: f64| -> SectionField {
        let bar = Bar::rectangle(0.06, 0.06, carbon_steel(), 10_000.0, Fineness::quick().in_two_axes()).unwrap();
        let mut slice = Slice::new(&bar, 900.0);
        for _ in 0..40 {
            let z = slice.impedance(&bar, 0, frequency, 5e4, 0.5).unwrap();
            // The same power into the surface each time.
            let h0 = (4e5 / z.resistance).sqrt();
            slice.advance(&bar, Some((0, h0)), 0.5).unwrap();
        }
        slice.section(&bar).unwrap()
    };
    let excess = |s: &SectionField| s.at(0.95, 0.95) - s.at(0.95, 0.0);
    let (low, high) = (after(500.0), after(10_000.0));
    assert!(excess(&low) < 0.0, "{}", excess(&low));
    assert!(excess(&high) > 0.0, "{}", excess(&high));
}

/// A static coil with a square billet: the ledger closes, the ends are colder.
#[test]
fn a_square_charge_closes_its_energy() {
    let set = FixedCoil {
        coil: Coil::new(0.3, 0.14, 1000.0).unwrap(),
        lining: Lining {
            inner_m: 0.11,
            outer_m: 0.14,
            conductivity: 0.4,
            emissivity: 0.8,
            coil_c: 50.0,
        },
        billet_m: 0.18,
        billets: 1,
        start_c: 20.0,
        ambient_c: 25.0,
        steps: vec![
            PowerStep {
                seconds: 60.0,
                drive: Drive::Terminals(100e3),
            },
            PowerStep {
                seconds: 30.0,
                drive: Drive::Load(5e3),
            },
        ],
    };
    let bar = square(0.07);
    let result = set.heat(&bar).unwrap();
    let c = &result.charge;
    let rest = c.terminals_j - c.winding_j - c.lining_j - c.ends_j - c.steel_j;
    assert!(rest.abs() < 1e-6 * c.terminals_j, "{rest}");
    assert!((c.mass_kg / (0.07 * 0.07 * 0.18 * bar.metal().thermal().density) - 1.0).abs() < 1e-9);
    let surface = |j: usize| result.exit.sections[j].at(1.0, 0.0);
    assert!(surface(0) < surface(result.exit.sections.len() / 2));
    // A square is the same across and up.
    for section in &result.exit.sections {
        for place in [0.0, 0.5, 0.9] {
            let (across, up) = (section.at(1.0, place), section.at(place, 1.0));
            assert!((across - up).abs() < 0.05, "{across} {up}");
        }
    }
    // What the ends lose in a second more without power: radiation through the openings, ε σ F (T⁴ − T_a⁴), and a
    // film of 5 to 15 W/m²K, from their mean temperature.
    let mut longer = set.clone();
    longer.steps.push(PowerStep {
        seconds: 1.0,
        drive: Drive::Terminals(0.0),
    });
    let after = longer.heat(&bar).unwrap();
    let lost_w = after.charge.ends_j - c.ends_j;
    let end = &result.exit.sections[0];
    let places = [0.1, 0.3, 0.5, 0.7, 0.9];
    let mean_c = places.iter().flat_map(|x| places.map(|y| end.at(*x, y))).sum::<f64>() / 25.0;
    let recess_m = 0.5 * (0.3 - 0.18);
    let view = disc_to_opening(0.5 * bar.section_diameter_m(), 0.055, recess_m);
    let kelvin4 = |t: f64| (t + 273.15).powi(4);
    let rays = 0.8 * 5.670_374e-8 * view * (kelvin4(mean_c) - kelvin4(25.0));
    let by_hand = |film: f64| 2.0 * 0.07 * 0.07 * (rays + film * (mean_c - 25.0));
    assert!(
        lost_w > by_hand(5.0) && lost_w < by_hand(15.0),
        "{lost_w} {} {}",
        by_hand(5.0),
        by_hand(15.0)
    );
}

/// The diagonal must pass the lining.
#[test]
fn a_diagonal_larger_than_the_bore_is_refused() {
    let line = three_coils(Motion::Continuous);
    let Some(ZoneKind::Coil { lining, .. }) = line.zones.first().map(|z| &z.kind) else {
        panic!("first zone is a coil");
    };
    let side = lining.inner_m * 0.75;
    let error = line.check(&square(side)).unwrap_err().to_string();
    assert!(error.contains("does not fit"), "{error}");
}

/// A stop of no length leaves the column of square billets as it was.
#[test]
fn a_stop_of_no_length_changes_nothing() {
    let bar = square(0.045);
    let line = three_coils(Motion::Continuous);
    let drives = drives(&[60e3, 40e3, 20e3]);
    let steady = line.steady(&bar, &drives, 1).unwrap();
    let study = stoppage(&line, &bar, &drives, 1, (0.0, &StopMode::Off), 3, &criteria()).unwrap();
    for billet in &study.billets {
        let off = billet.billet.mean_c - steady.exit.mean_c;
        assert!(off.abs() < 2.0, "{off}");
    }
    // It is the run of a column that goes on at its pace and power.
    let on = takt_change(&line, &bar, &drives, 1, (line.takt_s, &drives), 3, &criteria()).unwrap();
    assert_eq!(on.billets.len(), study.billets.len());
    for (a, b) in study.billets.iter().zip(&on.billets) {
        let (a, b) = (&a.billet, &b.billet);
        assert!((a.mean_c - b.mean_c).abs() < 1e-6, "{} {}", a.mean_c, b.mean_c);
    }
}
