//! Contact and handling beside the plain cases: friction under a blow, grips, knock-out, scale in
//! the way, contact by pressure.

use std::f64::consts::PI;

use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::StageKind;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::line::warmup::{WarmupOptions, warmup};

/// A round of constant properties, 60 x 140 mm, insulated from the air, then the given stages.
fn line(stages: &str) -> String {
    format!(
        r#"title = "Handling"
resolution = "quick"
[billet]
diameter_mm = 60
length_mm = 140
emissivity = 0
steel = {{ conductivity_w_mk = 28, specific_heat_j_kgk = 650, density_kg_m3 = 7470 }}
[shop]
ambient_c = 25
film_w_m2k = 0
tool_film_w_m2k = 0
[heater]
kind = "measured"
temperature_c = 1150
[die]
steel = {{ conductivity_w_mk = 27.7, specific_heat_j_kgk = 550, density_kg_m3 = 7700 }}
bulk_c = 200
{stages}"#
    )
}

fn traced(text: &str) -> Trace {
    let document = Document::parse(text, "handling.toml").unwrap_or_else(|error| panic!("{error}"));
    run(document.plan(), &RunOptions::default()).unwrap()
}

fn booked(trace: &Trace, name: &str) -> f64 {
    let entries = trace.ledger.entries.iter().filter(|e| e.name == name);
    entries.map(|e| e.energy_kj).sum()
}

/// Work of friction of upsetting between flat dies: the friction term m d/(3√3 h) of the work
/// σ V ln(h₀/h₁)(1 + m d/(3√3 h)) (Siebel; Avitzur 1968, from memory), summed over small steps by
/// hand, against the integral over the faces; shared by √(k ρ c) of the two bodies.
#[test]
fn friction_of_an_upset_is_the_classical_term_and_is_shared_by_effusivity() {
    let (factor, stress): (f64, f64) = (0.35, 110e6);
    let forge = |blows: u32| {
        line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"upset\"\nblows = {blows}\nlying_before_s = 0\nlying_after_s = 0\n\
             flow_stress_mpa = 110\nshape = [{{ outer_mm = 92, height_mm = 59.546 }}]\n\
             die = {{ friction_factor = {factor}, blow_w_m2k = 0, resting_w_m2k = 0, flash_w_m2k = 0, gap_w_m2k = 0 }}\n"
        ))
    };
    let (h0, h1, volume): (f64, f64, f64) = (0.14, 0.059546, PI * 0.03 * 0.03 * 0.14);
    let steps = 20_000;
    let mut work = 0.0;
    for i in 0..steps {
        let height = |i: f64| h0 * (h1 / h0).powf(i / f64::from(steps));
        let (a, b) = (height(f64::from(i)), height(f64::from(i + 1)));
        let h = (a * b).sqrt();
        let d = (4.0 * volume / (PI * h)).sqrt();
        work += stress * volume * (a / b).ln() * factor * d / (3.0 * 3.0_f64.sqrt() * h);
    }
    let (e_part, e_die) = ((28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt());
    let share = e_part / (e_part + e_die);
    for blows in [1, 3] {
        let trace = traced(&forge(blows));
        let part = booked(&trace, "friction");
        let dies: f64 = trace.dies.iter().map(|die| die.friction_kj).sum();
        let whole = work * 1e-3;
        assert!(
            (part / (share * whole) - 1.0).abs() < 2e-3,
            "{blows}: {part} {}",
            share * whole
        );
        assert!((dies / ((1.0 - share) * whole) - 1.0).abs() < 2e-3, "{blows}: {dies}");
        assert!(trace.ledger.imbalance.abs() < 1e-9);
        // The heat of forming is that of the strain alone, 0.9 of it as heat.
        let forming = 0.9 * stress * volume * (h0 / h1).ln() * 1e-3;
        assert!((booked(&trace, "deformation") / forming - 1.0).abs() < 2e-3);
        // It stands in the heat bill under its name.
        let blow = trace.bill.iter().find(|entry| entry.phase == "blow 1").unwrap();
        assert!(
            blow.flows
                .iter()
                .any(|flow| flow.name == "friction" && flow.energy_kj > 0.0)
        );
    }
}

