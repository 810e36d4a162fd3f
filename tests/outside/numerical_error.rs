//! The numerical error of a line: `standard` against `fine` on random valid lines of all stage kinds, with
//! waits from a tenth of a second to an hour. It says nothing of the physics, which is less certain.

use std::fmt::Write as _;

use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};
use rayon::prelude::*;

use super::dice::Dice;

/// Largest numerical error of `standard` at any node and moment, K. The worst of two hundred lines is the flash after its trim,
/// 1.46 K, then the corner of a billet that rests on cold steel, 1.35 K. With the usual step
/// tolerance under sprays corners of billets were off by up to 3.2 K.
const WORST_K: f64 = 1.5;
const PROMISED_K: f64 = 1.0;
/// Share of lines that have a node beyond the promise: three of forty, seven of two hundred. The target is none.
const BEYOND: f64 = 3.0 / 40.0;

const STEELS: [&str; 8] = [
    "42CrMo4",
    "C45",
    "16MnCr5",
    "38MnVS6",
    "41Cr4",
    "100Cr6",
    "1.4301",
    "EN1993-1-2-carbon",
];

/// A valid line of a seed.
fn line(seed: u64) -> String {
    let mut dice = Dice(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) + 1);
    let d = &mut dice;
    let mut t = format!("title = \"random {seed}\"\n[billet]\nsteel = \"{}\"\n", d.pick(&STEELS));
    if d.chance(0.05) {
        let (side, length) = (d.between(30.0, 70.0), d.between(90.0, 200.0));
        let _ = writeln!(
            t,
            "section = \"rectangle\"\nwidth_mm = {side:.1}\nheight_mm = {side:.1}\nlength_mm = {length:.1}"
        );
        heater_and_shop(d, &mut t);
        hand_overs(d, &mut t, length, "bar");
        cool(d, &mut t);
        return t;
    }
    let diameter = d.between(20.0, 100.0);
    let length = diameter * d.between(1.0, 2.6);
    let _ = writeln!(t, "diameter_mm = {diameter:.3}\nlength_mm = {length:.3}");
    heater_and_shop(d, &mut t);
    hand_overs(d, &mut t, length, "heater");
    let upset = d.between(0.4, 0.85);
    let (outer, height) = (diameter / upset.sqrt(), length * upset);
    let _ = writeln!(
        t,
        "[[stage]]\nkind = \"forge\"\nname = \"upset\"\nblows = {}\ncontact_ms = {:.1}\ninterval_s = 0.8\nbetween = \"{}\"\n\
         shape = [{{ outer_mm = {outer:.4}, height_mm = {height:.4} }}]",
        1 + (d.next() * 3.0) as u32,
        d.spread(4.0, 300.0),
        d.pick(&["lying", "lifted", "pressed"]),
    );
    hand_overs(d, &mut t, height, "upset");
    if d.chance(0.6) {
        finish(d, &mut t, outer, height);
    }
    cool(d, &mut t);
    t
}

fn heater_and_shop(d: &mut Dice, t: &mut String) {
    let ambient = d.between(-20.0, 40.0);
    let _ = writeln!(
        t,
        "[shop]\nambient_c = {ambient:.1}\nair_speed_m_s = {:.2}",
        d.between(0.0, 4.0)
    );
    let temp = d.between(1050.0, 1240.0);
    if d.chance(0.2) {
        let minutes = d.between(20.0, 90.0);
        let _ = writeln!(
            t,
            "[heater]\nkind = \"furnace\"\ntemperature_c = {temp:.1}\nminutes = {minutes:.1}"
        );
    } else {
        let _ = writeln!(t, "[heater]\nkind = \"measured\"\ntemperature_c = {temp:.1}");
    }
}

/// One to three stages between tools.
fn hand_overs(d: &mut Dice, t: &mut String, length: f64, after: &str) {
    for k in 0..1 + (d.next() * 3.0) as u32 {
        // One in six is as long as a breakdown.
        let seconds = if d.chance(0.16) {
            d.spread(10.0, 3600.0)
        } else {
            d.spread(0.1, 10.0)
        };
        let kind = d.pick(&["carry", "carry", "wait", "rest", "descale"]);
        let seconds = if kind == "descale" { seconds.min(2.0) } else { seconds };
        let _ = writeln!(
            t,
            "[[stage]]\nkind = \"{kind}\"\nname = \"{kind} {k} after {after}\"\nseconds = {seconds:.3}"
        );
        if kind == "carry" && d.chance(0.7) {
            let _ = writeln!(
                t,
                "grip = {{ end = \"grip_end\", length_mm = {:.2} }}",
                length * d.between(0.1, 0.4)
            );
        }
    }
}

