//! Conduction alone: a long bar of 60 mm cools in an oil bath. How long until its core is at 400 degC?
//!
//! `cargo run --example quench_of_a_bar`

use std::error::Error;
use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Exchange, Law, Solver, Tolerance};
use billet_thermal::steel::ThermalTable;

/// Radius of the bar, m.
pub const RADIUS_M: f64 = 0.03;
/// Conductivity, W/mK; specific heat, J/kgK; density, kg/m³.
pub const METAL: (f64, f64, f64) = (28.0, 650.0, 7800.0);
/// Film coefficient of the bath, W/m²K, and its temperature, degC.
pub const BATH: (f64, f64) = (900.0, 60.0);
/// Temperature of the bar at the start and of its core at the end, degC.
pub const FROM_TO_C: (f64, f64) = (850.0, 400.0);

/// Time at which the core passes the wanted temperature, s.
pub fn quench() -> Result<f64, Box<dyn Error>> {
    let radius = Axis::graded(AxisKind::Radial, 0.0, RADIUS_M, None, Some(2e-4), 1.2, 1e-3)?;
    let grid = Grid::new(vec![radius])?;
    let (conductivity, specific_heat, density) = METAL;
    let metal = ThermalTable::constant(conductivity, specific_heat, density);
    let mut bar = Solver::uniform(Arc::new(grid), Arc::new(metal), FROM_TO_C.0, Tolerance::kelvin(0.01));
    let account = bar.account("bath");
    let exchange = Exchange::film(BATH.0, BATH.1);
    // Face group 1 is the high side of the first axis: the skin of the bar.
    bar.set_law(
        1,
        Law::Exchange {
            exchange,
            share: 1.0,
            account,
        },
    );

    let core_above = |bar: &Solver| bar.temperature(0) - FROM_TO_C.1;
    let mut passed = None;
    while passed.is_none() && bar.time_s() < 600.0 {
        bar.advance(bar.time_s() + 5.0, &mut |bar| {
            if passed.is_none() && core_above(bar) <= 0.0 {
                passed = bar.crossing(&core_above);
            }
        })?;
    }
    let seconds = passed.ok_or("the core stays hot")?;
    println!("The core is at {} degC after {seconds:.1} s.", FROM_TO_C.1);
    println!(
        "In {} s the bar gave the bath {:.1} MJ a metre; the books close to {:.0e}.",
        bar.time_s(),
        -bar.ledger().energy("bath") * 1e-6,
        bar.ledger().imbalance().abs()
    );
    Ok(seconds)
}

/// Runs the example.
pub fn main() -> Result<(), Box<dyn Error>> {
    quench().map(|_| ())
}