/// What a ring does not touch does not rub: the inner half of the radius makes an eighth of the friction of a disc,
/// for both the sliding and the area grow with the radius; and friction ends with the blow.
#[test]
fn friction_is_where_rings_touch_and_while_they_are_struck() {
    let forge = |touch: &str, after_s: f64| {
        traced(&line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"upset\"\nlying_before_s = 0\nlying_after_s = {after_s}\n\
             flow_stress_mpa = 110\nshape = [{{ outer_mm = 46, height_mm = 59.546 }}, \
             {{ inner_mm = 46, outer_mm = 92, height_mm = 59.546, touch = \"{touch}\" }}]\n\
             die = {{ friction_factor = 0.35, blow_w_m2k = 0, resting_w_m2k = 0, flash_w_m2k = 0, gap_w_m2k = 0 }}\n"
        )))
    };
    let die = |trace: &Trace, body: &str| trace.dies.iter().find(|die| die.body == body).unwrap().clone();
    let whole = die(&forge("both", 0.0), "upper die").friction_kj;
    let (upper, lower) = (
        die(&forge("lower", 0.0), "upper die").friction_kj,
        die(&forge("lower", 0.0), "lower die").friction_kj,
    );
    assert!((lower / whole - 1.0).abs() < 1e-9, "{lower} {whole}");
    assert!((upper / whole - 0.125).abs() < 2e-3, "{upper} {whole}");
    let upper = die(&forge("upper", 0.0), "lower die").friction_kj;
    assert!((upper / whole - 0.125).abs() < 2e-3, "{upper} {whole}");
    // After the blow the face gives its heat to the depth: as 1/sqrt(t), from 5 ms to half a second.
    let rested = die(&forge("both", 0.5), "lower die");
    let (peak_k, end_k) = (rested.face_peak_c - 200.0, rested.face_end_c - 200.0);
    assert!(peak_k > 10.0 && end_k < 0.15 * peak_k, "{peak_k} {end_k}");
}

/// A blow energy pays for both: what friction takes is not left for the forming.
#[test]
fn friction_comes_out_of_the_blow_energy() {
    let forge = |factor: f64| {
        line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"upset\"\nlying_before_s = 0\nlying_after_s = 0\nblow_energy_kj = 40\n\
             blow_efficiency = 0.75\nheat_share = 1\nshape = [{{ outer_mm = 92, height_mm = 59.546 }}]\n\
             die = {{ friction_factor = {factor}, blow_w_m2k = 0, resting_w_m2k = 0 }}\n"
        ))
        .replace("density_kg_m3 = 7470 }", "density_kg_m3 = 7470, flow_stress = { law = \"misaka\", carbon_pct = 0.41 } }")
    };
    let text = forge(0.3);
    let trace = traced(&text);
    let dies: f64 = trace.dies.iter().map(|die| die.friction_kj).sum();
    let friction = booked(&trace, "friction") + dies;
    assert!(friction > 1.0);
    let sum = friction + booked(&trace, "deformation");
    assert!((sum - 30.0).abs() < 1e-9, "{sum}");
}

