//! A first line file from answers: every kind of line gives a file that checks and runs without a warning, and no
//! nonsense gets through.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

const BILLET: &str = env!("CARGO_BIN_EXE_billet");

/// Ordinary answers to the questions of a kind, in their order.
fn ordinary(kind: &str) -> Vec<&'static str> {
    match kind {
        "hammer" => vec![
            "Hub 124, hammer 2",
            "42CrMo4",
            "60",
            "140",
            "1240",
            "25",
            "",
            "3",
            "",
            "upsetter",
            "4.2",
            "",
            "92 x ?",
            "blocker",
            "1,4",
            "2",
            "body 70 x ?, flange 116 x 23.4",
            "finisher",
            "",
            "3",
            "web 30 x 8, body 66 x ?, flange 124 x 22, flash 150 x 3",
            "6.8",
        ],
        "press" => vec![
            "Flange",
            "C45",
            "50 mm",
            "96",
            "1220",
            "15",
            "28",
            "2",
            "320",
            "85",
            "180",
            "buster",
            "3.2",
            "76 x ?",
            "finisher",
            "",
            "hub 60 x ?, flange 104 x 16",
        ],
        "screw-press" => vec![
            "Pin", "c45e", "40", "80", "1200", "", "", "1", "", "", "", "3", "55 x ?",
        ],
        "furnace" => vec![
            "Gear blank",
            "18CrNiMo7-6",
            "130",
            "192",
            "15",
            "1235",
            "80",
            "20",
            "2",
            "hydraulic-press",
            "",
            "230",
            "upset",
            "12",
            "200 x ?",
            "finisher",
            "",
            "body 246 x ?, flash 290 x 5",
            "6",
        ],
        "coil-line" => vec![
            "Heater of line 2",
            "42CrMo4",
            "60",
            "140",
            "",
            "14",
            "3",
            "980",
            "980",
            "770",
            "100",
            "1000",
            "1230",
            "20",
            "1",
            "hammer",
            "",
            "upsetter",
            "4.2",
            "1",
            "92 x ?",
        ],
        _ => vec![
            "Lever",
            "42CrMo4",
            "52",
            "205",
            "1200",
            "",
            "",
            "3",
            "big_end",
            "48",
            "92",
            "shank",
            "30",
            "165",
            "small_end",
            "63",
            "1",
            "crank-press",
            "320",
            "85",
            "",
            "blocker",
            "3",
            "82",
            "36",
            "46",
        ],
    }
}

const KINDS: [&str; 6] = ["hammer", "press", "screw-press", "furnace", "coil-line", "long-part"];

