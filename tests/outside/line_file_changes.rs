//! How the numbers of a line file are changed, in its text and in memory.

use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::{Plan, StageKind};
use billet_thermal::inside::line::trace::Owner;

use crate::line_file::{GOOD, parse};

#[test]
fn an_input_is_changed_in_the_text() {
    let mut document = parse(GOOD).unwrap();
    document.set("stage.to press.seconds", 6.25).unwrap();
    assert!(document.text().contains("seconds = 6.25\ngrip"), "{}", document.text());
    assert_eq!(document.plan().stages[0].seconds(), 6.25);
    // A default is written where it belongs, in a new table, an old one, or an inline one.
    document.set("die.bulk_c", 250.0).unwrap();
    document.set("die.blow_w_m2k", 12_000.0).unwrap();
    document.set("stage.to press.grip.jaw_c", 90.0).unwrap();
    document.set("stage.press.die.lower_c", 300.0).unwrap();
    document.set("stage.press.blows", 3.0).unwrap();
    document.set("limit.1.min_c", 1050.0).unwrap();
    let again = parse(document.text()).unwrap();
    assert_eq!(shown(document.plan()), shown(again.plan()));
    let StageKind::Forge(forge) = &again.plan().stages[1].kind else {
        panic!("no forge");
    };
    assert_eq!(
        (forge.blows, forge.dies.lower.bulk_c, forge.dies.upper.bulk_c),
        (3, 300.0, 250.0)
    );
    assert_eq!(forge.dies.blow_w_m2k, 12_000.0);
    assert!(again.text().starts_with("title = \"Flange\"\n"));
}

#[test]
fn a_refused_change_leaves_the_document_as_it_was() {
    let mut document = parse(GOOD).unwrap();
    let error = document.set("stage.to press.seconds", -1.0).unwrap_err().to_string();
    assert!(error.contains("line.toml:13:11: seconds = -1 s"), "{error}");
    let error = document.set("stage.to pres.seconds", 1.0).unwrap_err().to_string();
    assert!(error.contains("did you mean `stage.to press.seconds`"), "{error}");
    let error = document.set("stage.belt.blows", 1.0).unwrap_err().to_string();
    assert!(error.contains("has no meaning for a cool stage"), "{error}");
    for path in [
        "",
        ".",
        "stage",
        "stage.",
        "stage.press",
        "stage.press.shape.9.outer_mm",
        "limit.0.min_c",
        "title",
        "billet",
    ] {
        assert!(document.set(path, 1.0).is_err(), "{path}");
    }
    assert_eq!(document.text(), GOOD);
    // Both together are right where one alone is not: the shape must carry the billet's volume.
    assert!(document.with(&[("billet.length_mm", 70.0)]).is_err());
    assert!(
        document
            .with(&[("billet.length_mm", 70.0), ("stage.press.shape.1.height_mm", 29.75)])
            .is_ok()
    );
}

#[test]
fn changing_in_memory_gives_the_plan_of_the_changed_text() {
    let document = parse(GOOD).unwrap();
    for values in [
        &[("heater.surface_c", 1199.5)][..],
        &[("stage.press.contact_ms", 20.0), ("limit.1.min_c", 900.0)],
        &[("shop.ambient_c", -10.0), ("stage.to press.air_speed_m_s", 1.5)],
        &[("stage.press.blows", 3.0), ("die.upper_c", 180.0)],
    ] {
        let mut changed = document.clone();
        changed.set_all(values).unwrap();
        assert_eq!(
            shown(&document.with(values).unwrap()),
            shown(changed.plan()),
            "{values:?}"
        );
    }
}

/// The plan as text, apart from where its inputs come from.
fn shown(plan: &Plan) -> String {
    let mut plan = plan.clone();
    plan.inputs.clear();
    for stage in &mut plan.stages {
        stage.line = 0;
    }
    format!("{plan:?}")
}

#[test]
fn parsed_printed_and_parsed_again_is_the_same() {
    for file in std::fs::read_dir("examples").unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_none_or(|end| end != "toml") {
            continue;
        }
        let document = Document::load(&path).unwrap_or_else(|error| panic!("{error}"));
        let complete = document.complete().unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(shown(document.plan()), shown(complete.plan()), "{}", path.display());
        // Nothing but what follows from other inputs is left to a default.
        for input in complete.inputs().iter().filter(|input| input.owner == Owner::Default) {
            assert!(input.follows, "{}: {} is still a default", path.display(), input.path);
        }
        assert_eq!(complete.complete().unwrap().text(), complete.text());
    }
}

/// How long a changed plan takes; run with `--ignored --nocapture`, in release for the figure.
#[test]
#[ignore = "a measurement"]
fn time_of_a_changed_plan() {
    let document = Document::load("examples/hub.toml").unwrap();
    let start = std::time::Instant::now();
    let count = 2000;
    for step in 0..count {
        let seconds = 4.0 + 1e-3 * f64::from(step);
        document
            .with(&[
                ("stage.heater to upsetter.seconds", seconds),
                ("die.bulk_c", 200.0 + seconds),
            ])
            .unwrap();
    }
    println!("with: {:.1} us", start.elapsed().as_secs_f64() * 1e6 / f64::from(count));
    let mut document = document;
    let start = std::time::Instant::now();
    for step in 0..count {
        document
            .set("stage.heater to upsetter.seconds", 4.0 + 1e-3 * f64::from(step))
            .unwrap();
    }
    println!("set: {:.1} us", start.elapsed().as_secs_f64() * 1e6 / f64::from(count));
}