/// Thin jaws are lumped: while closed dT/dt = h (T_part − T)/(ρ c L), while open they lose 63 % of their
/// excess over the air in the time constant, and from part to part they settle where both balance.
#[test]
fn jaws_of_one_gripper_warm_up_from_grip_to_grip_and_from_part_to_part() {
    let [h, depth, cooling, gap, hold, takt] = [100.0, 0.002, 40.0, 6.0, 4.0, 30.0_f64];
    let grip = format!(
        "grip = {{ end = \"grip_end\", length_mm = 25, w_m2k = {h}, share = 0.3, depth_mm = 2, jaw_c = 120, \
         gripper = \"robot\", cooling_s = {cooling}, cold_c = 25 }}"
    );
    let text = line(&format!(
        "[[stage]]\nkind = \"carry\"\nname = \"first\"\nseconds = {hold}\n{grip}\n[[stage]]\nkind = \"wait\"\nseconds = {gap}\n\
         [[stage]]\nkind = \"carry\"\nname = \"second\"\nseconds = {hold}\n{grip}\n\
         [[stage]]\nkind = \"forge\"\nname = \"press\"\ndie = {{ resting_w_m2k = 0, blow_w_m2k = 0 }}\n\
         [[limit]]\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1300\n"
    ))
    .replace("tool_film_w_m2k = 0", &format!("tool_film_w_m2k = 0\ntakt_s = {takt}"));
    let trace = traced(&text);
    let jaws: Vec<_> = trace.dies.iter().filter(|die| die.body.starts_with("jaws")).collect();
    assert_eq!(jaws.len(), 2);
    let per_s = h / (7700.0 * 550.0 * depth);
    let part_c = 1143.0; // the gripped skin under this weak contact
    let warmed = |from: f64| part_c - (part_c - from) * (-per_s * hold).exp();
    let cooled = |from: f64, seconds: f64| 25.0 + (from - 25.0) * (-seconds / cooling).exp();
    let end = warmed(120.0);
    assert!((jaws[0].face_start_c - 120.0).abs() < 0.1, "{}", jaws[0].face_start_c);
    // The face leads the mean by q L/(3 k).
    let face = end + h * (part_c - end) * depth / (3.0 * 27.7);
    assert!((jaws[0].face_end_c - face).abs() < 1.0, "{} {face}", jaws[0].face_end_c);
    let again = cooled(end, gap);
    assert!(
        (jaws[1].face_start_c - again).abs() < 1.5,
        "{} {again}",
        jaws[1].face_start_c
    );
    // The state that repeats: two grips a part, then open to the first grip of the next part.
    let mut state: f64 = 25.0;
    for _ in 0..200 {
        state = cooled(warmed(cooled(warmed(state), gap)), takt - gap - 2.0 * hold);
    }
    let document = Document::parse(&text, "handling.toml").unwrap();
    let options = WarmupOptions {
        parts: 3,
        preheat: false,
        ..WarmupOptions::default()
    };
    let shift = warmup(document.plan(), &options).unwrap();
    let at = shift.dies.iter().position(|die| die.body == "jaws of robot").unwrap();
    let steady = shift.steady.unwrap();
    assert!(steady.converged);
    let after = warmed(cooled(warmed(state), gap));
    // Before the last grip of a part.
    let before = cooled(warmed(state), gap);
    let face = &steady.part.faces[at];
    assert!((face.before_c - before).abs() < 3.0, "{} {before}", face.before_c);
    assert!((face.through_c - after).abs() < 3.0, "{} {after}", face.through_c);
    // The first part of the shift finds cold jaws; before its last grip they have held once and cooled once.
    let first = cooled(warmed(25.0), gap);
    let found = shift.parts[0].faces[at].before_c;
    assert!(first < before - 20.0 && (found - first).abs() < 3.0, "{found} {first}");
}

