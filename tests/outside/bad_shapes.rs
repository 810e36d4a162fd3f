//! Shapes, dies, grips and trimming that cannot be: each is refused by one message with its place, its
//! numbers and what would be right.

use std::path::Path;
use std::process::Command;

use billet_thermal::inside::line::file::{Document, LineFileError, Problem};

const HUB: &str = include_str!("../../examples/hub.toml");
const ROD: &str = include_str!("../../examples/connecting-rod.toml");
const FLANGE: &str = include_str!("../../examples/flange.toml");
const COLD: &str = include_str!("../../examples/cold-start.toml");

/// A text with one part of it, at its first place, in place of another.
fn changed(text: &str, old: &str, new: &str) -> String {
    assert!(text.contains(old), "`{old}` stands in the text");
    text.replacen(old, new, 1)
}

fn problems(text: &str) -> Vec<Problem> {
    match Document::parse(text, "bad.toml") {
        Err(LineFileError::Wrong(problems)) => problems.list,
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("was taken"),
    }
}

/// Number of the first line with these words.
fn line_of(text: &str, words: &str) -> usize {
    text.lines().position(|line| line.contains(words)).unwrap() + 1
}

/// File, text in it, what stands there instead, words of the line that is pointed at, code, words of the message
/// and its help.
type Case = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static [&'static str],
);