/// A finisher with a flash, a way to the trim press, and trimming.
fn finish(d: &mut Dice, t: &mut String, upset_outer: f64, upset_height: f64) {
    let (thick, wide) = (d.between(2.0, 5.0), d.between(6.0, 20.0));
    let outer = upset_outer * d.between(1.02, 1.1);
    let volume = upset_outer.powi(2) * upset_height;
    let flash = ((outer + 2.0 * wide).powi(2) - outer.powi(2)) * thick;
    let height = (volume - flash) / outer.powi(2);
    if height < 2.0 * thick {
        return;
    }
    let bottom = 0.5 * (height - thick);
    let _ = writeln!(
        t,
        "[[stage]]\nkind = \"forge\"\nname = \"finisher\"\nblows = {}\ncontact_ms = {:.1}\ninterval_s = 0.9\nbetween = \"{}\"\n\
         shape = [{{ zone = \"body\", outer_mm = {outer:.4}, bottom_mm = 0, top_mm = {height:.4} }}, \
         {{ zone = \"flash\", inner_mm = {outer:.4}, outer_mm = {:.4}, bottom_mm = {bottom:.4}, top_mm = {:.4} }}]",
        1 + (d.next() * 2.0) as u32,
        d.spread(4.0, 60.0),
        d.pick(&["lying", "lifted"]),
        outer + 2.0 * wide,
        bottom + thick,
    );
    hand_overs(d, t, height, "finisher");
    let _ = writeln!(
        t,
        "[[stage]]\nkind = \"trim\"\nname = \"trim\"\ncontact_ms = 50\nremoves = [\"flash\"]"
    );
}

fn cool(d: &mut Dice, t: &mut String) {
    let _ = writeln!(
        t,
        "[[stage]]\nkind = \"cool\"\nname = \"belt\"\nseconds = {:.1}",
        d.spread(1.0, 3600.0)
    );
}

/// The worst node of a line: numerical error \[K\], where and when, and the steps of both.
struct Worst {
    seed: u64,
    error_k: f64,
    place: String,
    steps: (u64, u64),
}

fn worst(seed: u64) -> Worst {
    let text = line(seed);
    let document = Document::parse(text.clone(), "random.toml").unwrap_or_else(|error| panic!("{error}\n{text}"));
    let at = |resolution| -> Trace {
        let options = RunOptions {
            resolution: Some(resolution),
            ..RunOptions::bare()
        };
        run(document.plan(), &options).unwrap_or_else(|error| panic!("seed {seed}: {error}"))
    };
    let (ours, fine) = (at(Resolution::Standard), at(Resolution::Fine));
    let mut worst = Worst {
        seed,
        error_k: 0.0,
        place: String::new(),
        steps: (ours.work.steps, fine.work.steps),
    };
    for (a, b) in ours.moments.iter().zip(&fine.moments) {
        for (node, pair) in ours.nodes.iter().zip(a.temps_c.iter().zip(&b.temps_c)) {
            if let (Some(x), Some(y)) = pair
                && (x - y).abs() > worst.error_k.abs()
            {
                worst.error_k = x - y;
                worst.place = format!("{node} at {} of {}, {x:.1} degC", a.moment, ours.stages[a.stage].name);
            }
        }
    }
    worst
}

fn within_the_promise(seeds: std::ops::Range<u64>) {
    let mut all: Vec<Worst> = seeds.into_par_iter().map(worst).collect();
    all.sort_by(|a, b| b.error_k.abs().total_cmp(&a.error_k.abs()));
    println!("numerical error of the worst node and moment, standard against fine");
    for w in &all {
        println!(
            "{:4} {:+7.3} K  {:5} and {:5} steps  {}",
            w.seed, w.error_k, w.steps.0, w.steps.1, w.place
        );
    }
    let beyond = |k: f64| all.iter().filter(|w| w.error_k.abs() > k).count();
    assert_eq!(beyond(WORST_K), 0, "lines with a node beyond {WORST_K} K");
    assert!(
        beyond(PROMISED_K) as f64 <= BEYOND * all.len() as f64,
        "lines with a node beyond {PROMISED_K} K"
    );
}

#[test]
fn most_of_forty_random_lines_keep_the_promise() {
    within_the_promise(0..40);
}

#[test]
#[ignore = "minutes; the same as above on more lines"]
fn most_of_two_hundred_random_lines_keep_the_promise() {
    within_the_promise(0..200);
}
