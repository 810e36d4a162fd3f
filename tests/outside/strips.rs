//! Long parts by strips, and what a struck shape does to the field, against exact solutions and
//! hand calculation.

use billet_thermal::body::reshape::{carry, parcels};
use billet_thermal::body::{Axis, AxisKind, Block, Grid};
use billet_thermal::inside::line::file::{Document, LineFileError};
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::line::trace::Trace;
use billet_thermal::inside::line::warmup::{WarmupOptions, warmup};

use super::exact::plane;

fn document(text: &str) -> Document {
    match Document::parse(text, "strips.toml") {
        Ok(document) => document,
        Err(error) => panic!("{error}"),
    }
}

fn trace(text: &str) -> Trace {
    run(document(text).plan(), &RunOptions::default()).unwrap()
}

fn at(trace: &Trace, stage: &str, label: &str, node: &str) -> f64 {
    let stage = trace.stages.iter().position(|s| s.name == stage).unwrap();
    let column = trace.nodes.iter().position(|n| n == node).unwrap();
    let moment = trace
        .moments
        .iter()
        .find(|m| m.stage == stage && m.moment.to_string() == label);
    moment.unwrap().temps_c[column].unwrap()
}

/// A bar of constant properties without losses to air; what follows is added.
fn bar(emissivity: f64, film: f64) -> String {
    format!(
        r#"
title = "strips"
[billet]
diameter_mm = 60
length_mm = 100
emissivity = {emissivity}
steel = {{ conductivity_w_mk = 28, specific_heat_j_kgk = 650, density_kg_m3 = 7470 }}
[shop]
film_w_m2k = {film}
ambient_c = 25
[heater]
kind = "measured"
temperature_c = 1150
[die]
bulk_c = 200
steel = {{ conductivity_w_mk = 27.7, specific_heat_j_kgk = 550, density_kg_m3 = 7700, emissivity = 0 }}
"#
    )
}

const PLATE: &str = "[[section]]\nname = \"plate\"\nmass_percent = 100\nlength_mm = 100\nsymmetric = true\n";

fn press(shape: &str, contact_ms: f64) -> String {
    format!(
        "[[stage]]\nkind = \"forge\"\nname = \"press\"\nlying_before_s = 0\nlying_after_s = 0\nstrain = 0\n\
         contact_ms = {contact_ms}\nshape = [ {shape} ]\ndie = {{ fixed = true, blow_w_m2k = 10000 }}\n"
    )
}

/// A thin plate between two dies held at 200 degC, h = 10 kW/m²K on both faces: Carslaw and Jaeger,
/// Conduction of Heat in Solids, 2nd ed., section 3.11. As a strip of a long part and as a disc about
/// the axis; 6 mm as a web, 3 mm as a flash.
#[test]
fn a_web_between_dies_cools_as_the_series_says() {
    let (k, rho_c) = (28.0, 7470.0 * 650.0);
    for (height_mm, ms) in [(6.0, 5.0), (6.0, 100.0), (6.0, 400.0), (3.0, 100.0)] {
        let half = 0.5e-3 * height_mm;
        let (biot, fourier) = (1e4 * half / k, k / rho_c * 1e-3 * ms / (half * half));
        let exact = |place: f64| 200.0 + 950.0 * plane::convection(biot, fourier, place);
        let volume = std::f64::consts::PI * 900.0 * 100.0;
        let strip = format!(
            "{{ right_mm = {:.4}, height_mm = {height_mm} }}",
            volume / 200.0 / height_mm
        );
        let disc = format!(
            "{{ zone = \"web\", outer_mm = {:.4}, height_mm = {height_mm} }}",
            2.0 * (volume / std::f64::consts::PI / height_mm).sqrt()
        );
        let long = trace(&format!("{}{PLATE}{}", bar(0.0, 0.0), press(&strip, ms)));
        let round = trace(&format!("{}{}", bar(0.0, 0.0), press(&disc, ms)));
        for (name, trace, zone) in [("strip", &long, "plate"), ("disc", &round, "web")] {
            let core = at(trace, "press", "end", &format!("{zone}.core"));
            let skin = at(trace, "press", "end", &format!("{zone}.coldest"));
            assert!(
                (core - exact(0.0)).abs() < 1.0,
                "{name} {height_mm} {ms}: core {core}, {}",
                exact(0.0)
            );
            assert!(
                (skin - exact(1.0)).abs() < 1.0,
                "{name} {height_mm} {ms}: skin {skin}, {}",
                exact(1.0)
            );
        }
    }
}

