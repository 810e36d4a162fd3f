//! The line file: what is refused, with which words and at which place, and what is taken.

use billet_thermal::inside::judge::{Bound, Moment};
use billet_thermal::inside::line::file::{Document, LineFileError, Problem};
use billet_thermal::inside::line::plan::{DeformationHeat, InputValue, StageKind};
use billet_thermal::inside::line::trace::Owner;

/// A short valid line; tests break one thing of it.
pub const GOOD: &str = r#"title = "Flange"
[billet]
steel = "C45"
diameter_mm = 60
length_mm = 140
[heater]
kind = "measured"
surface_c = 1230
core_c = 1210
[[stage]]
kind = "carry"
name = "to press"
seconds = 4.2
grip = { end = "grip_end", length_mm = 25 }
[[stage]]
kind = "forge"
name = "press"
blows = 2
contact_ms = 50
interval_s = 1.5
shape = [{ outer_mm = 92, height_mm = 59.5 }]
[[stage]]
kind = "cool"
name = "belt"
seconds = 20
[[limit]]
stage = "press"
moment = "first blow"
node = "surface"
min_c = 1100
"#;

pub fn parse(text: &str) -> Result<Document, LineFileError> {
    Document::parse(text, "line.toml")
}

/// The problems of `GOOD` with one text in place of another.
fn problems(old: &str, new: &str) -> Vec<Problem> {
    assert_eq!(GOOD.matches(old).count(), 1, "`{old}` must stand in the text once");
    match parse(&GOOD.replace(old, new)) {
        Err(LineFileError::Wrong(problems)) => problems.list,
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("`{new}` was taken"),
    }
}

/// The one problem of `GOOD` with one text in place of another: message with help, line, column.
fn refused(old: &str, new: &str) -> (String, usize, usize) {
    let list = problems(old, new);
    assert_eq!(list.len(), 1, "{list:#?}");
    let help = list[0].kind.help().unwrap_or_default();
    (format!("{}; {help}", list[0].kind), list[0].line, list[0].column)
}

#[track_caller]
fn check(old: &str, new: &str, words: &[&str], place: (usize, usize)) {
    let (message, line, column) = refused(old, new);
    for word in words {
        assert!(message.contains(word), "`{word}` is not in: {message}");
    }
    assert_eq!((line, column), place, "{message}");
}

#[test]
fn the_good_line_is_taken() {
    let document = parse(GOOD).unwrap();
    let plan = document.plan();
    assert_eq!(plan.stages.len(), 3);
    assert_eq!(plan.limits.len(), 1);
    assert!(plan.warnings.is_empty(), "{:?}", plan.warnings);
}

#[test]
fn keys_and_words_are_refused_with_a_near_match() {
    check(
        "diameter_mm = 60",
        "diamter_mm = 60",
        &["unknown key `diamter_mm`", "did you mean `diameter_mm`"],
        (4, 1),
    );
    check(
        "steel = \"C45\"",
        "steel = \"C46\"",
        &["unknown steel \"C46\"", "did you mean `C45`"],
        (3, 9),
    );
    check(
        "kind = \"forge\"",
        "kind = \"forg\"",
        &["unknown kind \"forg\"", "did you mean `forge`", "carry, wait, rest"],
        (16, 8),
    );
    check(
        "node = \"surface\"",
        "node = \"surfaces\"",
        &["unknown node \"surfaces\"", "did you mean `surface`"],
        (29, 8),
    );
    check(
        "stage = \"press\"",
        "stage = \"pres\"",
        &["unknown stage \"pres\"", "did you mean `press`"],
        (27, 9),
    );
    check(
        "moment = \"first blow\"",
        "moment = \"frist blow\"",
        &["unknown moment", "did you mean `first blow`"],
        (28, 10),
    );
    check(
        "end = \"grip_end\"",
        "end = \"left\"",
        &["unknown end \"left\"", "grip_end, free_end, both"],
        (14, 16),
    );
    check(
        "diameter_mm = 60",
        "side_mm = 60\nsection = \"suqare\"",
        &["did you mean `square`"],
        (5, 11),
    );
}

