//! What each blow is judged by, and what it gets: limits at blows, strain rates of unequal blows, flash under scale.

use billet_thermal::inside::judge::{Moment, Verdict};
use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::run::{RunOptions, run};

/// A round of 200 x 150 mm without losses but those to the dies, upset to half its height.
fn press(steel: &str, more: &str, stage: &str) -> Document {
    let text = format!(
        r#"
title = "blows"
resolution = "quick"
[billet]
diameter_mm = 200
length_mm = 150
emissivity = 0
steel = {steel}
[shop]
film_w_m2k = 0
[heater]
kind = "measured"
temperature_c = 1150
[die]
bulk_c = 200
steel = {{ conductivity_w_mk = 27.7, specific_heat_j_kgk = 550, density_kg_m3 = 7700, emissivity = 0 }}
{more}
[[stage]]
kind = "forge"
name = "press"
lying_before_s = 0
lying_after_s = 0
{stage}
"#
    );
    Document::parse(text.as_str(), "blows.toml").unwrap_or_else(|error| panic!("{error}"))
}

const STEEL: &str = "{ conductivity_w_mk = 28, specific_heat_j_kgk = 650, density_kg_m3 = 7470 }";

fn trace(document: &Document) -> Trace {
    run(document.plan(), &RunOptions::default()).unwrap()
}

fn recorded(trace: &Trace, moment: Moment, node: &str) -> f64 {
    let column = trace.nodes.iter().position(|n| n == node).unwrap();
    let reading = trace.moments.iter().find(|m| m.stage == 1 && m.moment == moment);
    reading.unwrap().temps_c[column].unwrap()
}

/// A limit belongs to a node and a moment: the struck face is colder before every blow than before the one
/// before, so the words `first`, `last`, `every` and a number each give another value.
#[test]
fn limits_at_blows_are_judged_at_those_blows() {
    let words = ["first blow", "blow 2", "last blow", "every blow"];
    let limits: String = words
        .into_iter()
        .flat_map(|word| [(word, "min_c = 900"), (word, "max_c = 1200")])
        .map(|(word, bound)| {
            format!("[[limit]]\nstage = \"press\"\nmoment = \"{word}\"\nnode = \"free_end\"\n{bound}\n")
        })
        .collect();
    let stage = format!(
        "blows = 3\ninterval_s = 0.5\ncontact_ms = 20\nflow_stress_mpa = 0.001\n\
         shape = [{{ outer_mm = 282.8427, height_mm = 75 }}]\n{limits}"
    );
    let trace = trace(&press(STEEL, "", &stage));
    let before: Vec<f64> = (1..=3).map(|n| recorded(&trace, Moment::Blow(n), "free_end")).collect();
    assert!(before[0] > before[1] + 1.0 && before[1] > before[2] + 1.0, "{before:?}");
    let found: Vec<(Moment, f64)> = trace.verdicts.iter().map(|v: &Verdict| (v.moment, v.value)).collect();
    // Each word as a minimum and as a maximum: the worst of every blow is the coldest, then the hottest.
    let blows = [1, 1, 2, 2, 3, 3, 3, 1];
    let expected: Vec<(Moment, f64)> = blows
        .into_iter()
        .map(|n| (Moment::Blow(n), before[n as usize - 1]))
        .collect();
    assert_eq!(found, expected);
}

/// Blows of one contact time strain the faster the more they strain: the rate of each is its own strain over
/// that time. Heat of each blow by hand, 0.9 σ(T, ε, ε̇) Δε V, from the flow stress of the steel at the
/// temperature before the blow.
#[test]
fn each_blow_strains_at_its_own_rate() {
    let stage = "blow_shares = [0.8, 0.2]\ncontact_ms = 20\nheat_share = 0.9\n\
                 shape = [{ outer_mm = 282.8427, height_mm = 75 }]\n\
                 die = { blow_w_m2k = 0, resting_w_m2k = 0, flash_w_m2k = 0, gap_w_m2k = 0 }";
    let document = press("\"42CrMo4\"", "", stage);
    let law = document.plan().metal.flow_stress.clone().unwrap();
    let trace = trace(&document);
    let volume = std::f64::consts::PI * 0.01 * 0.15;
    let strain = 2f64.ln();
    for (number, from, to) in [(1, 0.0, 0.8 * strain), (2, 0.8 * strain, strain)] {
        let temp_c = recorded(&trace, Moment::Blow(number), "mean");
        let stress = law.mean_between_pa(temp_c, from, to, (to - from) / 0.020);
        let by_hand = 0.9 * stress * (to - from) * volume * 1e-3;
        let phase = format!("blow {number}");
        let blow = trace.bill.iter().find(|entry| entry.phase == phase).unwrap();
        let found = blow.flows.iter().find(|f| f.name == "deformation").unwrap().energy_kj;
        assert!((found / by_hand - 1.0).abs() < 3e-3, "{phase}: {found} {by_hand}");
    }
}

/// Heat passes from flash to die through its scale as everywhere else: with the same coefficient the outer
/// ring is as hot under the name of flash as under any other, and hotter than without scale.
#[test]
fn flash_is_struck_through_its_scale() {
    let ring = |zone: &str, um: f64| {
        let scale = format!("[scale]\nat_exit_um = {um}\ngrowth = 0\nleft_by_first_blow = 1");
        let stage = format!(
            "contact_ms = 50\nflow_stress_mpa = 0.001\n\
             shape = [{{ zone = \"body\", outer_mm = 200, height_mm = 120 }}, \
             {{ zone = \"{zone}\", inner_mm = 200, outer_mm = 282.8427, height_mm = 30 }}]\n\
             die = {{ blow_w_m2k = 20000, flash_w_m2k = 20000 }}"
        );
        recorded(
            &trace(&press(STEEL, &scale, &stage)),
            Moment::End,
            &format!("{zone}.coldest"),
        )
    };
    let (flash, rim, bare) = (ring("flash", 150.0), ring("rim", 150.0), ring("flash", 0.0));
    assert!((flash - rim).abs() < 1e-6, "{flash} {rim}");
    assert!(flash > bare + 20.0, "{flash} {bare}");
}
