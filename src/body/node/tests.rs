//! Nodes of a known field.

use super::super::mesh::{TEST_FINE, Touched};
use super::super::shape::Shape;
use super::*;

/// A field that is linear along the bar and quadratic across has known node values.
#[test]
fn nodes_of_a_known_field() {
    let mesh = Mesh::rings(
        &Shape::disc(0.03, 0.14),
        &TEST_FINE,
        Touched {
            ends: true,
            side: false,
        },
    )
    .unwrap();
    let field = |z: f64, r: f64| 1000.0 + 1000.0 * z - 1e5 * r * r;
    let grid = &mesh.grid;
    let cells: Vec<f64> = (0..grid.cells())
        .map(|c| {
            let at = grid.position(c);
            field(grid.axes()[0].centre(at[0]), grid.axes()[1].centre(at[1]))
        })
        .collect();
    let faces: Vec<f64> = grid.faces().iter().map(|f| field(f.at[0], f.at[1])).collect();
    let source = NodeSource {
        cells_c: &cells,
        faces_c: &faces,
        enthalpy: &cells,
        temperature_of: &|_, h| h,
    };
    let nodes = Nodes::of(&mesh);
    let mut values = Vec::new();
    nodes.values(&source, &mut values);
    let get = |name: &str| values[nodes.names().iter().position(|n| n == name).unwrap()];
    assert!((get("core") - field(0.07, 0.0)).abs() < 1e-9);
    assert!((get("surface") - field(0.07, 0.03)).abs() < 1e-9);
    assert!((get("grip_end") - field(0.0, 0.0)).abs() < 1e-9);
    assert!((get("free_end") - field(0.14, 0.0)).abs() < 1e-9);
    // Mean over r from 28 to 30 mm and the last 2 mm of the low end.
    let mean_r2 = 0.5 * (0.028f64.powi(2) + 0.03f64.powi(2));
    assert!(
        (get("edge") - (1000.0 + 1.0 - 1e5 * mean_r2)).abs() < 0.05,
        "{}",
        get("edge")
    );
    assert!((get("hottest") - field(0.14, 0.0)).abs() < 1.0);
    assert!((get("coldest") - field(0.0, 0.03)).abs() < 1.0);
}