#[test]
fn numbers_outside_their_range_are_refused_with_the_range() {
    check(
        "diameter_mm = 60",
        "diameter_mm = -60",
        &["diameter_mm = -60 mm", "1 to 5000 mm"],
        (4, 15),
    );
    check(
        "seconds = 4.2",
        "seconds = -4.2",
        &["seconds = -4.2 s", "0 to 1000000 s"],
        (13, 11),
    );
    check(
        "diameter_mm = 60",
        "diameter_mm = 60\nemissivity = 1.2",
        &["emissivity = 1.2", "0 to 1"],
        (5, 14),
    );
    check(
        "core_c = 1210",
        "core_c = nan",
        &["core_c = nan degC", "a finite number is needed"],
        (9, 10),
    );
    check("core_c = 1210", "core_c = -inf", &["core_c = -inf degC"], (9, 10));
    check(
        "core_c = 1210",
        "core_c = 1e308",
        &["core_c = 1e308 degC", "-50 to 1600 degC"],
        (9, 10),
    );
    check("blows = 2", "blows = 0", &["blows = 0", "1 to 200"], (18, 9));
    check(
        "blows = 2",
        "blows = 2.5",
        &["wrong type: found number `2.5`, expected a whole number"],
        (18, 9),
    );
    check(
        "title = \"Flange\"",
        "title = \"\"",
        &["title has 0 characters", "1 to 10000"],
        (1, 9),
    );
}

#[test]
fn all_range_errors_of_a_file_come_at_once() {
    let text = GOOD
        .replace("diameter_mm = 60", "diameter_mm = -60")
        .replace("seconds = 4.2", "seconds = -1")
        .replace("min_c = 1100", "min_c = 9999");
    let Err(LineFileError::Wrong(problems)) = parse(&text) else {
        panic!("taken");
    };
    let lines: Vec<usize> = problems.list.iter().map(|problem| problem.line).collect();
    assert_eq!(lines, [4, 13, 30], "{problems}");
}

#[test]
fn all_unknown_keys_and_types_of_a_file_come_at_once() {
    let text = GOOD
        .replace("length_mm = 140", "lenght_mm = 140")
        .replace("seconds = 4.2", "seconds = \"4.2\"");
    let Err(LineFileError::Wrong(problems)) = parse(&text) else {
        panic!("taken");
    };
    let shown = problems.to_string();
    assert!(
        shown.contains("line.toml:5:1: unknown key `lenght_mm`; did you mean `length_mm`?"),
        "{shown}"
    );
    assert!(
        shown.contains("line.toml:13:11: wrong type: found text \"4.2\", expected a number"),
        "{shown}"
    );
}

#[test]
fn wrong_names_types_and_ranges_come_together_without_what_follows_from_them() {
    let text = GOOD
        .replace("length_mm = 140", "lenght_mm = 140") // would leave the grip and the shape without a length
        .replace("diameter_mm = 60", "diameter_mm = -60")
        .replace("seconds = 4.2", "seconds = \"4.2\"") // would be missing
        .replace("contact_ms = 50", "contact_ms = -50")
        .replace("kind = \"measured\"", "kind = \"mesured\"")
        .replace("min_c = 1100", "min_c = 9999");
    let Err(LineFileError::Wrong(problems)) = parse(&text) else {
        panic!("taken");
    };
    let shown = problems.to_string();
    let told: Vec<(usize, &str)> = problems.list.iter().map(|p| (p.line, p.kind.code())).collect();
    let want = [
        (4, "out-of-range"),
        (5, "unknown-key"),
        (7, "unknown-word"),
        (13, "wrong-type"),
        (19, "out-of-range"),
        (30, "out-of-range"),
    ];
    assert_eq!(told, want, "{shown}");
    // What is missing in a table that was read whole is told; in one that lost a key it is not.
    let text = GOOD
        .replace("length_mm = 25", "lengths_mm = 25")
        .replace("seconds = 20\n", "");
    let Err(LineFileError::Wrong(problems)) = parse(&text) else {
        panic!("taken");
    };
    let told: Vec<&str> = problems.list.iter().map(|p| p.kind.code()).collect();
    assert_eq!(told, ["unknown-key", "missing"], "{problems}");
}

