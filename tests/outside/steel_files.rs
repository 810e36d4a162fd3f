//! What the reader says of wrong material files.

use billet_thermal::inside::line::file::{Document, FileError, ProblemKind, SIZE_LIMIT};
use billet_thermal::steel::{Library, Provenance, Steel, SteelError};

const GOOD: &str = "conductivity_w_mk = 30\nspecific_heat_j_kgk = 650\ndensity_kg_m3 = 7850\n";

/// The faults of a text as (line, column, kind), read by the user's rules.
fn faults(text: &str) -> Vec<(usize, usize, ProblemKind)> {
    match Steel::from_toml_str(text, "my.toml") {
        Err(SteelError::Wrong(problems)) => problems.list.into_iter().map(|p| (p.line, p.column, p.kind)).collect(),
        other => panic!("{other:?}"),
    }
}

fn only(text: &str) -> (usize, usize, ProblemKind) {
    let mut all = faults(text);
    assert_eq!(all.len(), 1, "{all:?}");
    all.remove(0)
}

#[test]
fn three_constants_make_a_steel() {
    let steel = Steel::from_toml_str(GOOD, "my.toml").unwrap();
    let table = steel.thermal();
    assert!((table.heating.at(65e3).temp_c - 120.0).abs() < 1e-9);
    assert!((table.conductivity(700.0) - 30.0).abs() < 1e-9);
    assert!(table.cooling.is_none());
    assert_eq!(steel.conductivity.source, "given");
    assert_eq!(steel.conductivity.provenance, Provenance::Given);
    assert_eq!(steel.emissivity.at(20.0), 0.85);
    assert_eq!(steel.emissivity.provenance, Provenance::Default);
    assert!(steel.emissivity.in_range(2000.0));
    assert_eq!(steel.limits.known().len(), 0);
    // Dimensionless textbook cases are possible too.
    Steel::from_toml_str(
        "conductivity_w_mk = 1\nspecific_heat_j_kgk = 1\ndensity_kg_m3 = 1\nemissivity = 0",
        "unit",
    )
    .unwrap();
}

#[test]
fn a_user_table_is_joined_by_straight_lines() {
    let text = "density_kg_m3 = 7850\nspecific_heat_j_kgk = 500\n\
                [conductivity_w_mk]\ntemp_c = [0, 1000]\nvalues = [50, 25]\n";
    let steel = Steel::from_toml_str(text, "my.toml").unwrap();
    assert!((steel.conductivity.at(200.0) - 45.0).abs() < 1e-12);
    // The potential is ∫k dT: 20 to 200 degC at a mean of 47.25 W/mK.
    let table = steel.thermal();
    let state = table.heating.at(table.heating.enthalpy(200.0));
    assert!((state.potential - 180.0 * 47.25).abs() < 0.5, "{}", state.potential);
}

#[test]
fn a_library_value_without_source_is_refused() {
    let text = include_str!("../../materials/c45.toml");
    let without: String = text
        .lines()
        .scan(false, |in_density, line| {
            if line.starts_with('[') {
                *in_density = line == "[density_kg_m3]";
            }
            Some((*in_density, line))
        })
        .filter(|(in_density, line)| !(*in_density && line.starts_with("source")))
        .map(|(_, line)| format!("{line}\n"))
        .collect();
    let error = Steel::from_library_str(&without, "c45.toml").unwrap_err();
    let line = without.lines().position(|l| l == "[density_kg_m3]").unwrap() + 1;
    assert_eq!(
        error.to_string(),
        format!(
            "c45.toml:{line}:1: the source of `density_kg_m3` is missing; every value of a library grade needs one"
        )
    );
    // The same text is fine as a user's own steel.
    Steel::from_toml_str(&without, "c45.toml").unwrap();
    let Err(SteelError::Wrong(problems)) = Steel::from_library_str(GOOD, "x") else {
        panic!()
    };
    assert_eq!(
        problems.list.len(),
        6,
        "name, family, emissivity and three sources: {problems}"
    );
}