/// A regrip: the jaws let go and take the bar again further in; each time they chill their stretch, and what is
/// below the limit is told for each end.
#[test]
fn a_regrip_moves_the_cold_stretch_and_the_cold_length_is_told() {
    let carry = |grip: &str| {
        line(&format!(
            "[[stage]]\nkind = \"carry\"\nname = \"move\"\nseconds = 6\ngrip = {grip}\n"
        ))
        .replace("length_mm = 140", "length_mm = 400\ncold_end_c = 1100")
    };
    let one = traced(&carry(
        "{ end = \"grip_end\", length_mm = 40, w_m2k = 4000, share = 1, opens_s = 3 }",
    ));
    let whole = traced(&carry(
        "{ end = \"grip_end\", length_mm = 40, w_m2k = 4000, share = 1 }",
    ));
    let two = traced(&carry(
        "[{ end = \"grip_end\", length_mm = 40, w_m2k = 4000, share = 1, opens_s = 3 }, \
          { end = \"grip_end\", length_mm = 40, from_end_mm = 60, late_s = 3, w_m2k = 4000, share = 1 }]",
    ));
    let cold = |trace: &Trace| {
        let ends = trace
            .ends
            .iter()
            .find(|e| e.moment.to_string() == "end" && e.time_s > 5.9)
            .unwrap();
        assert_eq!(ends.below_c, 1100.0);
        assert_eq!((ends.free_end_surface_mm, ends.free_end_mean_mm), (0.0, 0.0));
        ends.grip_end_surface_mm
    };
    // Told from the exit on, where the bar is hot all over.
    let first = &whole.ends[0];
    assert_eq!((first.time_s, first.grip_end_surface_mm), (0.0, 0.0));
    // Closed to the end: the jaws' 40 mm, and by conduction along the bar up to √(π a t) = 10 mm more.
    assert!(cold(&whole) > 38.0 && cold(&whole) < 50.0, "{}", cold(&whole));
    assert!(cold(&one) < cold(&whole));
    // Taken further in for the same time, a second stretch is cold, longer than the 40 mm of its jaws at first
    // and no shorter than what the first one has recovered to.
    let second = cold(&two) - cold(&one);
    assert!(second > 38.0 && second < 50.0, "{} {}", cold(&two), cold(&one));
    // Heat: the jaws that close again on metal as hot as before are warm from the first time (their face is near 460 degC
    // after 3 s, by two half-spaces with 4000 W/m²K between them), so they take less, yet more than half as much.
    let first = |trace: &Trace| booked(trace, "jaws at grip end");
    let again = first(&two) / first(&one) - 1.0;
    assert!(again > 0.7 && again < 0.92, "{again}");
    assert!(two.ledger.imbalance.abs() < 1e-9);
    // Late by as much as the other opens early: the same time, the same heat.
    let late = traced(&carry(
        "{ end = \"grip_end\", length_mm = 40, w_m2k = 4000, share = 1, late_s = 3 }",
    ));
    assert!(
        (first(&late) / first(&one) - 1.0).abs() < 5e-3,
        "{} {}",
        first(&late),
        first(&one)
    );
    // Under the limit in the mean is less of the bar than on its skin, but not much less than the jaws.
    let mean = |trace: &Trace| trace.ends.last().unwrap().grip_end_mean_mm;
    assert!(
        mean(&two) < cold(&two) - 10.0 && mean(&two) > 60.0,
        "{} {}",
        mean(&two),
        cold(&two)
    );
    assert!(
        mean(&whole) < cold(&whole) - 1.0 && mean(&whole) > 38.0,
        "{}",
        mean(&whole)
    );
}

/// What is cold is told from the limit on: nothing of a uniform bar one kelvin above it, all of it one below.
#[test]
fn a_uniform_bar_is_cold_on_one_side_of_the_limit_only() {
    for (limit_c, length_mm) in [(1149.0, 0.0), (1151.0, 200.0)] {
        let text = line("[[stage]]\nkind = \"wait\"\nseconds = 1\n")
            .replace("length_mm = 140", &format!("length_mm = 400\ncold_end_c = {limit_c}"));
        let trace = traced(&text);
        let ends = trace.ends.last().unwrap();
        for found in [
            ends.grip_end_surface_mm,
            ends.grip_end_mean_mm,
            ends.free_end_surface_mm,
            ends.free_end_mean_mm,
        ] {
            assert!((found - length_mm).abs() < 1e-9, "{limit_c}: {found}");
        }
    }
}

/// Both ends are alike: jaws a little way in from either do the same to the end that they are near, and air
/// reaches only what they leave free: q = h A (T - T_air).
#[test]
fn either_end_is_gripped_alike_and_air_sees_what_is_left() {
    let carry = |end: &str, rest: &str| {
        line(&format!(
            "[[stage]]\nkind = \"carry\"\nseconds = 6\ngrip = {{ end = \"{end}\", {rest} }}\n"
        ))
    };
    // The node `edge` is at the rim of the colder end.
    let edge = |trace: &Trace| {
        let column = trace.nodes.iter().position(|n| n == "edge").unwrap();
        trace.moments.last().unwrap().temps_c[column].unwrap()
    };
    let near = "from_end_mm = 3, length_mm = 12, w_m2k = 4000, share = 1";
    let (low, high) = (traced(&carry("grip_end", near)), traced(&carry("free_end", near)));
    let (a, b) = (edge(&low), edge(&high));
    assert!(a < 1100.0 && (a - b).abs() < 0.1, "{a} {b}");
    // Jaws that conduct nothing over a stretch of the side, in a thin film of air.
    for (end, share) in [("grip_end", 1.0), ("free_end", 0.4)] {
        let text = carry(end, &format!("length_mm = 63.7, w_m2k = 0, share = {share}"))
            .replace("film_w_m2k = 0\ntool", "film_w_m2k = 10\ntool")
            .replace("seconds = 6", "seconds = 1");
        let area = PI * 0.06 * (0.14 - share * 0.0637) + 2.0 * PI * 0.03 * 0.03;
        let found = -1e3 * booked(&traced(&text), "radiation and convection");
        let by_hand = 10.0 * area * 1125.0;
        assert!((found / by_hand - 1.0).abs() < 5e-3, "{end}: {found} {by_hand}");
    }
}