#[test]
fn what_cannot_be_is_refused() {
    check(
        "interval_s = 1.5",
        "interval_s = 0.04",
        &["a blow of 0.05 s is longer than its interval of 0.04 s"],
        (19, 14),
    );
    check(
        "name = \"belt\"",
        "name = \"press\"",
        &["two stages are named \"press\""],
        (24, 8),
    );
    check(
        "name = \"belt\"",
        "name = \"heater\"",
        &["cannot be named \"heater\""],
        (24, 8),
    );
    check(
        "length_mm = 25",
        "length_mm = 150",
        &["grips take 150 mm of a part 140 mm long"],
        (14, 8),
    );
    check(
        "end = \"grip_end\", length_mm = 25",
        "end = \"both\", length_mm = 71",
        &["grips take 142 mm"],
        (14, 8),
    );
    check(
        "height_mm = 59.5",
        "height_mm = 60",
        &[
            "398.857 cm3",
            "395.841 cm3",
            "0.76 % too much",
            "tolerance 0.5 %",
            "height_mm = 59.546 would fit",
        ],
        (21, 9),
    );
    check(
        "moment = \"first blow\"",
        "moment = \"blow 3\"",
        &["has no moment \"blow 3\"", "it has 2 blows"],
        (28, 10),
    );
    check(
        "stage = \"press\"",
        "stage = \"belt\"",
        &["stage \"belt\" has no moment", "a cool stage has no blows"],
        (28, 10),
    );
    check(
        "node = \"surface\"",
        "node = \"flash.mean\"",
        &["unknown node \"flash.mean\""],
        (29, 8),
    );
    check(
        "min_c = 1100",
        "difference_to = \"core\"",
        &["`max_k` beside difference_to is missing"],
        (30, 17),
    );
    check(
        "seconds = 20",
        "seconds = 20\nblows = 2",
        &["`blows` has no meaning for a cool stage", "it belongs to forge"],
        (26, 9),
    );
    check(
        "core_c = 1210",
        "core_c = 1210\ncore_below_surface_k = 20",
        &["`core_c` and `core_below_surface_k` cannot both be given"],
        (10, 24),
    );
    check("core_c = 1210", "", &["`core_c` is missing"], (6, 1));
    check("kind = \"measured\"", "", &["`kind` of the heater is missing"], (6, 1));
    let long: Vec<String> = problems("length_mm = 140\n", "")
        .iter()
        .map(|problem| problem.kind.to_string())
        .collect();
    assert_eq!(long.len(), 2, "{long:?}");
    assert!(long[0].contains("a grip needs the length of the billet"), "{}", long[0]);
    assert!(
        long[1].contains("shape needs a round billet with a length"),
        "{}",
        long[1]
    );
}

#[test]
fn conflicts_point_at_both_places() {
    let exclude = "min_c = 1100\n[[limit]]\nmoment = \"every blow\"\nnode = \"hottest\"\nmax_c = 1050";
    let list = problems("min_c = 1100", exclude);
    assert_eq!(list.len(), 1, "{list:#?}");
    let text = GOOD.replace("min_c = 1100", exclude);
    let (other, _) = list[0].other.clone().unwrap();
    assert_eq!(&text[list[0].span.clone()], "1100");
    assert_eq!(&text[other], "1050");
    assert!(
        list[0]
            .kind
            .to_string()
            .contains("at least 1100 degC but at most 1050 degC"),
        "{}",
        list[0].kind
    );

    let list = problems("name = \"belt\"", "name = \"press\"");
    let text = GOOD.replace("name = \"belt\"", "name = \"press\"");
    let (other, word) = list[0].other.clone().unwrap();
    assert_eq!((&text[other], word), ("\"press\"", "first used here"));
}