fn new(folder: &Path, arguments: &[&str], answers: &[&str]) -> Output {
    let mut child = Command::new(BILLET)
        .arg("new")
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let text = answers.iter().map(|answer| format!("{answer}\n")).collect::<String>();
    // A program that has refused an answer reads no more of them.
    let _ = input.write_all(text.as_bytes());
    drop(input);
    child.wait_with_output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn every_kind_gives_a_file_that_checks_and_runs() {
    let folder = tempfile::tempdir().unwrap();
    for kind in KINDS {
        let name = format!("{kind}.toml");
        let answers = ordinary(kind);
        let output = new(folder.path(), &["--kind", kind, &name], &answers);
        assert_eq!(output.status.code(), Some(0), "{kind}: {}", said(&output));
        let file = folder.path().join(&name);
        let text = std::fs::read_to_string(&file).unwrap();
        // What the user said is there, and what the program takes, with its reason.
        let head: Vec<&str> = text.lines().take(3).collect();
        assert!(head[0].starts_with("# Made by `billet new` from answers."), "{text}");
        assert!(head[1].starts_with("# remark with `default` and the reason"), "{text}");
        assert_eq!(head[2], format!("title = \"{}\"", answers[0]));
        // A steel that is asked for by another of its names stands there by its first.
        let named = if answers[1].eq_ignore_ascii_case("c45e") {
            "C45"
        } else {
            answers[1]
        };
        let (steel, diameter, length) = (named, answers[2].trim_end_matches(" mm"), answers[3]);
        let size = format!("steel = \"{steel}\"\ndiameter_mm = {diameter}  # cold size\nlength_mm = {length}\n");
        assert!(text.to_lowercase().contains(&size.to_lowercase()), "{size}: {text}");
        // An assumption has its reason.
        assert!(text.contains("# assumed: a fifth of the length"), "{text}");
        assert!(!text.lines().any(|line| line.ends_with("assumed")), "{text}");
        assert!(text.matches("  # default: ").count() > 5, "{text}");
        // Cross-sections of a long part are followed each on its own, which is told of every such line.
        let told = usize::from(kind == "long-part");
        let output = Command::new(BILLET).arg("check").arg(&file).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{kind}: {}", said(&output));
        assert_eq!(
            said(&output).matches("warning").count(),
            told,
            "{kind}: {}",
            said(&output)
        );
        let quick = folder.path().join(format!("quick-{name}"));
        std::fs::write(&quick, format!("resolution = \"quick\"\n{text}")).unwrap();
        let output = Command::new(BILLET)
            .args(["--json", "trace"])
            .arg(&quick)
            .output()
            .unwrap();
        assert!(matches!(output.status.code(), Some(0 | 1)), "{kind}: {}", said(&output));
        let trace: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(
            trace["warnings"].as_array().unwrap().len(),
            told,
            "{kind}: {}",
            trace["warnings"]
        );
        assert!(!trace["verdicts"].as_array().unwrap().is_empty(), "{kind}");
        // The same by name, and the kind as the first answer.
        let first: Vec<&str> = [kind].into_iter().chain(answers).collect();
        let again = new(folder.path(), &["-"], &first);
        assert_eq!(String::from_utf8_lossy(&again.stdout), text, "{kind}: {}", said(&again));
    }
}

#[test]
fn an_existing_file_is_never_touched() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("mine.toml");
    std::fs::write(&file, "mine").unwrap();
    let output = new(folder.path(), &["--kind", "hammer", "mine.toml"], &ordinary("hammer"));
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("is there already"), "{}", said(&output));
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
    // Nor one whose name comes from the title.
    std::fs::write(folder.path().join("hub-124-hammer-2.toml"), "mine").unwrap();
    // It is told before anything else is asked for.
    let output = new(folder.path(), &["--kind", "hammer"], &ordinary("hammer")[..1]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(
        said(&output).contains("hub-124-hammer-2.toml: is there already"),
        "{}",
        said(&output)
    );
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("nowhere.toml", folder.path().join("link.toml")).unwrap();
        let output = new(folder.path(), &["--kind", "hammer", "link.toml"], &ordinary("hammer"));
        assert_eq!(output.status.code(), Some(2));
        assert!(!folder.path().join("nowhere.toml").exists());
    }
}

/// The keys of the questions that ordinary answers belong to.
fn keys(folder: &Path, kind: &str) -> Vec<String> {
    let answers = ordinary(kind);
    // The first answer that is missing is asked for by its key.
    let mut keys = Vec::new();
    for count in 0..answers.len() {
        let mut given = answers[..count].to_vec();
        given.push("\u{7f}no answer\u{7f}");
        let output = new(folder, &["--kind", kind, "-"], &given);
        let text = said(&output);
        assert_eq!(output.status.code(), Some(2), "{kind} {count}: {text}");
        assert!(text.contains("allowed: "), "{kind} {count}: {text}");
        assert_eq!(text.lines().count(), 1, "{text}");
        let key = text
            .strip_prefix("billet: ")
            .and_then(|text| text.split_once(": "))
            .unwrap()
            .0;
        keys.push(key.to_owned());
    }
    keys
}