#[test]
fn grips_that_cannot_be_are_refused() {
    let carry = |grip: &str| {
        let text = line(&format!(
            "[[stage]]\nkind = \"carry\"\nname = \"move\"\nseconds = 3\ngrip = {grip}\n"
        ));
        Document::parse(text, "handling.toml")
            .err()
            .map(|error| error.to_string())
            .unwrap_or_default()
    };
    for (grip, word) in [
        (
            "{ length_mm = 25, opens_s = 4 }",
            "opens_s = 4 s is out of range: allowed above 0 to 3 s",
        ),
        (
            "{ length_mm = 25, late_s = 3 }",
            "late_s = 3 s in a stage of 3 s needs to be shorter",
        ),
        (
            "{ length_mm = 25, late_s = 2, opens_s = 1 }",
            "opens_s = 1 s is out of range: allowed above 2 to 3 s",
        ),
        (
            "{ length_mm = 100, from_end_mm = 60 }",
            "grips take 160 mm of a part 140 mm long",
        ),
        (
            "{ length_mm = 25, cooling_s = 60 }",
            "`cooling_s` has no meaning without gripper",
        ),
        (
            "[{ length_mm = 25, opens_s = 2 }, { length_mm = 20, late_s = 1.5 }]",
            "the same end is gripped twice at one time",
        ),
    ] {
        let told = carry(grip);
        assert!(told.contains(word), "{grip}: {told}");
    }
    assert_eq!(
        carry("[{ length_mm = 25, opens_s = 1.5 }, { length_mm = 20, late_s = 1.5 }]"),
        ""
    );
}