/// Flash in air from 1050 to 800 degC, common practice: 18 s at 3 mm, 12 s at 2 mm; calculated from
/// dT/dt = 2 (ε σ (T⁴ - Ta⁴) + h (T - Ta))/(s ρ c) with ε = 0.8, h = 12 W/m²K, ρ c = 7470·650.
#[test]
fn flash_cools_in_air_as_the_trade_knows_it() {
    for (height_mm, common_s) in [(3.0, 18.0), (2.0, 12.0)] {
        let strip = format!(
            "{{ zone = \"flash\", right_mm = {:.4}, height_mm = {height_mm} }}",
            std::f64::consts::PI * 90_000.0 / 200.0 / height_mm
        );
        let shape = press(&strip, 1.0).replace("blow_w_m2k = 10000", "blow_w_m2k = 0, flash_w_m2k = 0");
        let air = "[[stage]]\nkind = \"wait\"\nname = \"air\"\nseconds = 30\n";
        let trace = trace(&format!("{}{PLATE}{shape}{air}", bar(0.8, 12.0)));
        let column = trace.nodes.iter().position(|n| n == "plate.flash.mean").unwrap();
        let falling: Vec<(f64, f64)> = trace
            .samples
            .iter()
            .filter_map(|s| Some((s.time_s, s.temps_c[column]?)))
            .filter(|(_, t)| (750.0..1100.0).contains(t))
            .collect();
        let (first, last) = (falling[0], falling[falling.len() - 1]);
        let rate = |t: f64| {
            let flux = 0.8 * 5.670374e-8 * ((t + 273.15_f64).powi(4) - 298.15_f64.powi(4)) + 12.0 * (t - 25.0);
            2.0 * flux / (1e-3 * height_mm * 7470.0 * 650.0)
        };
        let seconds = |from: f64, to: f64| -> f64 {
            let step = (from - to) / 1000.0;
            (0..1000).map(|i| step / rate(from - (f64::from(i) + 0.5) * step)).sum()
        };
        let (run_s, by_hand_s) = (last.0 - first.0, seconds(first.1, last.1));
        assert!(
            run_s > 10.0 && (run_s / by_hand_s - 1.0).abs() < 0.02,
            "{height_mm}: {run_s} s, by hand {by_hand_s}"
        );
        let window_s = seconds(1050.0, 800.0);
        assert!(
            (window_s / common_s - 1.0).abs() < 0.1,
            "{height_mm}: {window_s} s, common {common_s}"
        );
    }
}

fn block(width: f64, height: f64, (rows, columns): (usize, usize), symmetric: bool) -> Block {
    let low = if symmetric { 0.0 } else { -0.4 * width };
    Block {
        name: "shank".to_owned(),
        symmetric,
        length_m: 0.1,
        axes: vec![
            Axis::uniform(AxisKind::Linear, 0.0, height, rows).unwrap(),
            Axis::uniform(AxisKind::Linear, low, low + width, columns).unwrap(),
        ],
        first: 0,
    }
}

