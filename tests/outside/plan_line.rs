//! Planning over a real line file whose answers are closed: a thin plate with a fixed film
//! coefficient and no radiation cools as T = Ta + (T0 - Ta) exp(-t / tau), tau = rho c L / (2 h)
//! (lumped body; its Biot number h (L/2) / k is 3e-5 here).

use std::path::Path;

use billet_thermal::inside::ask::band::{Band, BandOptions, EndOf, exit_band, exit_for};
use billet_thermal::inside::ask::compare::differences;
use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::family::{read_family, run_family};
use billet_thermal::inside::ask::hand_overs::{Uncertain, hand_over_times};
use billet_thermal::inside::ask::line_model::LineModel;
use billet_thermal::inside::ask::model::{Change, Model, ModelError, Probe};
use billet_thermal::inside::ask::risk::GuardLine;
use billet_thermal::inside::ask::scatter::{reduce, run_part, study_key};
use billet_thermal::inside::ask::sensitivity::{exit_sensitivity, sensitivity};
use billet_thermal::inside::ask::shards::Shard;
use billet_thermal::inside::ask::study::Study;
use billet_thermal::inside::ask::times::TimesOptions;
use billet_thermal::inside::judge::Moment;
use billet_thermal::inside::line::RunOptions;
use billet_thermal::inside::line::file::Document;

use crate::exact::special::normal_cdf;

const TAU: f64 = 7800.0 * 600.0 * 0.01 / (2.0 * 50.0);

fn after(exit_c: f64, t: f64) -> f64 {
    25.0 + (exit_c - 25.0) * (-t / TAU).exp()
}

pub const PLATE: &str = r#"
title = "Thin plate"
resolution = "quick"
[billet]
section = "plate"
thickness_mm = 10
steel = { conductivity_w_mk = 8000, specific_heat_j_kgk = 600, density_kg_m3 = 7800 }
[shop]
ambient_c = 25
film_w_m2k = 50
view_factor = 0
takt_s = 12
[heater]
kind = "measured"
temperature_c = 1240
[[stage]]
kind = "carry"
name = "first"
seconds = 4
[[stage]]
kind = "wait"
name = "second"
seconds = 6
[[limit]]
stage = "second"
moment = "end"
node = "surface"
min_c = 1200
[[limit]]
stage = "first"
moment = "start"
node = "core"
max_c = 1260
[study]
samples = 1024
[[study.scatter]]
input = "heater.temperature_c"
kind = "normal"
sd = 8
[[study.scatter]]
input = "stage.second.seconds"
kind = "truncated-normal"
sd = 1.0
low = 2
high = 10
"#;

fn line() -> LineModel {
    LineModel::new(Document::parse(PLATE, Path::new("plate.toml")).unwrap())
}

/// A limit that holds always is crossed when the closed form says, steps after the start of the run and before its
/// end: 1224 degC after TAU ln(1215 / 1199) = 6.2 s.
#[test]
fn a_limit_is_crossed_when_the_closed_form_says() {
    let text = PLATE.replace("seconds = 6", "seconds = 90").replacen(
        "[[limit]]",
        "[[limit]]\nmoment = \"always\"\nnode = \"surface\"\nmin_c = 1224\n[[limit]]",
        1,
    );
    let document = Document::parse(text, Path::new("plate.toml")).unwrap();
    let trace = document.trace(&RunOptions::default()).unwrap();
    let crossing_s = trace.verdicts[0].crossing_s.unwrap();
    let exact_s = TAU * (1215.0_f64 / 1199.0).ln();
    assert!((crossing_s - exact_s).abs() < 0.02, "{crossing_s} {exact_s}");
}

#[test]
fn delays_of_a_thin_plate() {
    let line = line();
    let nominal = line.run(&[]).unwrap();
    let value = nominal.verdicts[0].value;
    assert!(
        (value - after(1240.0, 10.0)).abs() < 0.05,
        "{value} for {}",
        after(1240.0, 10.0)
    );
    let found = hand_over_times(&line, None, &nominal, &Uncertain::default(), &TimesOptions::default()).unwrap();
    let exact = TAU * (1215.0_f64 / 1175.0).ln() - 10.0;
    for times in &found {
        let edge = times.alone.latest().unwrap();
        let extra = edge.seconds - times.planned_s;
        assert!((extra - exact).abs() < 0.03 && edge.limit == 0, "{extra} for {exact}");
    }
    // Rate at the end of the wait: -(T - Ta) / tau.
    let rate = -(after(1240.0, 10.0) - 25.0) / TAU;
    assert!(
        (found[1].k_per_s[0] / rate - 1.0).abs() < 0.01,
        "{} for {rate}",
        found[1].k_per_s[0]
    );
}

