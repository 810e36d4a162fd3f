//! Tool columns behind faces, against exact solutions of bodies in contact.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Columns, Contact, DeepEnd, Exchange, Solver, Tolerance};
use billet_thermal::steel::ThermalTable;

use super::conduction_support::*;
use super::exact::half_space::Pair;

fn billet() -> Arc<ThermalTable> {
    Arc::new(ThermalTable::constant(28.0, 650.0, 7470.0))
}

fn die() -> Arc<ThermalTable> {
    Arc::new(ThermalTable::constant(27.7, 550.0, 7700.0))
}

/// A thick wall of 1150 degC whose high face touches one column of 200 degC.
fn touching(h: f64, finest: f64, step_k: f64) -> Solver {
    let wall = Axis::graded(AxisKind::Linear, 0.0, 0.1, None, Some(finest), 1.1, 4e-3).unwrap();
    let mut body = solver(vec![wall], &billet(), 1150.0, step_k);
    let account = body.account("die");
    let depth = Axis::graded(AxisKind::Linear, 0.0, 0.1, Some(finest), None, 1.1, 4e-3).unwrap();
    let mut column = Columns::new(die(), &depth, 1, 200.0, DeepEnd::Insulated, account);
    let face = body.grid().faces().iter().position(|f| f.group == HIGH).unwrap();
    let contact = Contact {
        face,
        area: 1.0,
        coefficient: h,
    };
    column.set_contacts(&[Some(contact)], &[1.0]);
    body.add_columns(column);
    body
}