/// Homogeneous upsetting between flat dies in plane strain takes x/w and z/h of every particle with
/// it, so on nested cells the volume order gives the field exactly, and back again; energy stays to
/// rounding and no value leaves its bounds on cells that do not match at all.
#[test]
fn plane_upsetting_carries_the_field_exactly() {
    for symmetric in [true, false] {
        let old = Grid::of_blocks(vec![block(0.03, 0.05, (6, 8), symmetric)], |_, _, _| true).unwrap();
        let new = Grid::of_blocks(vec![block(0.06, 0.025, (12, 16), symmetric)], |_, _, _| true).unwrap();
        let odd = Grid::of_blocks(vec![block(0.075, 0.02, (7, 13), symmetric)], |_, _, _| true).unwrap();
        let h: Vec<f64> = (0..old.cells()).map(|c| 8e5 + 2e4 * (c as f64 * 1.7).sin()).collect();
        let there = carry(&parcels(&old, &new), &h, new.cells());
        for (cell, value) in there.iter().enumerate() {
            let (i, j) = (cell / 16, cell % 16);
            assert!((value - h[(i / 2) * 8 + j / 2]).abs() < 1e-6, "{cell}");
        }
        let back = carry(&parcels(&new, &old), &there, old.cells());
        for (a, b) in h.iter().zip(&back) {
            assert!((a - b).abs() < 1e-6, "{a} {b}");
        }
        let other = carry(&parcels(&old, &odd), &h, odd.cells());
        let energy = |grid: &Grid, h: &[f64]| -> f64 { grid.volume().iter().zip(h).map(|(v, h)| v * h).sum() };
        assert!((energy(&odd, &other) / energy(&old, &h) - 1.0).abs() < 1e-12);
        // Shares are those of the new cell's volume: of each cell they make the whole.
        let mut whole = vec![0.0; odd.cells()];
        for parcel in parcels(&old, &odd) {
            whole[parcel.to] += parcel.share;
        }
        assert!(whole.iter().all(|sum| (sum - 1.0).abs() < 1e-9), "{whole:?}");
        // Cells of unlike size: one old row is cut into one, two or three, and so are the columns.
        let cut = |cells: usize| -> Vec<usize> { (0..cells).flat_map(|i| vec![i; 1 + i % 3]).collect() };
        let faces = |low: f64, size: f64, cells: usize| -> Vec<f64> {
            let inside = (0..cells).flat_map(|i| {
                let parts = 1 + i % 3;
                (0..parts).map(move |k| (i as f64 + k as f64 / parts as f64) / cells as f64)
            });
            inside.chain([1.0]).map(|share| low + size * share).collect()
        };
        let low = if symmetric { 0.0 } else { -0.4 * 0.06 };
        let mut unlike = block(0.06, 0.025, (6, 8), symmetric);
        unlike.axes = vec![
            Axis::new(AxisKind::Linear, faces(0.0, 0.025, 6)).unwrap(),
            Axis::new(AxisKind::Linear, faces(low, 0.06, 8)).unwrap(),
        ];
        let unlike = Grid::of_blocks(vec![unlike], |_, _, _| true).unwrap();
        let there = carry(&parcels(&old, &unlike), &h, unlike.cells());
        let (rows, columns) = (cut(6), cut(8));
        for (cell, value) in there.iter().enumerate() {
            let (i, j) = (rows[cell / columns.len()], columns[cell % columns.len()]);
            assert!((value - h[i * 8 + j]).abs() < 1e-6, "{cell}");
        }
        let (low, high) = h.iter().fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
        assert!(other.iter().all(|x| *x >= low && *x <= high));
    }
}

fn two_sections(first_percent: f64) -> String {
    let volume = std::f64::consts::PI * 900.0 * 100.0;
    let (a, b) = (first_percent / 100.0 * volume, (1.0 - first_percent / 100.0) * volume);
    format!(
        "{}[[section]]\nname = \"head\"\nmass_percent = {first_percent}\nlength_mm = 50\nsymmetric = true\n\
         [[section]]\nname = \"shank\"\nmass_percent = {}\nlength_mm = 120\n\
         [[stage]]\nkind = \"forge\"\nname = \"former\"\nblows = 2\nlying_before_s = 0\nflow_stress_mpa = 90\n\
         shape = [\n{{ section = \"head\", right_mm = 40, height_mm = {:.4} }},\n\
         {{ section = \"shank\", left_mm = -20, right_mm = 0, height_mm = {:.4} }},\n\
         {{ section = \"shank\", zone = \"flash\", left_mm = 0, right_mm = 12, bottom_mm = 4, top_mm = 7 }},\n]\n\
         [[stage]]\nkind = \"trim\"\nname = \"trim\"\nremoves = [\"flash\"]\n",
        bar(0.8, 12.0),
        100.0 - first_percent,
        a / (80.0 * 50.0),
        (b / 120.0 - 36.0) / 20.0
    )
}

