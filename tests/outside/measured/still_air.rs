//! Rods of aluminium that cool in still room air.
//!
//! A student laboratory of 2023 (university course, no licence: used as facts): rods of 25.2 x 305 mm, thermistor
//! within 0.2 K, room 21.5 to 24.2 degC. Loss per area and kelvin at 64 degC: polished 7.4, rough 9.4, lacquered
//! 11.7 W/m²K.

use billet_thermal::surface::{Geometry, film_coefficient, radiation};

use super::Row;

pub fn rows() -> Vec<Row> {
    let rod = Geometry::HorizontalCylinder { diameter_m: 0.0252 };
    let total = |emissivity: f64| {
        film_coefficient(rod, 64.0, 23.0, 0.0).unwrap() + radiation::coefficient(emissivity, 1.0, 64.0, 23.0).unwrap()
    };
    // Emissivity of polished aluminium 0.05, of clear lacquer 0.65 (handbook, from memory).
    [
        ("polished rod, emissivity 0.05", 7.4, total(0.05)),
        ("lacquered rod, emissivity 0.65", 11.7, total(0.65)),
    ]
    .map(|(what, reference, ours)| Row {
        check: format!("loss of a horizontal {what}, at 64 degC in 23 degC"),
        source: "student laboratory 2023",
        unit: "W/m2K",
        reference,
        ours,
        uncertainty: "5 % (taken)",
        bound: 0.08 * reference,
    })
    .into()
}