#[test]
fn exit_band_of_a_thin_plate() {
    let line = line();
    let Band::Open { low, high } = exit_band(&line, None, &[], &GuardLine::default(), &BandOptions::default()).unwrap()
    else {
        panic!("there is a band");
    };
    let exact = 25.0 + 1175.0 * (10.0 / TAU).exp();
    assert!(
        (low.exit_c - exact).abs() < 0.1 && low.by == EndOf::Limit(0),
        "{low:?} for {exact}"
    );
    assert!(
        (high.exit_c - 1260.0).abs() < 0.1 && high.by == EndOf::Limit(1),
        "{high:?}"
    );
    let probe = Probe {
        stage: "first".to_owned(),
        moment: Moment::End,
        node: "core".to_owned(),
    };
    let exit = exit_for(&line, &probe, 1000.0, &BandOptions::default()).unwrap();
    assert!((after(exit, 4.0) - 1000.0).abs() < 0.1, "{exit}");
    let wrong = Probe {
        node: "cor".to_owned(),
        ..probe
    };
    let error = exit_for(&line, &wrong, 1000.0, &BandOptions::default()).unwrap_err();
    assert!(error.to_string().contains("did you mean `core`"), "{error}");
}

#[test]
fn slopes_of_a_thin_plate() {
    let line = line();
    let nominal = line.run(&[]).unwrap();
    let exit = exit_sensitivity((&line, None), &nominal).unwrap();
    assert!((exit.per_unit[0] - (-10.0 / TAU).exp()).abs() < 1e-3, "{exit:?}");
    assert!((exit.per_unit[1] - 1.0).abs() < 1e-6 && (exit.margin_per_unit[1] + 1.0).abs() < 1e-6);
    // Film coefficient: dT/dh = -(T - Ta) t / (tau h).
    let film = sensitivity((&line, None), "shop.film_w_m2k", &nominal).unwrap();
    let exact = -(after(1240.0, 10.0) - 25.0) * 10.0 / (TAU * 50.0);
    assert!((film.per_unit[0] / exact - 1.0).abs() < 0.02, "{film:?} for {exact}");
    let error = sensitivity((&line, None), "shop.film_w_m2", &nominal).unwrap_err();
    assert!(error.to_string().contains("did you mean `shop.film_w_m2k`"), "{error}");
}

/// T at the limit is nearly linear in exit and wait, so the probability is nearly that of a normal
/// variable with the two spreads.
#[test]
fn scatter_of_a_thin_plate() {
    let line = line();
    let study = Study::read(PLATE, Path::new("plate.toml"), &line).unwrap();
    let key = study_key(&line, &study, PLATE, "quick");
    let mut shard = Shard::new(key, 1, 1).unwrap();
    run_part(&line, &study, &mut shard, 256, |_| Ok(true)).unwrap();
    let result = reduce(line.limits(), &shard.rows, 0.999).unwrap();
    let a = (-10.0_f64 / TAU).exp() * 8.0;
    let b = (after(1240.0, 10.0) - 25.0) / TAU;
    let sd = (a * a + b * b).sqrt();
    let margin = after(1240.0, 10.0) - 1200.0;
    let exact = [normal_cdf(-margin / sd), normal_cdf(-20.0 / 8.0)];
    for (limit, exact) in result.limits.iter().zip(exact) {
        assert!(
            limit.broken.low <= exact && exact <= limit.broken.high,
            "{}: {:?} for {exact}",
            limit.name,
            limit.broken
        );
    }
    assert!((result.limits[0].value.sd / sd - 1.0).abs() < 0.02);
}

#[test]
fn a_rest_can_be_put_in() {
    let line = line();
    let with = line.with_rest("first", "table").unwrap();
    assert_eq!(with.handovers().len(), 3);
    let before = line.run(&[]).unwrap().verdicts[0].value;
    let after = with.run(&[Change::new("stage.table.seconds", 0.001)]).unwrap().verdicts[0].value;
    assert!((before - after).abs() < 0.5, "{before} and {after}");
    assert!(matches!(line.with_rest("none", "x"), Err(ModelError::Refused { .. })));
}