/// The line of two sections (60 % of the mass in the head) cut down to the one named, from a bar of its
/// own mass.
fn alone(text: &str, name: &str) -> String {
    let (percent, other) = if name == "head" {
        ("60", "shank")
    } else {
        ("40", "head")
    };
    let text = text
        .replace("length_mm = 100\n", &format!("length_mm = {percent}\n"))
        .replace(&format!("mass_percent = {percent}"), "mass_percent = 100");
    let from = text.find(&format!("[[section]]\nname = \"{other}\"")).unwrap();
    let after = text[from + 1..].find("[[s").unwrap() + from + 1;
    let text = format!("{}{}", &text[..from], &text[after..]);
    let mine = text
        .lines()
        .filter(|line| !line.contains(&format!("section = \"{other}\"")));
    mine.map(|line| format!("{line}\n")).collect()
}

/// Each section cools as it would alone: the same head beside a shank and as the whole of a bar of
/// its own mass, and the shank beside the head. Heat flow between sections is neglected by design, and nothing else couples them.
#[test]
fn sections_do_not_know_of_each_other() {
    // Flow stress enough to tell the strain of one section from another's.
    let text = two_sections(60.0).replace("flow_stress_mpa = 90", "flow_stress_mpa = 900");
    let both = trace(&text);
    for (section, nodes) in [
        ("head", ["head.core", "head.mean", "head.surface", "head.coldest"]),
        (
            "shank",
            [
                "shank.body.core",
                "shank.mean",
                "shank.body.surface",
                "shank.flash.mean",
            ],
        ),
    ] {
        let text = alone(&text, section);
        let to = text.find("[[stage]]\nkind = \"trim\"").unwrap();
        let single = trace(&text[..to]);
        for node in nodes {
            let (a, b) = (at(&both, "former", "end", node), at(&single, "former", "end", node));
            // The bar's slices differ a little with its length.
            assert!((a - b).abs() < 0.05, "{node}: {a} beside the other, {b} alone");
        }
    }
    assert!(both.ledger.imbalance.abs() < 1e-10);
    // What trimming took is the flash of the shank, by name and by its mass.
    let removed = both
        .ledger
        .entries
        .iter()
        .find(|e| e.name == "removed shank.flash")
        .unwrap();
    let mass = 12e-3 * 3e-3 * 0.12 * 7470.0;
    let mean = at(&both, "trim", "blow 1", "shank.flash.mean");
    let by_hand = mass * 650.0 * (mean - 20.0) * 1e-3;
    assert!(
        (removed.energy_kj / -by_hand - 1.0).abs() < 0.05,
        "{} {by_hand}",
        removed.energy_kj
    );
}

/// A node without a section's name is judged in every section, and the verdict names the worst.
#[test]
fn the_verdict_names_the_worst_section() {
    let limits = "[[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"body.surface\"\nmin_c = 900\n\
                  [[limit]]\nmoment = \"always\"\nnode = \"body.hottest\"\nmax_c = 1300\n\
                  [[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"core\"\ndifference_to = \"coldest\"\nmax_k = 900\n";
    let trace = trace(&format!("{}{limits}", two_sections(60.0)));
    let values = ["head", "shank"].map(|s| at(&trace, "former", "end", &format!("{s}.body.surface")));
    let worst = usize::from(values[1] < values[0]);
    let verdict = &trace.verdicts[0];
    assert_eq!(verdict.limit.node, format!("{}.body.surface", ["head", "shank"][worst]));
    assert_eq!(verdict.value, values[worst]);
    assert!(trace.verdicts[1].limit.node.ends_with(".body.hottest") && trace.verdicts[1].value > 1140.0);
    let cores = ["head", "shank"].map(|s| at(&trace, "former", "end", &format!("{s}.core")));
    let coldest = at(&trace, "former", "end", "coldest");
    assert!((trace.verdicts[2].value - (cores[0].max(cores[1]) - coldest)).abs() < 1e-9);
}