#[test]
fn unknown_keys_get_a_suggestion() {
    let (line, column, kind) = only(&format!("{GOOD}resistivity_uhm_m = 0.2\n"));
    assert_eq!((line, column), (4, 1));
    let text = kind.to_string();
    assert_eq!(text, "unknown key `resistivity_uhm_m`");
    let help = kind.help().unwrap();
    assert!(
        help.starts_with("did you mean `resistivity_uohm_m`? (allowed: name, "),
        "{help}"
    );
    // Inside a table too, with that table's keys.
    let (line, column, kind) = only(&format!("{GOOD}[emissivity]\nconstant = 0.8\nsourse = \"x\"\n"));
    assert_eq!((line, column), (6, 1));
    let ProblemKind::UnknownKey { nearest, allowed, .. } = kind else {
        panic!("{kind:?}")
    };
    assert_eq!(nearest.as_deref(), Some("source"));
    assert!(allowed.contains(&"formula".to_string()));
}

#[test]
fn unknown_formulas_and_laws_get_a_suggestion() {
    let text = "density_kg_m3 = 7850\nspecific_heat_j_kgk = 500\n\
                conductivity_w_mk = { formula = \"carbon-steel-conductivty\" }\n";
    let (line, column, kind) = only(text);
    assert_eq!((line, column), (3, 33));
    let ProblemKind::UnknownWord { nearest, allowed, .. } = kind else {
        panic!("{kind:?}")
    };
    assert_eq!(nearest.as_deref(), Some("carbon-steel-conductivity"));
    assert!(allowed.iter().all(|a| a.contains("conductivity")));
    let (_, _, kind) = only(&format!(
        "{GOOD}flow_stress = {{ law = \"shidda\", carbon_pct = 0.4 }}\n"
    ));
    assert!(kind.help().unwrap().contains("did you mean `shida`?"), "{kind}");
}

#[test]
fn values_that_cannot_be_are_named_with_what_is_allowed() {
    let swap = |key: &str, value: &str| -> String {
        GOOD.lines()
            .map(|l| match l.starts_with(key) {
                true => format!("{key} = {value}\n"),
                false => format!("{l}\n"),
            })
            .collect()
    };
    let (line, column, kind) = only(&swap("conductivity_w_mk", "nan"));
    assert_eq!((line, column), (1, 21));
    assert_eq!(kind.help().as_deref(), Some("a finite number is needed"));
    let (_, _, kind) = only(&swap("specific_heat_j_kgk", "-inf"));
    assert!(
        kind.to_string().starts_with("specific_heat_j_kgk = -inf J/kgK"),
        "{kind}"
    );
    let (line, _, kind) = only(&swap("specific_heat_j_kgk", "-650"));
    assert_eq!(line, 2);
    assert_eq!(
        kind.to_string(),
        "specific_heat_j_kgk = -650 J/kgK is out of range: allowed 0.000001 to 10000000 J/kgK"
    );
    let (_, _, kind) = only(&swap("density_kg_m3", "0"));
    assert!(matches!(kind, ProblemKind::OutOfRange { value: 0.0, .. }));
    let (_, _, kind) = only(&format!("{GOOD}emissivity = 1.2\n"));
    assert_eq!(kind.to_string(), "emissivity = 1.2 is out of range: allowed 0 to 1");
}

#[test]
fn tables_must_ascend_and_match() {
    let table = |temps: &str, values: &str| {
        format!(
            "density_kg_m3 = 1\nspecific_heat_j_kgk = 1\n[conductivity_w_mk]\ntemp_c = {temps}\nvalues = {values}\n"
        )
    };
    let (line, column, kind) = only(&table("[20, 100, 90]", "[1, 2, 3]"));
    assert_eq!((line, column), (4, 10));
    assert_eq!(
        kind.to_string(),
        "`conductivity_w_mk`: 90 follows 100; allowed: temperatures in ascending order, each once"
    );
    assert_eq!(only(&table("[20, 20]", "[1, 2]")).2.code(), "not-ascending");
    let kind = only(&table("[20, 30]", "[1, 2, 3]")).2;
    assert!(kind.to_string().contains("2 temperatures and 3 values"), "{kind}");
    assert_eq!(only(&table("[20]", "[1]")).2.code(), "lengths");
    assert_eq!(only(&table("[]", "[]")).2.code(), "lengths");
    assert_eq!(only(&table("[20, nan]", "[1, 2]")).2.code(), "out-of-range");
}

#[test]
fn a_property_is_given_in_one_way() {
    let kind =
        only("density_kg_m3 = 1\nspecific_heat_j_kgk = 1\nconductivity_w_mk = { constant = 1, formula = \"x\" }\n").2;
    assert_eq!(kind.code(), "one-way", "{kind}");
    let kind = only("density_kg_m3 = 1\nspecific_heat_j_kgk = 1\nconductivity_w_mk = {}\n").2;
    assert_eq!(kind.code(), "one-way", "{kind}");
    let kind = only(&format!("{GOOD}cooling_peak_shift_k = 80\n")).2;
    assert!(kind.to_string().contains("give specific_heat_cooling_j_kgk"), "{kind}");
}