#[test]
fn families_and_differences() {
    let line = line();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("family.csv");
    std::fs::write(
        &path,
        "part;heater.temperature_c;billet.thickness_mm\nA;1240;10\nB;1205,5;\nC;1240;5\n",
    )
    .unwrap();
    let rows = read_family(&path, &line).unwrap();
    let base = Enquiry::new(line.document().clone(), None).unwrap();
    let results = run_family(&base, &rows, false);
    let value = |k: usize| results[k].as_ref().unwrap().outcome.verdicts[0].value;
    assert!((value(1) - after(1205.5, 10.0)).abs() < 0.05);
    // Half the thickness cools as in twice the time.
    assert!((value(2) - after(1240.0, 20.0)).abs() < 0.1, "{}", value(2));
    // A wrong row keeps its reason and the others go on; a steel is a word.
    std::fs::write(
        &path,
        "part,heater.temperature_c,billet.steel\nA,1240,\nB,hot,\nA,1240,\nC,1240,C45\nD,1240,X1\nE,9999,\n",
    )
    .unwrap();
    let rows = read_family(&path, &line).unwrap();
    let results = run_family(&base, &rows, true);
    let why = |k: usize| results[k].as_ref().unwrap_err().to_string();
    assert!(
        why(1).contains("line 3: `hot` in column `heater.temperature_c`"),
        "{}",
        why(1)
    );
    assert!(why(2).contains("part `A` is there twice"), "{}", why(2));
    assert!(
        why(4).contains("X1") && why(5).contains("9999"),
        "{} {}",
        why(4),
        why(5)
    );
    let planned = |k: usize| results[k].as_ref().unwrap().plan.as_ref().unwrap();
    let judged = base.judged().unwrap();
    assert_eq!(planned(0).times, judged.times().unwrap());
    let latest = |k: usize| planned(k).times[0].alone.latest().unwrap().seconds;
    assert!((latest(3) - latest(0)).abs() > 0.05, "another steel cools otherwise");
    std::fs::write(&path, "part,heater.temperatur_c\nA,1240\n").unwrap();
    let error = read_family(&path, &line).unwrap_err().to_string();
    assert!(error.contains("did you mean `heater.temperature_c`"), "{error}");
    let other = PLATE.replace("temperature_c = 1240", "temperature_c = 1230");
    let other = LineModel::new(Document::parse(other, Path::new("b.toml")).unwrap());
    let found = differences(&[line.document().inputs(), other.document().inputs()]);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].path, "heater.temperature_c");
    assert_eq!(found[0].values, [Some("1240".to_owned()), Some("1230".to_owned())]);
}

/// The offset of a computed exit: it moves the exit by itself, has its own name in the ledger, and
/// gives the band that the same field given as measured gives.
#[test]
fn a_computed_exit_can_be_shifted() {
    let furnace = "title = \"T\"\n[billet]\nsteel = \"C45\"\nsection = \"round\"\ndiameter_mm = 40\nlength_mm = 80\n\
                   [heater]\nkind = \"furnace\"\ntemperature_c = 1230\nminutes = 60\nOFFSET\n\
                   [[stage]]\nkind = \"carry\"\nname = \"over\"\nseconds = 5\n\
                   [[limit]]\nstage = \"over\"\nmoment = \"end\"\nnode = \"surface\"\nmin_c = 1120\n\
                   [[limit]]\nstage = \"over\"\nmoment = \"end\"\nnode = \"core\"\nmax_c = 1260\n";
    let document = |offset: &str| Document::parse(furnace.replace("OFFSET", offset), "line.toml").unwrap();
    let plain = LineModel::new(document(""));
    let shifted = LineModel::new(document("exit_offset_k = -30"));
    let exit_c = |model: &LineModel| {
        let trace = model.trace(&[], &RunOptions::bare()).unwrap();
        let core = trace.nodes.iter().position(|n| n == "core").unwrap();
        assert!(trace.ledger.imbalance.abs() < 1e-8);
        (
            trace
                .moments
                .iter()
                .find(|m| m.moment.to_string() == "exit")
                .unwrap()
                .temps_c[core]
                .unwrap(),
            trace,
        )
    };
    let ((a, _), (b, trace)) = (exit_c(&plain), exit_c(&shifted));
    assert!((a - b - 30.0).abs() < 1e-6, "{a} {b}");
    let lost = trace.ledger.entries.iter().find(|e| e.name == "exit offset").unwrap();
    // 0.79 kg by about 0.65 kJ/kgK by 30 K.
    assert!((lost.energy_kj + 15.4).abs() < 0.6, "{}", lost.energy_kj);

    // The furnace has soaked the billet through, so a uniform measured exit must give the same band.
    let measured = furnace.replace(
        "kind = \"furnace\"\ntemperature_c = 1230\nminutes = 60\nOFFSET",
        "kind = \"measured\"\ntemperature_c = 1229",
    );
    let measured = LineModel::new(Document::parse(measured, "line.toml").unwrap());
    let ends = |model: &LineModel| match exit_band(model, None, &[], &GuardLine::default(), &BandOptions::default())
        .unwrap()
    {
        Band::Open { low, high } => (low.exit_c, high.exit_c),
        other => panic!("{other:?}"),
    };
    let (one, other, third) = (ends(&plain), ends(&shifted), ends(&measured));
    assert!(
        (one.0 - third.0).abs() < 1.0 && (one.1 - third.1).abs() < 1.0,
        "{one:?} {third:?}"
    );
    assert!(
        (one.0 - other.0).abs() < 0.1 && (one.1 - other.1).abs() < 0.1,
        "{one:?} {other:?}"
    );
}