const CASES: &[Case] = &[
    // Volumes: by how much, and which ring or strip would make it good.
    (
        HUB,
        "outer_mm = 66, height_mm = 67.4",
        "outer_mm = 66, height_mm = 70",
        "shape = [",
        "volume-mismatch",
        &[
            "402.856 cm3",
            "395.849 cm3",
            "1.77 % too much",
            "0.5 %",
            "0.98261",
            "ring 3 (its largest) 21.190 mm high instead of 22.000 mm",
        ],
    ),
    (
        ROD,
        "height_mm = 37.526",
        "height_mm = 40",
        "height_mm = 40 }",
        "section-volume",
        &[
            "section `big_end`",
            "5.44 % too much",
            "strip 2 (its largest) 37.526 mm high instead of 40.000 mm",
        ],
    ),
    // Overlapping and loose rings and strips.
    (
        HUB,
        "inner_mm = 66, outer_mm = 124",
        "inner_mm = 60, outer_mm = 124",
        "inner_mm = 60",
        "rings-overlap",
        &[
            "rings 2 and 3 of the shape overlap",
            "diameters 60 to 66 mm at heights 0 to 22 mm",
        ],
    ),
    (
        HUB,
        "shape = [{ outer_mm = 92, height_mm = 59.5 }]",
        "shape = [{ outer_mm = 92, bottom_mm = 5, top_mm = 40 }, { inner_mm = 80, outer_mm = 96, bottom_mm = 30, top_mm = 60 }]",
        "shape = [{ outer_mm = 92, bottom",
        "rings-overlap",
        &["rings 1 and 2", "diameters 80 to 92 mm at heights 30 to 40 mm"],
    ),
    (
        HUB,
        "inner_mm = 124, outer_mm = 150",
        "inner_mm = 130, outer_mm = 150",
        "inner_mm = 130",
        "loose-ring",
        &["ring 4 touches no other ring of the shape"],
    ),
    (
        ROD,
        "zone = \"flash\", left_mm = 43",
        "zone = \"flash\", left_mm = 40",
        "left_mm = 40",
        "strips-overlap",
        &[
            "strips 2 and 3",
            "section `big_end`",
            "40 to 43 mm across at heights 17.3 to 20 mm",
        ],
    ),
    (
        ROD,
        "zone = \"flash\", left_mm = 43",
        "zone = \"flash\", left_mm = 44",
        "left_mm = 44",
        "loose-strip",
        &["strip 3 touches no other strip of section `big_end`"],
    ),
    (
        ROD,
        "zone = \"flash\", left_mm = 43",
        "zone = \"flash\", left_mm = 63",
        "left_mm = 63",
        "empty-ring",
        &["left_mm = 63 mm is not below right_mm = 63 mm"],
    ),
    // Rings where strips belong, and the other way round: told once.
    (
        ROD,
        "right_mm = 27, height_mm",
        "outer_mm = 27, height_mm",
        "outer_mm = 27",
        "not-here",
        &[
            "`outer_mm` has no meaning for a strip of a cross-section",
            "left_mm and right_mm",
        ],
    ),
    (
        HUB,
        "outer_mm = 92, height_mm",
        "right_mm = 92, height_mm",
        "right_mm = 92",
        "not-here",
        &["`right_mm` has no meaning for a ring", "[[section]]"],
    ),
    (
        ROD,
        "shape = [\n    { section = \"big_end\", right_mm = 27, height_mm = 42.067 },\n    { section = \"shank\", right_mm = 14, height_mm = 28.270 },\n    { section = \"small_end\", right_mm = 20, height_mm = 38.008 },\n]",
        "shape = []",
        "shape = []",
        "missing",
        &["a strip of the shape", "section = .."],
    ),
    (
        ROD,
        "    { section = \"small_end\", zone = \"body\", right_mm = 23, height_mm = 33.050 },\n",
        "",
        "machine = \"mechanical\"\n",
        "missing",
        &["a strip of section `small_end`"],
    ),
    // Sections: one message, and not one more for every shape that names them.
    (
        ROD,
        "mass_percent = 22",
        "mass_percent = 21",
        "mass_percent = 21",
        "section-shares",
        &["99.00 %", "100 %"],
    ),
    (
        ROD,
        "mass_percent = 22",
        "mass_percent = -22",
        "mass_percent = -22",
        "out-of-range",
        &["-22 %", "0 to 100 %"],
    ),
    (
        ROD,
        "mass_percent = 22",
        "mass_percent = nan",
        "mass_percent = nan",
        "out-of-range",
        &["nan", "finite"],
    ),
    (
        ROD,
        "mass_percent = 22",
        "mass_percent = \"22\"",
        "mass_percent = \"22\"",
        "wrong-type",
        &["text \"22\"", "a number"],
    ),
    (
        ROD,
        "mass_percent = 22",
        "mass_percent = 99999999999999999999",
        "mass_percent = 9",
        "wrong-type",
        &["`99999999999999999999`, too large"],
    ),
    (
        ROD,
        "mass_percent = 22",
        "mass_percnt = 22",
        "mass_percnt",
        "unknown-key",
        &["mass_percnt", "did you mean `mass_percent`?"],
    ),
    (
        ROD,
        "symmetric = true",
        "symmetric = \"yes\"",
        "symmetric = \"yes\"",
        "wrong-type",
        &["true or false"],
    ),
    (ROD, "length_mm = 63\n", "", "[[section]]", "missing", &["`length_mm`"]),
    (
        ROD,
        "name = \"small_end\"",
        "name = \"shank\"",
        "name = \"shank\"",
        "duplicate-section",
        &["\"shank\""],
    ),
    (
        ROD,
        "name = \"small_end\"",
        "name = \"small.end\"",
        "name = \"small.end\"",
        "bad-zone",
        &["\"small.end\""],
    ),
    (
        ROD,
        "name = \"small_end\"",
        "name = \"core\"",
        "name = \"core\"",
        "name-taken",
        &["section \"core\"", "node"],
    ),
    (
        ROD,
        "zone = \"web\", right_mm = 16",
        "zone = \"shank\", right_mm = 16",
        "zone = \"shank\"",
        "name-taken",
        &["zone \"shank\" has the name of a section"],
    ),
    (
        ROD,
        "diameter_mm = 52",
        "section = \"square\"\nside_mm = 46",
        "[[section]]",
        "needs",
        &["round billet with a length"],
    ),
    (
        HUB,
        "section = \"round\"\ndiameter_mm = 60",
        "section = \"square\"\nside_mm = 60",
        "shape = [{",
        "needs",
        &["round billet"],
    ),
    // Brackets.
    (
        HUB,
        "[die]",
        "[[die]]",
        "[[die]]",
        "wrong-type",
        &["a list, [[die]]", "one table, [die]"],
    ),
    (
        FLANGE,
        "# No [[limit]]: ",
        "[limit]\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1300\n# ",
        "[limit]",
        "wrong-type",
        &["one table, [limit]", "a list of tables, [[limit]]"],
    ),
    // Dies.
    (
        HUB,
        "outer_mm = 92, height_mm = 59.5 }",
        "outer_mm = 92, height_mm = 59.5, touch = \"gap\" }",
        "touch = \"gap\"",
        "no-die",
        &["touches the lower die", "touch = \"both\""],
    ),
    (
        HUB,
        "outer_mm = 92, height_mm = 59.5 }",
        "outer_mm = 92, height_mm = 59.5, touch = \"lower\" }",
        "touch = \"lower\"",
        "no-die",
        &["touches the upper die"],
    ),
    (
        HUB,
        "outer_mm = 92, height_mm = 59.5 }",
        "outer_mm = 92, height_mm = 59.5, touch = \"uper\" }",
        "touch = \"uper\"",
        "unknown-word",
        &["did you mean `upper`?", "both, lower, upper, gap"],
    ),
    (
        ROD,
        "die = { blow_w_m2k = 8000, bulk_c = 120 }",
        "die = { blow_w_m2k = 8000, bulk_c = 120, friction_factor = 0.3 }",
        "friction_factor = 0.3",
        "not-here",
        &["friction_factor", "cross-sections"],
    ),
    (
        HUB,
        "die = { bulk_c = 120, blow_w_m2k = 5000 }",
        "die = { bulk_c = 120, friction_factor = 0.3 }",
        "friction_factor = 0.3",
        "not-here",
        &["for a trim stage"],
    ),
    // The rhythm.
    (
        HUB,
        "contact_ms = 5\n",
        "contact_ms = 1900\n",
        "contact_ms = 1900",
        "blow-too-long",
        &["1.9 s", "0.8 s"],
    ),
    (
        COLD,
        "pressed_s = 0.15",
        "rebound_s = 0.95\npressed_s = 0.15",
        "rebound_s",
        "out-of-range",
        &["0.95 s", "0 to 0.895 s"],
    ),
    (
        COLD,
        "fills_at_blow = 3",
        "fills_at_blow = 5",
        "fills_at_blow",
        "out-of-range",
        &["allowed 1 to 4"],
    ),
    // Machines.
    (
        ROD,
        "machine = \"mechanical\"\n",
        "",
        "stroke_mm",
        "not-here",
        &["`stroke_mm`", "without machine"],
    ),
    (
        ROD,
        "machine = \"mechanical\"",
        "machine = \"hydraulic\"\nram_speed_m_s = 0.05",
        "stroke_mm",
        "not-here",
        &["`stroke_mm`", "without a crank"],
    ),
    (
        ROD,
        "machine = \"mechanical\"",
        "machine = \"mechnical\"",
        "mechnical",
        "unknown-word",
        &["did you mean `mechanical`?"],
    ),
    // Grips and grippers.
    (
        HUB,
        "grip = { end = \"grip_end\", length_mm = 25 }",
        "grip = []",
        "grip = []",
        "missing",
        &["a grip of the list"],
    ),
    (
        HUB,
        "length_mm = 25 }",
        "length_mm = 150 }",
        "length_mm = 150 }",
        "grip-too-long",
        &["150 mm of a part 140 mm"],
    ),
    (
        FLANGE,
        "end = \"grip_end\", length_mm = 12, gripper = \"arms\", cooling_s = 20",
        "end = \"grip_end\", length_mm = 12, gripper = \"other\", cooling_s = 0",
        "cooling_s = 0",
        "out-of-range",
        &["cooling_s = 0 s"],
    ),
    (
        FLANGE,
        "length_mm = 8, gripper = \"arms\", cooling_s = 20, cold_c = 25 }\n\n[[stage]]\nkind = \"forge\"\nname = \"finisher\"",
        "length_mm = 8, gripper = \"arms\", cooling_s = 40, cold_c = 25 }\n\n[[stage]]\nkind = \"forge\"\nname = \"finisher\"",
        "cooling_s = 40",
        "gripper-differs",
        &["`arms`", "cooling_s = 40 s here and 20 s", "one body"],
    ),
    // Knock-out.
    (
        FLANGE,
        "knock_out_outer_mm = 36",
        "knock_out_outer_mm = 160",
        "= 160",
        "out-of-range",
        &["160 mm", "0 to 106 mm"],
    ),
    (
        HUB,
        "shape = [{ outer_mm = 92, height_mm = 59.5 }]",
        "knock_out_s = 0.2\nknock_out_outer_mm = 20\nshape = [{ inner_mm = 40, outer_mm = 100.3, height_mm = 59.5 }]",
        "knock_out_outer_mm",
        "out-of-range",
        &["20 mm", "above 40 to 100.3 mm"],
    ),
    // Trimming.
    (
        HUB,
        "removes = [\"flash\", \"web\"]",
        "removes = [\"flsh\"]",
        "flsh",
        "unknown-word",
        &["did you mean `flash`?"],
    ),
    (
        HUB,
        "removes = [\"flash\", \"web\"]",
        "removes = [\"flash\", \"flash\"]",
        "removes",
        "removed-twice",
        &["\"flash\" is removed twice"],
    ),
    (
        HUB,
        "removes = [\"flash\", \"web\"]",
        "removes = [\"flange\"]",
        "removes",
        "falls-apart",
        &["removing flange", "zone `flash` touches nothing"],
    ),
    (
        HUB,
        "removes = [\"flash\", \"web\"]",
        "removes = [\"flash\", \"web\", \"body\", \"flange\"]",
        "removes",
        "nothing-left",
        &["leave nothing"],
    ),
    // Zones in limits.
    (
        HUB,
        "node = \"flash.mean\"",
        "node = \"flsh.mean\"",
        "flsh.mean",
        "unknown-word",
        &["did you mean `flash.mean`?"],
    ),
];