#[test]
fn all_faults_of_a_file_are_reported_at_once_in_order() {
    let text = "conductivity_w_mk = -1\nspecific_heat_j_kgk = nan\nemissivity = 2\n[limits]\nforging_min_c = 1300\nstart_max_c = 1200\n";
    let all = faults(text);
    let lines: Vec<usize> = all.iter().map(|f| f.0).collect();
    assert_eq!(lines, [1, 1, 2, 3, 5], "{all:?}");
    assert!(all.iter().any(|f| f.2.to_string() == "`density_kg_m3` is missing"));
    let last = all.last().unwrap().2.to_string();
    assert_eq!(last, "`forging_min_c` (1300) must be below `start_max_c` (1200)");
}

#[test]
fn syntax_errors_keep_their_place() {
    let (line, column, kind) = only(&format!("{GOOD}density_kg_m3 = 7800\n"));
    assert_eq!((line, column), (4, 1));
    assert!(kind.to_string().contains("duplicate key"), "{kind}");
    let (line, _, _) = only("conductivity_w_mk = 30\nspecific_heat_j_kgk 650\n");
    assert_eq!(line, 2);
    let (line, column, kind) = only("conductivity_w_mk = \"thirty\"\n");
    assert_eq!((line, column), (1, 21));
    assert!(kind.to_string().contains("a number or a table"), "{kind}");
    let (line, _, kind) = only(&format!("{GOOD}solidus_c = {{ source = \"x\" }}\n"));
    assert_eq!(line, 4);
    assert!(kind.to_string().contains("value"), "{kind}");
}

#[test]
fn branches_of_different_heat_are_refused() {
    let text = format!(
        "{GOOD}specific_heat_cooling_j_kgk = {{ temp_c = [20, 700, 800, 1000], values = [650, 900, 650, 650] }}\n"
    );
    let kind = only(&text).2;
    assert_eq!(kind.code(), "branch-areas", "{kind}");
    // The same heat at another place is fine, and the branches meet above it.
    let text = "conductivity_w_mk = 30\ndensity_kg_m3 = 7850\n\
        specific_heat_j_kgk = { temp_c = [20, 700, 750, 800, 1000], values = [650, 650, 1650, 650, 650] }\n\
        specific_heat_cooling_j_kgk = { temp_c = [20, 600, 650, 700, 1000], values = [650, 650, 1650, 650, 650] }\n";
    let steel = Steel::from_toml_str(text, "my.toml").unwrap();
    assert_eq!(steel.austenite_c, 800.0);
    let table = steel.thermal();
    let cooling = table.cooling.as_ref().unwrap();
    assert!(cooling.enthalpy(20.0).abs() < 1.0);
    let between = cooling.enthalpy(720.0) - table.heating.enthalpy(720.0);
    assert!((between - (50e3 - 0.5 * 20.0 * 400.0)).abs() < 100.0, "{between}");
}

#[test]
fn files_that_are_no_text() {
    let folder = tempfile::tempdir().unwrap();
    let problem = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        match Steel::from_file(&path) {
            Err(SteelError::File(problem)) => {
                assert!(problem.to_string().contains(name));
                problem
            }
            other => panic!("{other:?}"),
        }
    };
    assert!(matches!(problem("empty.toml", b""), FileError::Empty { .. }));
    assert!(matches!(
        problem("comment.toml", b"# nothing\n\n"),
        FileError::Empty { .. }
    ));
    assert!(matches!(
        problem("binary.toml", b"\x7fELF\xff\xfe"),
        FileError::NotText {
            offset: 4,
            byte: 0xff,
            ..
        }
    ));
    let large = vec![b'#'; SIZE_LIMIT as usize + 1];
    assert!(matches!(problem("large.toml", &large), FileError::TooLarge { .. }));
    let gone = Steel::from_file(&folder.path().join("none.toml"));
    assert!(matches!(gone, Err(SteelError::File(FileError::Read { .. }))));
}

