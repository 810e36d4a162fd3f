//! Heating into the austenite and cooling from it: which branch of the enthalpy a cell follows, and what the way
//! through the peak of the specific heat costs.

use std::sync::Arc;

use billet_thermal::body::AxisKind;
use billet_thermal::conduction::Exchange;
use billet_thermal::steel::{Library, ThermalTable};

use super::conduction_support::*;

/// A thin plate under a given flux, by hand: 600 J/kgK on heating; on cooling, once it has been above 800 degC
/// where it is all austenite, 600 above and 500 below. It takes 528 kJ/kg to 900 degC, and after 360 kJ/kg out again is
/// at 800 - (360 - 60)/0.5 = 200 degC. What has only been at 700 degC goes back the way it came.
#[test]
fn what_has_been_austenite_cools_on_the_cooling_branch() {
    let (thick, rho, flux) = (1e-3, 7800.0, 1e5);
    let back = |t: f64| if t < 800.0 { 500.0 } else { 600.0 };
    let table = ThermalTable::from_functions(rho, (-50.0, 1300.0), &|_| 3000.0, &|_| 600.0, Some(&back), 800.0);
    let table = Arc::new(table);
    for (top_c, out_j_kg, end_c) in [(900.0, 360e3, 200.0), (700.0, 300e3, 200.0), (900.0, 60e3, 800.0)] {
        let mut plate = solver(vec![uniform(AxisKind::Linear, thick, 4)], &table, 20.0, 1e-3);
        let seconds = |j_kg: f64| j_kg * rho * thick / flux;
        expose(&mut plate, HIGH, "fire", Exchange::flux(flux));
        let hot_s = seconds(600.0 * (top_c - 20.0));
        run(&mut plate, hot_s);
        assert!((plate.temperature(0) - top_c).abs() < 0.1, "{}", plate.temperature(0));
        expose(&mut plate, HIGH, "water", Exchange::flux(-flux));
        run(&mut plate, hot_s + seconds(out_j_kg));
        for t in plate.temperatures() {
            assert!((t - end_c).abs() < 0.1, "from {top_c}: {t} {end_c}");
        }
    }
}

/// Steps of a bar of C45, 60 mm, that is heated in a furnace through the transformation and of one that cools
/// through it in air, as counted, with a tenth to spare: the answer stays, the cost must not grow.
#[test]
fn the_way_through_the_transformation_takes_the_steps_it_took() {
    let steel = Library::builtin().unwrap().find("C45").unwrap();
    for (start_c, around_c, until_s, steps) in [(20.0, 1200.0, 2400.0, 95), (850.0, 25.0, 400.0, 25)] {
        let axis = towards_face(AxisKind::Radial, 0.03, 1e-3, 3e-3);
        let mut bar = solver(vec![axis], &steel.thermal(), start_c, 1.0);
        expose(&mut bar, HIGH, "air", Exchange::air(15.0, 0.8, around_c));
        run(&mut bar, until_s);
        let work = bar.work();
        let taken = work.steps + work.rejected;
        assert!(taken <= steps, "from {start_c}: {work:?}");
    }
}