#[test]
fn each_is_refused_once_at_its_place() {
    for (file, old, new, place, code, words) in CASES {
        let text = changed(file, old, new);
        let list = problems(&text);
        let [problem] = list.as_slice() else {
            panic!("{new}: {} problems, not one: {list:#?}", list.len());
        };
        assert_eq!(problem.kind.code(), *code, "{new}: {}", problem.kind);
        let told = format!("{}; {}", problem.kind, problem.kind.help().unwrap_or_default());
        for word in *words {
            assert!(told.contains(word), "{new}: `{told}` lacks `{word}`");
        }
        let pointed = text.lines().nth(problem.line - 1).unwrap();
        let first = place.trim();
        let exact = pointed.contains(first) || line_of(&text, first) == problem.line;
        assert!(
            exact || pointed.starts_with("shape = ["),
            "{new}: points at `{pointed}`"
        );
    }
}

/// Friction of all dies is left out with a warning where the part is followed by its sections.
#[test]
fn friction_that_is_left_out_is_told() {
    let text = changed(ROD, "[die]", "[die]\nfriction_factor = 0.3");
    let document = Document::parse(text, "rod.toml").unwrap();
    let told: Vec<&str> = document
        .plan()
        .warnings
        .iter()
        .filter(|w| w.code == "friction-left-out")
        .map(|w| w.message.as_str())
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[2].contains("finisher") && told[2].contains("0.3") && told[2].contains("cross-sections"));
}

/// The command: status 2, nothing on standard output, nothing written.
#[test]
fn nothing_is_written_for_a_shape_that_cannot_be() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("bad.toml");
    let out = folder.path().join("out");
    let text = changed(ROD, "zone = \"flash\", left_mm = 43", "zone = \"flash\", left_mm = 40");
    std::fs::write(&file, &text).unwrap();
    let run = Command::new(env!("CARGO_BIN_EXE_billet"))
        .args([Path::new("trace"), &file, Path::new("--out"), &out])
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    assert_eq!(run.status.code(), Some(2));
    assert!(run.stdout.is_empty() && !out.exists());
    let told = String::from_utf8(run.stderr).unwrap();
    let place = format!("bad.toml:{}:5", line_of(&text, "left_mm = 40"));
    assert!(told.contains("strips 2 and 3") && told.contains(&place), "{told}");
}