/// The same where the shank, named last, is the worse one: by a maximum at a moment, by limits that hold
/// always, and by a difference of two nodes of one section.
#[test]
fn the_worst_section_may_be_any() {
    let nodes = ["core", "body.surface", "body.coldest", "body.mean"];
    let mut text = two_sections(60.0);
    for node in nodes {
        text += &format!(
            "[[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"{node}\"\nmin_c = 300\n\
             [[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"{node}\"\nmax_c = 1400\n\
             [[limit]]\nmoment = \"always\"\nnode = \"{node}\"\nmin_c = 200\n\
             [[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"core\"\ndifference_to = \"{node}\"\nmax_k = 900\n"
        );
    }
    text += "[[limit]]\nstage = \"former\"\nmoment = \"end\"\nnode = \"flash.mean\"\ndifference_to = \"core\"\nmax_k = 900\n";
    let trace = trace(&text);
    let mut worst_of = [[false; 2]; 4];
    for (n, node) in nodes.into_iter().enumerate() {
        let full = ["head", "shank"].map(|s| format!("{s}.{node}"));
        let end = full.clone().map(|node| at(&trace, "former", "end", &node));
        let cores = ["head", "shank"].map(|s| at(&trace, "former", "end", &format!("{s}.core")));
        let lowest = full.clone().map(|node| {
            let column = trace.nodes.iter().position(|n| *n == node).unwrap();
            let temps = trace.samples.iter().filter_map(|s| s.temps_c[column]);
            temps.fold(f64::INFINITY, f64::min)
        });
        let apart = [0, 1].map(|s| (cores[s] - end[s]).abs());
        let by = |values: [f64; 2], low: bool| usize::from((values[1] < values[0]) == low);
        for (kind, (values, low)) in [(end, true), (end, false), (lowest, true), (apart, false)]
            .into_iter()
            .enumerate()
        {
            if kind == 3 && node == "core" {
                continue;
            }
            let worst = by(values, low);
            let verdict = &trace.verdicts[4 * n + kind];
            assert_eq!(
                verdict.limit.node.split('.').next(),
                full[worst].split('.').next(),
                "{node} {kind}"
            );
            assert!(
                (verdict.value - values[worst]).abs() < 0.5,
                "{node} {kind}: {}",
                verdict.value
            );
            worst_of[kind][worst] = true;
        }
    }
    // Each kind of limit but the difference has met the shank as the worst.
    assert!(worst_of[..3].iter().all(|seen| seen[1]), "{worst_of:?}");
    // The second node of a difference is that of the section of the first: only the shank has flash.
    let value = |node: &str| at(&trace, "former", "end", node);
    let flash = trace.verdicts.last().unwrap();
    let apart = (value("shank.flash.mean") - value("shank.core")).abs();
    assert!((flash.value - apart).abs() < 1e-9, "{} {apart}", flash.value);
    assert_eq!(flash.limit.other.as_deref(), Some("shank.core"));
}