/// A knock-out pin takes the heat of two half-spaces under its own area only: Carslaw and Jaeger,
/// "Conduction of Heat in Solids", 2.10, with a contact coefficient: Q = h ΔT/H² (E − 1 + 2z/√π), z = H√t,
/// H = h (1/e₁ + 1/e₂), E = exp(z²) erfc z.
#[test]
fn a_knock_out_takes_heat_through_its_own_face_only() {
    let text = |size: &str| {
        line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"press\"\nlying_before_s = 0\nlying_after_s = 0\n\
             knock_out_s = 0.5\nknock_out_w_m2k = 2000\n{size}\ndie = {{ blow_w_m2k = 0 }}\n"
        ))
        .replace("resolution = \"quick\"", "resolution = \"fine\"")
    };
    let (e1, e2): (f64, f64) = ((28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt());
    let h: f64 = 2000.0 * (1.0 / e1 + 1.0 / e2);
    let z = h * 0.5_f64.sqrt();
    let scaled = (z * z).exp() * libm::erfc(z);
    let per_area = 2000.0 * 950.0 / (h * h) * (scaled - 1.0 + 2.0 * z / PI.sqrt());
    for (size, area) in [
        ("knock_out_outer_mm = 40", PI * 0.02 * 0.02),
        (
            "knock_out_outer_mm = 50\nknock_out_inner_mm = 30",
            PI * (0.025 * 0.025 - 0.015 * 0.015),
        ),
    ] {
        let trace = traced(&text(size));
        let taken = -booked(&trace, "knock-out");
        let exact = per_area * area * 1e-3;
        // The skin beside the pin feeds it a little.
        assert!((taken / exact - 1.0).abs() < 0.03, "{size}: {taken} {exact}");
        assert!(
            trace
                .bill
                .iter()
                .any(|entry| entry.phase == "knock-out" && (entry.seconds - 0.5).abs() < 1e-9)
        );
        assert!(trace.ledger.imbalance.abs() < 1e-9);
    }
    // Lifted off, the part gives no more heat to the dies.
    let struck = |size: &str| {
        let text = text(size).replace("blow_w_m2k = 0", "blow_w_m2k = 8000");
        let trace = traced(&text);
        (booked(&trace, "lower die"), booked(&trace, "upper die"))
    };
    let lifted = struck("knock_out_outer_mm = 10");
    let left = traced(
        &text("knock_out_outer_mm = 10")
            .replace("blow_w_m2k = 0", "blow_w_m2k = 8000")
            .replace(
                "knock_out_s = 0.5\nknock_out_w_m2k = 2000\nknock_out_outer_mm = 10\n",
                "",
            ),
    );
    let (lower, upper) = (booked(&left, "lower die"), booked(&left, "upper die"));
    assert!(
        lower < -0.05 && (lifted.0 / lower - 1.0).abs() < 1e-6,
        "{lifted:?} {lower}"
    );
    assert!((lifted.1 / upper - 1.0).abs() < 1e-6, "{lifted:?} {upper}");
    let told = |size: &str| Document::parse(text(size), "x.toml").unwrap_err().to_string();
    assert!(told("").contains("`knock_out_outer_mm` is missing"), "{}", told(""));
    assert!(
        told("knock_out_outer_mm = 80").contains("allowed above 0 to 60 mm"),
        "{}",
        told("knock_out_outer_mm = 80")
    );
    assert!(told("knock_out_outer_mm = 20\nknock_out_inner_mm = 30").contains("is not below"));
}

/// The pressure law and the layers by hand: 7 MPa gives 1000 + 6500 (1 − e^−1.4) = 5897 W/m²K; 100 um of scale
/// at 2.5 W/mK is a resistance of 4e-5 m²K/W, so 4771.6 W/m²K together (Beygelzimer and Beygelzimer for the
/// conductivity). A run with them is that of a file that gives the same numbers.
#[test]
fn contact_follows_pressure_and_goes_through_scale_and_film() {
    let press = |die: &str| {
        line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"press\"\ncontact_ms = 200\ndie = {{ {die} }}\n"
        ))
    };
    let blow = |die: &str| {
        let document = Document::parse(press(die), "x.toml").unwrap_or_else(|error| panic!("{error}"));
        match &document.plan().stages[0].kind {
            StageKind::Forge(forge) => forge.dies.clone(),
            _ => unreachable!(),
        }
    };
    assert!((blow("pressure_mpa = 7").blow_w_m2k - 5897.1).abs() < 0.1);
    assert_eq!(blow("pressure_mpa = 0").blow_w_m2k, 1000.0);
    let both = blow("pressure_mpa = 7, scale_um = 100");
    assert!((both.blow_w_m2k - 4771.58).abs() < 0.1, "{}", both.blow_w_m2k);
    assert!((both.resting_w_m2k - 1.0 / (1.0 / 750.0 + 4e-5)).abs() < 1e-9);
    assert_eq!(both.gap_w_m2k, blow("").gap_w_m2k);
    let bare = blow("");
    for (name, found, bare) in [
        ("pressed", both.pressed_w_m2k, bare.pressed_w_m2k),
        ("flash", both.flash_w_m2k, bare.flash_w_m2k),
        // Walls meet the part as the faces do under a blow.
        ("wall", both.wall_w_m2k, 5897.1),
    ] {
        assert!(
            (found * (1.0 / bare + 4e-5) - 1.0).abs() < 1e-4,
            "{name}: {found} {bare}"
        );
    }
    let film = blow("blow_w_m2k = 20000, film_um = 20, film_w_mk = 1.0");
    assert!((film.blow_w_m2k - 1.0 / (1.0 / 20000.0 + 2e-5)).abs() < 1e-6);
    let lower = |die: &str| booked(&traced(&press(die)), "lower die");
    let by_hand = format!(
        "blow_w_m2k = {:?}, resting_w_m2k = {:?}",
        both.blow_w_m2k, both.resting_w_m2k
    );
    assert!((lower("pressure_mpa = 7, scale_um = 100") / lower(&by_hand) - 1.0).abs() < 1e-6);
    let told = |die: &str| Document::parse(press(die), "x.toml").unwrap_err().to_string();
    for (die, word) in [
        ("pressure_mpa = 7, blow_w_m2k = 9000", "cannot both be given"),
        ("pressure_mpa = 600", "pressure_mpa = 600 MPa is out of range"),
        ("plateau_w_m2k = 9000", "has no meaning without pressure_mpa"),
        (
            "pressure_mpa = 7, plateau_w_m2k = 500",
            "plateau_w_m2k above at_zero_w_m2k",
        ),
        ("film_um = 20", "`film_w_mk` is missing"),
        ("scale_w_mk = 2", "has no meaning without scale_um"),
    ] {
        assert!(told(die).contains(word), "{die}: {}", told(die));
    }
}