/// Billet on die with a contact coefficient (Carslaw and Jaeger): both faces and the heat, from one
/// hammer blow (2 ms) to lying for a second, at five coefficients.
#[test]
fn billet_and_die_with_a_contact_coefficient() {
    let effusivity = [(28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt()];
    for h in [1e3, 5e3, 1e4, 2e4, 5e4] {
        let pair = Pair {
            effusivity,
            start_c: [1150.0, 200.0],
            h,
        };
        let mut body = touching(h, 1e-5, 0.01);
        for t in [0.002, 0.01, 0.05, 0.2, 1.0] {
            run(&mut body, t);
            let [hot, cold] = pair.faces_c(t);
            let ours = face(&body, HIGH);
            assert!((ours - hot).abs() < 0.4, "h {h} t {t}: part {ours} {hot}");
            let (tool, _) = body.tool_faces(0).unwrap();
            assert!((tool - cold).abs() < 0.4, "h {h} t {t}: die {tool} {cold}");
            let heat = -body.ledger().energy("die");
            assert!(
                (heat / pair.heat(t) - 1.0).abs() < 2e-3,
                "h {h} t {t}: {heat} {}",
                pair.heat(t)
            );
        }
    }
}

/// Faces of billet and die after 50 ms at 10 kW/m²K: ours and exact, degC.
pub fn faces_after_a_blow() -> [(f64, f64); 2] {
    let pair = Pair {
        effusivity: [(28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt()],
        start_c: [1150.0, 200.0],
        h: 1e4,
    };
    let mut body = touching(1e4, 1e-5, 0.01);
    run(&mut body, 0.05);
    let [hot, cold] = pair.faces_c(0.05);
    [(face(&body, HIGH), hot), (body.tool_faces(0).unwrap().0, cold)]
}

/// Halving the cells divides the error of the heat by about four: 5 ms, the length of a blow, at
/// 20 kW/m²K.
#[test]
fn contact_converges_with_the_grid() {
    let pair = Pair {
        effusivity: [(28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt()],
        start_c: [1150.0, 200.0],
        h: 2e4,
    };
    let sizes: [f64; 3] = [4e-5, 2e-5, 1e-5];
    let errors: Vec<f64> = sizes
        .iter()
        .map(|finest| {
            // Equal cells over 4 mm, far more than the blow reaches.
            let axis = || uniform(AxisKind::Linear, 4e-3, (4e-3 / finest).round() as usize);
            let mut body = solver(vec![axis()], &billet(), 1150.0, 2e-3);
            let account = body.account("die");
            let mut column = Columns::new(die(), &axis(), 1, 200.0, DeepEnd::Insulated, account);
            let face = body.grid().faces().iter().position(|f| f.group == HIGH).unwrap();
            column.set_contacts(
                &[Some(Contact {
                    face,
                    area: 1.0,
                    coefficient: 2e4,
                })],
                &[1.0],
            );
            body.add_columns(column);
            run(&mut body, 0.005);
            (-body.ledger().energy("die") / pair.heat(0.005) - 1.0).abs()
        })
        .collect();
    let order = observed_order(&sizes, &errors);
    assert!(order > 1.8 && errors[2] < 1e-3, "{errors:?} {order}");
}

/// Plates 0-0.495 and 0.505-1 m with a gap conductance of 80, ends at 100 and 300 degC, steady
/// (Code_Aster TTLP100, V4.23.100).
#[test]
fn plates_with_a_gap() {
    let metal = metal(40.0, 4000.0);
    let mut body = solver(vec![uniform(AxisKind::Linear, 0.495, 11)], &metal, 100.0, 0.01);
    hold(&mut body, LOW, "cold end", 100.0);
    let account = body.account("gap");
    let depth = uniform(AxisKind::Linear, 0.495, 11);
    let mut column = Columns::new(metal, &depth, 1, 300.0, DeepEnd::Fixed(300.0), account);
    let face_index = body.grid().faces().iter().position(|f| f.group == HIGH).unwrap();
    let contact = Contact {
        face: face_index,
        area: 1.0,
        coefficient: 80.0,
    };
    column.set_contacts(&[Some(contact)], &[1.0]);
    body.add_columns(column);
    run(&mut body, 2000.0);
    let (part, (tool, _)) = (face(&body, HIGH), body.tool_faces(0).unwrap());
    assert!((part - 166.443).abs() < 2e-3, "{part}");
    assert!((tool - 233.557).abs() < 2e-3, "{tool}");
    let ours = at(&body, &[0.25], false);
    assert!((ours - 133.557).abs() < 2e-3, "{ours}");
    // 0.75 m is 0.245 m into the column, which starts at 0.505 m.
    let column = body.columns(0).temperatures(0);
    let place = 0.245 / 0.045 - 0.5;
    let low = place as usize;
    let ours = column[low] + (place - low as f64) * (column[low + 1] - column[low]);
    assert!((ours - 266.443).abs() < 2e-3, "{ours}");
}

/// A billet end on a die: one column per ring, each sees the one-dimensional solution, and the ledger
/// holds what the columns gained.
#[test]
fn one_column_per_ring() {
    let z = Axis::graded(AxisKind::Linear, 0.0, 0.06, None, Some(5e-5), 1.2, 4e-3).unwrap();
    let r = uniform(AxisKind::Radial, 0.03, 6);
    let grid = Arc::new(Grid::new(vec![z, r]).unwrap());
    let mut body = Solver::uniform(grid.clone(), billet(), 1150.0, Tolerance::kelvin(0.05));
    let account = body.account("die");
    let depth = Axis::graded(AxisKind::Linear, 0.0, 0.06, Some(5e-5), None, 1.2, 4e-3).unwrap();
    let rings: Vec<(usize, f64)> = grid
        .faces()
        .iter()
        .enumerate()
        .filter(|(_, f)| f.group == 1)
        .map(|(i, f)| (i, f.area))
        .collect();
    let contacts: Vec<Option<Contact>> = rings
        .iter()
        .map(|(face, area)| {
            Some(Contact {
                face: *face,
                area: *area,
                coefficient: 1e4,
            })
        })
        .collect();
    let areas: Vec<f64> = rings.iter().map(|(_, a)| *a).collect();
    let mut columns = Columns::new(die(), &depth, rings.len(), 200.0, DeepEnd::Insulated, account);
    columns.set_contacts(&contacts, &areas);
    let before = columns.enthalpy();
    let set = body.add_columns(columns);
    run(&mut body, 0.2);
    let lost = -body.ledger().energy("die");
    let gained = body.columns(set).enthalpy() - before;
    assert!((lost / gained - 1.0).abs() < 1e-9, "{lost} {gained}");
    let pair = Pair {
        effusivity: [(28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt()],
        start_c: [1150.0, 200.0],
        h: 1e4,
    };
    let area: f64 = areas.iter().sum();
    assert!((lost / area / pair.heat(0.2) - 1.0).abs() < 5e-3, "{}", lost / area);
    let faces = body.face_temperatures();
    for (face, _) in &rings {
        assert!((faces[*face] - pair.faces_c(0.2)[0]).abs() < 1.0, "{}", faces[*face]);
    }
}

/// A face that lies in contact on 30 % of its area and in air on the rest: both heats in the ledger,
/// each the integral of its own flux (lumped body, isothermal cold column).
#[test]
fn contact_and_air_share_a_face() {
    let conductor = metal(1e6, 4e6);
    let mut body = solver(vec![uniform(AxisKind::Linear, 0.01, 2)], &conductor, 900.0, 1e-3);
    let air = body.account("air");
    body.set_law(
        HIGH,
        billet_thermal::conduction::Law::Exchange {
            exchange: Exchange::film(200.0, 100.0),
            share: 0.7,
            account: air,
        },
    );
    let account = body.account("rail");
    let depth = uniform(AxisKind::Linear, 1e-3, 2);
    let face_index = body.grid().faces().iter().position(|f| f.group == HIGH).unwrap();
    let mut column = Columns::new(metal(1e6, 4e12), &depth, 1, 100.0, DeepEnd::Fixed(100.0), account);
    let contact = Contact {
        face: face_index,
        area: 0.3,
        coefficient: 1000.0,
    };
    column.set_contacts(&[Some(contact)], &[0.3]);
    body.add_columns(column);
    run(&mut body, 60.0);
    // (0.7·200 + 0.3·1000) W/K on 40 kJ/K from 800 K above.
    let fall = 800.0 * (1.0 - (-440.0_f64 * 60.0 / 4e4).exp());
    assert!(
        (900.0 - fall - body.temperature(0)).abs() < 0.01,
        "{}",
        body.temperature(0)
    );
    let (to_air, to_rail) = (body.ledger().energy("air"), body.ledger().energy("rail"));
    assert!((to_rail / to_air - 300.0 / 140.0).abs() < 1e-3, "{to_air} {to_rail}");
}

/// Stiff contact does not ring: a 20 kW/m²K blow on cells of 0.05 mm with a loose tolerance falls
/// monotonically at the face of the part and rises at that of the die.
#[test]
fn stiff_contact_does_not_ring() {
    let mut body = touching(2e4, 5e-5, 2.0);
    let mut history = Vec::new();
    body.advance(0.2, &mut |s| {
        history.push((s.temperature(s.grid().cells() - 1), s.columns(0).temperatures(0)[0]))
    })
    .unwrap();
    assert!(history.len() > 5);
    for w in history.windows(2) {
        assert!(w[1].0 <= w[0].0 + 0.1 && w[1].1 >= w[0].1 - 0.1, "{w:?}");
    }
}