#[test]
fn what_does_not_fit_is_told_by_section_and_strip() {
    let good = two_sections(60.0);
    let says = |text: String, words: &[&str]| match Document::parse(text, "strips.toml") {
        Err(LineFileError::Wrong(problems)) => {
            let message = problems.to_string();
            for word in words {
                assert!(message.contains(word), "{message} lacks {word}");
            }
        }
        other => panic!("not refused: {:?}", other.is_ok()),
    };
    // 169.646 cm3/(2 · 42 mm · 50 mm) = 40.392 mm.
    says(
        good.replace("right_mm = 40,", "right_mm = 42,"),
        &[
            "section `head`",
            "5.00 % too much",
            "strip 1 (its largest) 40.392 mm high",
        ],
    );
    says(
        good.replace("mass_percent = 40", "mass_percent = 41"),
        &["101.00 % of the mass"],
    );
    says(
        good.replace("section = \"shank\", zone", "section = \"shnk\", zone"),
        &["unknown section", "`shank`"],
    );
    says(
        good.replace("left_mm = 0, right_mm = 12", "left_mm = -1, right_mm = 11"),
        &["2 and 3 of the shape overlap"],
    );
    says(
        good.replace(
            "section = \"head\", right_mm",
            "section = \"head\", left_mm = 5, right_mm",
        ),
        &["begins at left_mm = 5"],
    );
    says(
        good.replace("kind = \"trim\"", "kind = \"trim\"\npose = \"standing\""),
        &["pose", "cross-sections"],
    );
    says(good.replace("length_mm = 100\n", ""), &["round billet with a length"]);
    says(
        good.replace("removes = [\"flash\"]", "removes = [\"web\"]"),
        &["unknown zone \"web\""],
    );
    let grip = "[[stage]]\nkind = \"carry\"\nseconds = 1\ngrip = { length_mm = 10 }\n";
    says(format!("{good}{grip}"), &["grip", "cross-sections"]);
    let end = "[[limit]]\nstage = \"trim\"\nmoment = \"start\"\nnode = \"grip_end\"\nmin_c = 700\n";
    says(format!("{good}{end}"), &["grip_end", "cross-sections"]);
}

/// Dies of a long part are kept from part to part; the first part of a warm-up is that of a trace, but for what passes
/// sideways from the narrow land of the flash into the die meanwhile, which the trace leaves out (0.17 K).
#[test]
fn a_long_part_warms_its_dies() {
    let text = two_sections(60.0).replace("ambient_c = 25", "ambient_c = 25\ntakt_s = 12\n")
        + "[[limit]]\nstage = \"trim\"\nmoment = \"first blow\"\nnode = \"flash.mean\"\nmin_c = 600\n";
    let single = trace(&text);
    let options = WarmupOptions {
        parts: 4,
        steady: false,
        preheat: false,
        ..WarmupOptions::default()
    };
    let warm = warmup(document(&text).plan(), &options).unwrap();
    let worst = warm.parts[0].worst.as_ref().unwrap();
    assert_eq!((worst.limit, worst.node.as_str()), (1, "shank.flash.mean"));
    assert!(
        (worst.value - single.verdicts[0].value).abs() < 0.2,
        "{} {}",
        worst.value,
        single.verdicts[0].value
    );
    let last = warm.parts[3].worst.as_ref().unwrap();
    assert!(last.value > worst.value + 0.5, "{} {}", last.value, worst.value);
    // The dies of the sections lie apart: what the head leaves in its die does not reach that of the shank.
    let own = |name: &str| {
        let text = alone(&text, name);
        let text = match text.find("[[stage]]\nkind = \"trim\"") {
            Some(to) if name == "head" => {
                format!(
                    "{}[[limit]]\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1300\n",
                    &text[..to]
                )
            }
            _ => text,
        };
        warmup(document(&text).plan(), &options).unwrap()
    };
    let (head, shank) = (own("head"), own("shank"));
    let single = shank.parts[3].worst.as_ref().unwrap();
    assert!(
        (last.value - single.value).abs() < 0.05,
        "{} {}",
        last.value,
        single.value
    );
    // Means over both dies are by area: 80 x 50 mm under the head, 32 x 120 mm under the shank.
    let face = |shift: &billet_thermal::inside::line::warmup::Warmup| {
        let at = shift
            .dies
            .iter()
            .position(|d| d.stage == "former" && d.body == "upper die")
            .unwrap();
        shift.parts[3].faces[at].after_c
    };
    let by_area = (face(&head) * 4000.0 + face(&shank) * 3840.0) / 7840.0;
    assert!((face(&warm) - by_area).abs() < 0.05, "{} {by_area}", face(&warm));
}