/// The law holds for what is pressed on and for jaws too, its constants go from `[die]` to the stages, and a
/// stage takes its own coefficient over a pressure of `[die]`: 2 MPa on a plateau of 11000 give
/// 1000 + 10000 (1 − e^−0.4) = 4296.8, jaws at 0.85 MPa 1000 + 6500 (1 − e^−0.17) = 2016.1 W/m²K.
#[test]
fn pressures_reach_stages_and_jaws() {
    let planned = |die: &str, own: &str, grip: &str| {
        let text = line(&format!(
            "{die}\n[[stage]]\nkind = \"carry\"\nseconds = 1\ngrip = {{ length_mm = 20{grip} }}\n\
             [[stage]]\nkind = \"forge\"\ndie = {{ {own} }}\n"
        ));
        let document = Document::parse(text, "x.toml").unwrap_or_else(|error| panic!("{error}"));
        let stages = &document.plan().stages;
        match (&stages[0].kind, &stages[1].kind) {
            (StageKind::Carry { grips, .. }, StageKind::Forge(forge)) => {
                (forge.dies.blow_w_m2k, forge.dies.pressed_w_m2k, grips[0].contact_w_m2k)
            }
            _ => unreachable!(),
        }
    };
    let near = |found: f64, exact: f64| assert!((found - exact).abs() < 0.1, "{found} {exact}");
    let (blow, pressed, jaws) = planned("pressed_mpa = 2\nplateau_w_m2k = 11000", "", ", pressure_mpa = 0.85");
    near(blow, 10_000.0);
    near(pressed, 4296.8);
    near(jaws, 2016.1);
    let (blow, pressed, jaws) = planned("plateau_w_m2k = 11000", "pressure_mpa = 2", "");
    near(blow, 4296.8);
    near(pressed, 1500.0);
    near(jaws, 1500.0);
    let (blow, ..) = planned("pressure_mpa = 2", "blow_w_m2k = 9000", "");
    near(blow, 9000.0);
    let (blow, ..) = planned("pressure_mpa = 2", "plateau_w_m2k = 11000", "");
    near(blow, 4296.8);
    // The constants behind a coefficient are told with it.
    let text = line("[[stage]]\nkind = \"carry\"\nseconds = 1\ngrip = { length_mm = 20, pressure_mpa = 1 }\n");
    let document = Document::parse(text, "x.toml").unwrap();
    let source = &document.input("stage.carry.grip.w_m2k").unwrap().source;
    assert!(source.contains("h0 = 1000, h1 = 7500 W/m2K, p0 = 5 MPa"), "{source}");
    let text =
        line("[[stage]]\nkind = \"carry\"\nseconds = 1\ngrip = { length_mm = 20, w_m2k = 900, pressure_mpa = 1 }\n");
    let told = Document::parse(text, "x.toml").unwrap_err().to_string();
    assert!(
        told.contains("x.toml:21") && told.contains("cannot both be given"),
        "{told}"
    );
}

