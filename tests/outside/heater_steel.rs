//! A carbon steel for the heater's tests, from published formulas: EN 1993-1-2:2005 3.4.1.2 and
//! 3.4.1.3 (specific heat and conductivity), resistivity fit to the 0.4 % C column of
//! BISRA/Smithells (maximum error 1.8 %), permeability mu = 1 + Js/(mu0 (H + a)) [1 - (T/Tc)^2]
//! fitted to annealed carbon-steel forgings (Metals Handbook, 8th ed., vol. 1, 1966, p. 792).

use std::sync::Arc;

use billet_thermal::inside::heater::Metal;
use billet_thermal::steel::ThermalTable;

use crate::eddy_exact::MU_0;

pub fn specific_heat(t: f64) -> f64 {
    if t < 600.0 {
        425.0 + 0.773 * t - 1.69e-3 * t * t + 2.22e-6 * t.powi(3)
    } else if t < 735.0 {
        666.0 + 13002.0 / (738.0 - t)
    } else if t < 900.0 {
        545.0 + 17820.0 / (t - 731.0)
    } else {
        650.0
    }
}

pub fn conductivity(t: f64) -> f64 {
    if t < 800.0 { 54.0 - 0.0333 * t } else { 27.3 }
}

pub fn resistivity(t: f64) -> f64 {
    let at = |t: f64| 0.1668 + 5.61e-4 * (t - 20.0) + 8.205e-7 * (t - 20.0).powi(2);
    let rho = if t < 760.0 {
        at(t)
    } else if t < 800.0 {
        at(760.0) + (1.111 - at(760.0)) * (t - 760.0) / 40.0
    } else {
        1.111 + 3.0e-4 * (t - 800.0)
    };
    rho * 1e-6
}

pub fn permeability(h: f64, t: f64) -> f64 {
    let ratio = t.max(0.0) / 760.0;
    1.0 + 2.012 / (MU_0 * (h + 1067.0)) * (1.0 - ratio * ratio).max(0.0)
}

pub fn carbon_steel() -> Arc<Metal> {
    let thermal = ThermalTable::from_functions(
        7850.0,
        (-60.0, 1600.0),
        &conductivity,
        &specific_heat,
        None,
        f64::INFINITY,
    );
    Arc::new(
        Metal::new(
            Arc::new(thermal),
            &resistivity,
            Some((760.0, Arc::new(permeability))),
            0.8,
        )
        .unwrap(),
    )
}