#[test]
fn limits_that_never_meet_do_not_exclude_each_other() {
    for other in [
        "[[limit]]\nmoment = \"exit\"\nnode = \"surface\"\nmax_c = 1050",
        "[[limit]]\nstage = \"press\"\nmoment = \"last blow\"\nnode = \"surface\"\nmax_c = 1050",
        "[[limit]]\nstage = \"belt\"\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1050",
        "[[limit]]\nstage = \"press\"\nmoment = \"first blow\"\nnode = \"core\"\nmax_c = 1050",
    ] {
        assert!(parse(&format!("{GOOD}{other}\n")).is_ok(), "{other}");
    }
}

#[test]
fn shapes_must_be_in_one_piece() {
    let shape = |rings: &str| {
        let list = problems(
            "shape = [{ outer_mm = 92, height_mm = 59.5 }]",
            &format!("shape = [{rings}]"),
        );
        list.iter()
            .map(|problem| problem.kind.to_string())
            .collect::<Vec<_>>()
            .join("\n")
    };
    let overlap = shape("{ outer_mm = 92, height_mm = 50 }, { outer_mm = 80, bottom_mm = 40, top_mm = 60 }");
    assert!(overlap.contains("rings 1 and 2 of the shape overlap"), "{overlap}");
    let loose = shape("{ outer_mm = 92, height_mm = 50 }, { inner_mm = 95, outer_mm = 120, height_mm = 10 }");
    assert!(loose.contains("ring 2 touches no other"), "{loose}");
    let empty = shape("{ outer_mm = 92, inner_mm = 93, height_mm = 50 }");
    assert!(
        empty.contains("inner_mm = 93 mm is not below outer_mm = 92 mm"),
        "{empty}"
    );
    assert!(shape("").contains("a ring of the shape is missing"));
    assert!(shape("{ outer_mm = 92, height_mm = 59.5, zone = \"a.b\" }").contains("no zone name"));
}

#[test]
fn inline_steel_is_refused_at_its_own_place() {
    let inline = "steel = { conductivity_w_mk = -3, specific_heat_j_kgk = 650, density_kg_m3 = 7850 }";
    let list = problems("steel = \"C45\"", inline);
    let text = GOOD.replace("steel = \"C45\"", inline);
    assert_eq!(&text[list[0].span.clone()], "-3", "{list:#?}");
    check(
        "steel = \"C45\"",
        "steel = { conductivty_w_mk = 3 }",
        &["did you mean `conductivity_w_mk`"],
        (3, 11),
    );
    check(
        "steel = \"C45\"",
        "steel = \"no-such-file.toml\"",
        &["no-such-file.toml", "cannot be read"],
        (3, 9),
    );
}

#[test]
fn a_textbook_case_is_taken() {
    // Everything constant, a uniform start, a die held at its temperature, a fixed film.
    let text = r#"
title = "two half-spaces"
[billet]
steel = { conductivity_w_mk = 28, specific_heat_j_kgk = 650, density_kg_m3 = 7470, emissivity = 0 }
section = "plate"
thickness_mm = 200
[shop]
film_w_m2k = 0
[heater]
kind = "measured"
temperature_c = 1150
[die]
steel = { conductivity_w_mk = 27.7, specific_heat_j_kgk = 550, density_kg_m3 = 7700 }
fixed = true
[[stage]]
kind = "forge"
contact_ms = 10
lying_before_s = 0
lying_after_s = 0
"#;
    let document = parse(text).unwrap();
    let StageKind::Forge(forge) = &document.plan().stages[0].kind else {
        panic!("no forge");
    };
    assert!(forge.dies.lower.fixed && forge.dies.upper.fixed);
    assert_eq!(forge.seconds(), 0.01);
    assert_eq!(forge.heat, DeformationHeat::None);
    assert_eq!(document.plan().stages[0].name, "forge");
    assert_eq!(document.plan().metal.density_kg_m3.value, 7470.0);
}