/// Jaws take heat in proportion to what they hold, to a fraction of a cell: q = h A (T_part − T_jaw) under a
/// weak contact, wherever the edge of the jaws lies between the cells, and at either end.
#[test]
fn jaws_take_heat_by_the_length_that_they_hold() {
    let heat = |end: &str, from_mm: f64, length_mm: f64| {
        let stage = format!(
            "[[stage]]\nkind = \"carry\"\nseconds = 1\ngrip = {{ end = \"{end}\", from_end_mm = {from_mm}, \
             length_mm = {length_mm}, w_m2k = 20, share = 0.3, depth_mm = 50, jaw_c = 120 }}\n\
             [[limit]]\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1300\n"
        );
        -1e3 * booked(&traced(&line(&stage)), &format!("jaws at {}", end.replace('_', " ")))
    };
    for end in ["grip_end", "free_end"] {
        for (from_mm, length_mm) in [
            (0.0, 10.0),
            (0.0, 11.7),
            (0.0, 13.1),
            (0.0, 25.3),
            (21.3, 3.3),
            (17.9, 0.4),
        ] {
            let area = PI * 0.06 * length_mm * 1e-3 * 0.3;
            // Part and jaw settle towards each other by a kelvin or two.
            let by_hand = 20.0 * area * (1150.0 - 120.0);
            let found = heat(end, from_mm, length_mm);
            assert!(
                (found / by_hand - 1.0).abs() < 0.005,
                "{end} {from_mm} {length_mm}: {found} J, by hand {by_hand} J"
            );
        }
    }
}

/// A stepped part stands on its lowest ring: a flash high above the table keeps its heat (insulated from the
/// air it loses none at once), the ring below is chilled as on a table that it has for itself.
#[test]
fn a_stepped_part_rests_on_its_lowest_ring() {
    let rest = |support: &str| {
        let text = line(&format!(
            "[[stage]]\nkind = \"forge\"\nname = \"press\"\nlying_before_s = 0\nlying_after_s = 0\nshape = [\n\
             {{ zone = \"boss\", outer_mm = 40, bottom_mm = 0, top_mm = 50 }},\n\
             {{ zone = \"flash\", inner_mm = 40, outer_mm = 160, bottom_mm = 20, top_mm = 37.698 }}]\n\
             [[stage]]\nkind = \"rest\"\nname = \"table\"\nseconds = 4\n{support}\n"
        ));
        let trace = traced(&text);
        let at = |node: &str| {
            let column = trace.nodes.iter().position(|n| n == node).unwrap();
            let of = |stage: usize| trace.moments.iter().rfind(|m| m.stage == stage).unwrap().temps_c[column].unwrap();
            of(1) - of(2)
        };
        (at("boss.mean"), at("flash.mean"), booked(&trace, "support"))
    };
    let (boss, flash, heat) = rest("");
    assert!(flash.abs() < 0.5 * boss && boss > 5.0, "boss {boss} K, flash {flash} K");
    // Told otherwise, all of the lower side touches.
    let (_, all_flash, all) = rest("support = { share = 1 }");
    assert!(
        all_flash > 3.0 * flash && all.abs() > 5.0 * heat.abs(),
        "{all_flash} K, {all} of {heat} kJ"
    );
}

/// What each die took is what is booked between the part and that die: the colder one takes more.
#[test]
fn each_die_is_told_its_own_heat() {
    let trace = traced(&line(
        "upper_c = 100\nlower_c = 400\n[[stage]]\nkind = \"forge\"\nname = \"upset\"\nlying_before_s = 0\nlying_after_s = 0\n\
         shape = [{ outer_mm = 92, height_mm = 59.546 }]\n",
    ));
    let dies: Vec<_> = trace.dies.iter().filter(|die| die.body.ends_with("die")).collect();
    assert_eq!(dies.len(), 2);
    for die in &dies {
        let gone = -booked(&trace, &die.body);
        assert!(gone > 0.0 && (die.heat_kj / gone - 1.0).abs() < 1e-9, "{die:?} {gone}");
    }
    let of = |body: &str| dies.iter().find(|die| die.body == body).unwrap().heat_kj;
    assert!(
        of("upper die") > of("lower die"),
        "{} {}",
        of("upper die"),
        of("lower die")
    );
}