#[test]
fn every_nonsense_answer_is_refused_with_what_is_allowed() {
    let folder = tempfile::tempdir().unwrap();
    for kind in KINDS {
        let answers = ordinary(kind);
        let keys = keys(folder.path(), kind);
        for (k, key) in keys.iter().enumerate() {
            let is_text = key == "title" || key.ends_with(".name");
            for nonsense in ["-1e9", "NaN", "12 apples", "\u{1b}[2J"] {
                if is_text && !nonsense.starts_with('\u{1b}') {
                    continue;
                }
                let mut given = answers[..k].to_vec();
                given.push(nonsense);
                let output = new(folder.path(), &["--kind", kind, "-"], &given);
                let text = said(&output);
                assert_eq!(output.status.code(), Some(2), "{kind} {key} {nonsense}: {text}");
                assert!(
                    text.starts_with(&format!("billet: {key}: ")) && text.contains("allowed: "),
                    "{text}"
                );
                assert!(output.stdout.is_empty() && !text.contains('\u{1b}'));
            }
        }
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn answers_by_name_and_questions_as_a_list() {
    let folder = tempfile::tempdir().unwrap();
    let set = [
        "title=Ring",
        "steel=C45",
        "diameter_mm=60",
        "length_mm=100",
        "exit_c=1200",
        "impressions=1",
        "move.1.seconds=4",
        "impression.1.shape=92 x ?",
    ];
    let arguments: Vec<&str> = ["--kind", "hammer", "--no-questions"]
        .into_iter()
        .chain(set.iter().flat_map(|set| ["--set", *set]))
        .collect();
    let output = new(folder.path(), &arguments, &[]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(folder.path().join("ring.toml").exists());
    let unknown: Vec<&str> = arguments
        .iter()
        .copied()
        .chain(["--set", "exit_k=3", "other.toml"])
        .collect();
    let output = new(folder.path(), &unknown, &[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("did you mean `exit_c`?"), "{}", said(&output));
    let missing = new(
        folder.path(),
        &["--kind", "hammer", "--no-questions", "other.toml"],
        &[],
    );
    assert_eq!(missing.status.code(), Some(2));
    assert!(
        said(&missing).contains("`title`") && said(&missing).contains("no default"),
        "{}",
        said(&missing)
    );
    for kind in KINDS {
        let output = new(folder.path(), &["--kind", kind, "--questions", "--json"], &[]);
        let list: Value = serde_json::from_slice(&output.stdout).unwrap();
        let list: Vec<&str> = list["questions"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|q| q["name"].as_str())
            .collect();
        let asked = keys(folder.path(), kind);
        // Of a third impression, coil or cross-section there is no more to know than of the second; the last of two
        // cross-sections has the rest of the mass.
        let known = |key: &str| key.contains(".3") || key == "section.2.mass_percent" || list.contains(&key);
        assert_eq!(asked.iter().find(|key| !known(key)), None, "{kind}: {list:?}");
    }
    let output = new(folder.path(), &[], &["hamer"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("did you mean `hammer`?"), "{}", said(&output));
}

#[test]
fn impressions_come_from_a_table() {
    let folder = tempfile::tempdir().unwrap();
    let table = "impression;zone;outer_mm;height_mm;blows;move_s\nupsetter;;92;;1;4,2\n\
                 finisher;body;66;;3;1,4\nfinisher;flange;124;22;;\nfinisher;flash;150;3;;\n";
    std::fs::write(folder.path().join("impressions.csv"), table).unwrap();
    let answers = ["Hub", "42CrMo4", "60", "140", "1240", "25", "", "", "6.8"];
    let arguments = ["--kind", "hammer", "--impressions", "impressions.csv", "hub.toml"];
    let output = new(folder.path(), &arguments, &answers);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = std::fs::read_to_string(folder.path().join("hub.toml")).unwrap();
    for line in [
        "name = \"upsetter\"",
        "seconds = 4.2",
        "blows = 3",
        "zone = \"flange\", inner_mm = 66",
        "removes = [\"flash\"]",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
    let output = Command::new(BILLET)
        .arg("trace")
        .arg(folder.path().join("hub.toml"))
        .output()
        .unwrap();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", said(&output));
    // Heights that do not have the billet's volume are told, not bent.
    std::fs::write(
        folder.path().join("impressions.csv"),
        "impression,outer_mm,height_mm\na,92,80\n",
    )
    .unwrap();
    let output = new(
        folder.path(),
        &["--kind", "hammer", "--impressions", "impressions.csv", "-"],
        &answers[..7],
    );
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    let output = new(
        folder.path(),
        &["--kind", "hammer", "--impressions", "no.csv", "-"],
        &answers,
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("no.csv"));
}