#[test]
fn upset_strain_is_that_of_the_heights() {
    // Homogeneous upset: strain = ln(140 / 59.5) = 0.85567, calculated by hand.
    let document = parse(GOOD).unwrap();
    let StageKind::Forge(forge) = &document.plan().stages[1].kind else {
        panic!("no forge");
    };
    let DeformationHeat::FlowStress {
        strain,
        strain_rate_1_s,
        heat_share,
        ..
    } = &forge.heat
    else {
        panic!("no heat");
    };
    assert!((strain - 0.855_666).abs() < 1e-6, "{strain}");
    assert!((strain_rate_1_s - 0.855_666 / 0.1).abs() < 1e-4, "{strain_rate_1_s}");
    assert_eq!(*heat_share, 0.9);
    assert!((forge.seconds() - (0.5 + 1.5 + 0.05 + 0.5)).abs() < 1e-12);
}

#[test]
fn without_limits_those_of_the_steel_apply() {
    let text = &GOOD[..GOOD.find("[[limit]]").unwrap()];
    let document = parse(text).unwrap();
    let plan = document.plan();
    let steel = &plan.metal.limits;
    let bounds: Vec<(Option<&str>, Moment, &str, Bound)> = plan
        .limits
        .iter()
        .map(|l| (l.stage.as_deref(), l.moment, l.node.as_str(), l.bound))
        .collect();
    assert_eq!(
        bounds,
        [
            (
                None,
                Moment::Always,
                "hottest",
                Bound::MaxC(steel.never_exceed_c.as_ref().unwrap().value)
            ),
            (
                Some("heater"),
                Moment::Exit,
                "hottest",
                Bound::MaxC(steel.start_max_c.as_ref().unwrap().value)
            ),
            (
                Some("press"),
                Moment::EveryBlow,
                "surface",
                Bound::MinC(steel.forging_min_c.as_ref().unwrap().value)
            ),
        ]
    );
    assert!(
        plan.limits
            .iter()
            .all(|l| l.owner == Owner::Library && !l.source.is_empty())
    );
    // One limit of one's own replaces them all, unless they are asked for.
    assert_eq!(parse(GOOD).unwrap().plan().limits.len(), 1);
    let both = GOOD.replace("title =", "steel_limits = true\ntitle =");
    assert_eq!(parse(&both).unwrap().plan().limits.len(), 4);
}

#[test]
fn every_input_has_an_owner_and_a_reason() {
    let document = parse(GOOD).unwrap();
    for input in document.inputs() {
        assert!(!input.source.is_empty(), "{} has no source", input.path);
        if let (Some(value), Some(allowed)) = (input.number(), input.allowed) {
            assert!(allowed.contains(value), "{} = {value}", input.path);
        }
    }
    let diameter = document.input("billet.diameter_mm").unwrap();
    assert_eq!(
        (diameter.owner, diameter.value.clone(), diameter.unit),
        (Owner::Given, InputValue::Number(60.0), "mm")
    );
    assert_eq!(diameter.source, "line 4");
    let blow = document.input("die.blow_w_m2k").unwrap();
    assert_eq!(blow.owner, Owner::Default);
    assert!(blow.source.contains("4000 to 20000"), "{}", blow.source);
    assert_eq!(
        document.input("billet.steel.thermal conductivity").unwrap().owner,
        Owner::Library
    );
    let mut paths: Vec<&str> = document.inputs().iter().map(|input| input.path.as_str()).collect();
    paths.sort_unstable();
    let before = paths.len();
    paths.dedup();
    assert_eq!(paths.len(), before, "a path stands twice");
}

#[test]
fn an_unusual_coefficient_is_taken_with_a_warning() {
    let text = GOOD.replace("[heater]", "[die]\nblow_w_m2k = 90000\n[heater]");
    let warnings = parse(&text).unwrap().plan().warnings.clone();
    assert_eq!(warnings.len(), 1);
    assert_eq!(warnings[0].code, "unusual-coefficient");
    assert!(warnings[0].message.contains("die.blow_w_m2k = 90000") && warnings[0].message.contains("4000 to 50000"));
}

#[test]
fn a_melting_billet_is_taken_with_a_warning() {
    let warnings = parse(&GOOD.replace("surface_c = 1230", "surface_c = 1450"))
        .unwrap()
        .plan()
        .warnings
        .clone();
    assert_eq!(warnings.len(), 1);
    assert_eq!(warnings[0].code, "above-solidus");
    assert!(warnings[0].message.contains("1450 degC"), "{}", warnings[0].message);
}