#[test]
fn an_unknown_grade_gets_a_suggestion() {
    let library = Library::builtin().unwrap();
    for (asked, near) in [("42CrMo5", "42CrMo4"), ("c 54", "C45"), ("X40CrMoV51", "X40CrMoV5-1")] {
        let Err(SteelError::UnknownGrade { near: found, known, .. }) = library.find(asked) else {
            panic!()
        };
        assert!(known.len() >= 24);
        if asked != "c 54" {
            assert_eq!(found.as_deref(), Some(near));
        }
    }
    assert_eq!(library.find("aisi 4140").unwrap().name, "42CrMo4");
    assert!(library.find("").is_err());
}

/// A steel inside a larger file: positions are those of the larger file.
#[test]
fn an_inline_steel_is_placed_in_its_file() {
    let text = "title = \"x\"\n[billet]\nsteel = { conductivity_w_mk = 30, specific_heat_j_kgk = -5 }\n";
    let shown = Document::parse(text, "line.toml").unwrap_err().to_string();
    assert!(
        shown.contains("line.toml:3:9: steel: `density_kg_m3` is missing"),
        "{shown}"
    );
    assert!(
        shown.contains("line.toml:3:57: steel: specific_heat_j_kgk = -5 J/kgK"),
        "{shown}"
    );
}

#[test]
fn a_steel_printed_and_read_again_is_the_same() {
    for file in ["42crmo4.toml", "ti-6al-4v.toml", "x20cr13.toml"] {
        let path = format!("{}/materials/{file}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        let printed = toml::to_string(&text.parse::<toml::Table>().unwrap()).unwrap();
        let first = Steel::from_library_str(&text, "a").unwrap();
        let second = Steel::from_library_str(&printed, "a").unwrap();
        assert_eq!(first, second);
    }
}

#[test]
fn branches_that_cannot_be_built_are_refused() {
    let en = "conductivity_w_mk = 30\ndensity_kg_m3 = 7850\n[specific_heat_j_kgk]\n\
              formula = \"en-1993-1-2-carbon-steel-specific-heat\"\n";
    let top = |keys: &str, table: &str| format!("{keys}{en}{table}");
    let kind = only(&top("cooling_peak_shift_k = 600\n", "")).2;
    assert_eq!(
        kind.to_string(),
        "cooling_peak_shift_k = 600 K is out of range: allowed 0 to 580 K"
    );
    let kind = only(&top("cooling_peak_shift_k = 85\n", "range_c = [20, 800]\n")).2;
    assert!(kind.to_string().contains("515 to 900 degC"), "{kind}");
    let kind = only(&top("austenite_c = 900\n", "")).2;
    assert_eq!(kind.code(), "not-here", "{kind}");
    let wild = "density_kg_m3 = 1\nconductivity_w_mk = 1\n\
                specific_heat_j_kgk = { temp_c = [0, 1], values = [1e-3, 1e6] }\n";
    assert_eq!(only(wild).2.code(), "spread");
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(300))]

    /// A grade file with a piece overwritten gives a steel or a typed error with a place inside the
    /// text, never a panic; and what loads has a usable table.
    #[test]
    fn damaged_files_never_panic(
        file in 0usize..4,
        at in 0.0f64..1.0,
        cut in 0usize..40,
        put in "[-0-9.einaf\\[\\]{}=\"\\n, ]{0,12}",
    ) {
        let text = [
            include_str!("../../materials/42crmo4.toml"),
            include_str!("../../materials/x20cr13.toml"),
            include_str!("../../materials/ti-6al-4v.toml"),
            include_str!("../../materials/c45.toml"),
        ][file];
        let start = (at * text.len() as f64) as usize;
        let end = (start + cut).min(text.len());
        let damaged = format!("{}{put}{}", &text[..start], &text[end..]);
        match Steel::from_toml_str(&damaged, "damaged.toml") {
            Ok(steel) => {
                let table = steel.thermal();
                let h = table.heating.enthalpy(1000.0);
                proptest::prop_assert!(h.is_finite() && h > 0.0);
                proptest::prop_assert!((table.heating.at(h).temp_c - 1000.0).abs() < 1e-3);
            }
            Err(SteelError::Wrong(problems)) => {
                proptest::prop_assert!(!problems.list.is_empty());
                for f in problems.list {
                    proptest::prop_assert!(f.span.end <= damaged.len() && f.line >= 1 && f.column >= 1);
                    proptest::prop_assert!(f.line <= damaged.lines().count() + 1);
                }
            }
            Err(other) => proptest::prop_assert!(matches!(other, SteelError::File(FileError::NotText { .. })), "{other:?}"),
        }
    }
}
