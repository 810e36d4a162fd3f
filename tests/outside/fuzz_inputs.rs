//! Every kind of file that the program reads, damaged at random: each ends in a result of finite numbers or in an error
//! with words, never in a panic, and never takes long. And every file that once was too much, as it was.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use billet_thermal::inside::ask::decide::{DecisionTable, Log};
use billet_thermal::inside::ask::distribution::read_column;
use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::family::read_family;
use billet_thermal::inside::ask::line_model::LineModel;
use billet_thermal::inside::ask::shards::{SampleRow, Shard, StudyKey, gather, read_shard, write_shard};
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::measured::{Reading, Sheet};
use billet_thermal::steel::Steel;
use serde_json::Value;

use crate::dice::Dice;
use crate::fuzz::damaged;

/// Longest time for one file.
const LONGEST: Duration = Duration::from_secs(10);

/// A kind of input: whole examples of it, how one is damaged, and what is done with it.
struct Kind {
    name: &'static str,
    examples: Vec<String>,
    damage: fn(&str, &mut Dice) -> Vec<u8>,
    take: Box<dyn Fn(&Path) -> bool>,
}

const LINE: &str = r#"
title = "Pin"
resolution = "quick"
[billet]
steel = "C45"
diameter_mm = 30
length_mm = 60
[heater]
kind = "measured"
temperature_c = 1200
[[stage]]
kind = "carry"
name = "to die"
seconds = 2
[[stage]]
kind = "forge"
name = "die"
lying_before_s = 0.2
lying_after_s = 0
[[limit]]
stage = "die"
moment = "first blow"
node = "surface"
min_c = 900
"#;

fn line() -> Document {
    Document::parse(LINE, "line.toml").unwrap()
}

fn all_finite(table: &DecisionTable) -> bool {
    let decided = [850.0, 1150.0, 1300.0].map(|exit_c| table.decide(exit_c, &[1.0]));
    let value = serde_json::to_value(decided).unwrap();
    // JSON has no word for a number that is none: it becomes null.
    !value.to_string().contains("\"margin_k\":null")
}

/// A number, a text or a list of a JSON value changed, left out or made of another type.
fn damaged_json(text: &str, dice: &mut Dice) -> Vec<u8> {
    fn change(value: &mut Value, dice: &mut Dice) {
        match value {
            Value::Array(list) if !list.is_empty() && dice.below(5) > 0 => {
                let at = dice.below(list.len());
                match dice.below(8) {
                    0 => drop(list.remove(at)),
                    1 => list.push(list[at].clone()),
                    _ => change(&mut list[at], dice),
                }
            }
            Value::Object(map) if !map.is_empty() && dice.below(9) > 0 => {
                let key = map.keys().nth(dice.below(map.len())).unwrap().clone();
                match dice.below(12) {
                    0 => drop(map.remove(&key)),
                    _ => change(&mut map[&key], dice),
                }
            }
            other => {
                let new = [
                    Value::from(-1),
                    Value::from(1e300),
                    Value::from(0),
                    Value::from(1_u64 << 60),
                    Value::from("a\u{1b}[2Jb"),
                    Value::from("\u{202e}"),
                    Value::Null,
                    Value::Array(Vec::new()),
                ];
                *other = new[dice.below(new.len())].clone();
            }
        }
    }
    let mut value: Value = serde_json::from_str(text).unwrap();
    for _ in 0..=dice.below(2) {
        change(&mut value, dice);
    }
    value.to_string().into_bytes()
}

/// A result file damaged, with a closing line that fits more often than not.
fn damaged_results(text: &str, dice: &mut Dice) -> Vec<u8> {
    let bytes = damaged(text, dice);
    let Ok(text) = String::from_utf8(bytes.clone()) else {
        return bytes;
    };
    let Some((body, end)) = text.trim_end().rsplit_once('\n') else {
        return bytes;
    };
    let Some((said, _)) = end.rsplit_once(' ') else {
        return bytes;
    };
    if dice.below(4) == 0 {
        return bytes;
    }
    // RFC 9923, as the file has it.
    let digest = format!("{body}\n")
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
    format!("{body}\n{said} {digest:016x}\n").into_bytes()
}

fn results() -> String {
    let key = StudyKey {
        study: "abc".into(),
        program: "0.1.0".into(),
        seed: 1,
        samples: 12,
        outputs: vec!["a".into(), "b".into()],
    };
    let mut shard = Shard::new(key, 1, 2).unwrap();
    shard.rows = (0..5)
        .map(|index| SampleRow {
            index,
            result: if index == 3 {
                Err("did not settle".into())
            } else {
                Ok(vec![1.5, -20.25])
            },
        })
        .collect();
    let file = tempfile::NamedTempFile::new().unwrap();
    write_shard(file.path(), &shard).unwrap();
    std::fs::read_to_string(file.path()).unwrap()
}

fn read_all(folder: &str) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> = entries
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect()
}

fn kinds() -> Vec<Kind> {
    let table = Enquiry::new(line(), None).unwrap();
    let table = table.judged().unwrap().decision_table().unwrap();
    let logged = table.clone();
    let model = LineModel::new(line());
    let studies = read_all("examples").into_iter().filter(|text| text.contains("[study"));
    vec![
        Kind {
            name: "line",
            examples: read_all("examples"),
            damage: damaged,
            take: Box::new(|path| {
                Document::load(path).is_ok_and(|document| document.plan().takt_s.is_none_or(f64::is_finite))
            }),
        },
        Kind {
            name: "event log",
            examples: vec![
                "part,exit_c,to die\nA,1200,2.1\nB,1190.5,2.4\nC,,2\n".to_owned(),
                "part;exit_c;to die start;to die end\nA;1200,5;06:00:01,5;06:00:03,7\nB;1190;06:00:12;06:00:14\n"
                    .to_owned(),
            ],
            damage: damaged,
            take: Box::new(move |path| {
                let Ok(text) = std::fs::read_to_string(path) else {
                    return false;
                };
                let Ok(log) = Log::read(&text, &logged) else {
                    return false;
                };
                for step in &log.steps {
                    let values = [step.mean, step.sd, step.skew, step.most, step.drift, step.drift_error];
                    assert!(values.iter().all(|value| value.is_finite()), "{step:?}");
                }
                true
            }),
        },
        Kind {
            name: "log of measurements",
            examples: vec![
                "# invented\nclock;chute;trim\n05:58:47,6;1140,4;1070,2\n05:59:02,2;> 1134;n/a\n".to_owned(),
                "time,T degC,seconds\n2026-01-05T06:00:00,1218.5,11.08\n2026-01-05T06:00:15,1225 degF,\n".to_owned(),
            ],
            damage: damaged,
            take: Box::new(|path| {
                let Ok(sheet) = Sheet::load(path) else {
                    return false;
                };
                for (row, column) in sheet
                    .rows
                    .iter()
                    .flat_map(|row| (0..row.cells.len()).map(move |c| (row, c)))
                {
                    let reading = sheet.reading(row, column);
                    assert!(
                        !matches!(reading, Reading::Number(value, _) if !value.is_finite()),
                        "{reading:?}"
                    );
                }
                true
            }),
        },
        Kind {
            name: "study",
            examples: studies.collect(),
            damage: damaged,
            take: Box::new(|path| Document::load(path).is_ok_and(|document| Enquiry::new(document, None).is_ok())),
        },
        Kind {
            name: "steel",
            examples: read_all("materials"),
            damage: damaged,
            take: Box::new(|path| {
                let Ok(steel) = Steel::from_file(path) else {
                    return false;
                };
                let thermal = steel.thermal();
                for temp_c in [20.0, 740.0, 1200.0] {
                    assert!(thermal.heating.enthalpy(temp_c).is_finite(), "enthalpy at {temp_c}");
                }
                true
            }),
        },
        Kind {
            name: "decision table",
            examples: vec![serde_json::to_string(&table).unwrap()],
            damage: damaged_json,
            take: Box::new(|path| {
                let text = std::fs::read_to_string(path).unwrap();
                let Ok(table) = serde_json::from_str::<DecisionTable>(&text) else {
                    return false;
                };
                let fits = table.check().is_ok();
                assert!(!fits || all_finite(&table), "a margin that is no number");
                fits
            }),
        },
        Kind {
            name: "family",
            examples: vec![
                "part,stage.to die.seconds,billet.length_mm\nA,2,60\nB,3,\n".to_owned(),
                "part;stage.to die.seconds\nA;2,5\n# remark\nB;3\n".to_owned(),
            ],
            damage: damaged,
            take: Box::new(move |path| {
                let Ok(rows) = read_family(path, &model) else {
                    return false;
                };
                assert!(
                    rows.iter()
                        .flat_map(|row| &row.changes)
                        .all(|change| change.value.is_finite())
                );
                true
            }),
        },
        Kind {
            name: "measured column",
            examples: vec!["time,seconds\n1,4.2\n2,\n3,4.6\n".to_owned()],
            damage: damaged,
            take: Box::new(|path| {
                let Ok(values) = read_column(path, "seconds") else {
                    return false;
                };
                assert!(values.iter().all(|value| value.is_finite()));
                true
            }),
        },
        Kind {
            name: "results",
            examples: vec![results()],
            damage: damaged_results,
            take: Box::new(|path| {
                let Ok(shard) = read_shard(path) else { return false };
                assert!(shard.outputs().1.iter().all(|value| value.is_finite()));
                let whole = gather(vec![shard]).unwrap();
                // Streamed, however many there are.
                let _ = whole.missing().next();
                true
            }),
        },
    ]
}

/// Tries `rounds` damaged files of each kind; tells how many of each were taken.
fn fuzz(seed: u64, rounds: usize) -> Vec<(&'static str, usize)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("damaged.toml");
    let mut dice = Dice(seed);
    let mut taken = Vec::new();
    for kind in kinds() {
        let mut count = 0;
        for round in 0..rounds {
            let bytes = (kind.damage)(&kind.examples[round % kind.examples.len()], &mut dice);
            std::fs::write(&path, &bytes).unwrap();
            let begin = Instant::now();
            let Ok(sound) = catch_unwind(AssertUnwindSafe(|| (kind.take)(&path))) else {
                panic!("{}, round {round}:\n{}", kind.name, String::from_utf8_lossy(&bytes));
            };
            assert!(begin.elapsed() < LONGEST, "{}, round {round}", kind.name);
            count += usize::from(sound);
        }
        taken.push((kind.name, count));
    }
    taken
}

#[test]
fn damaged_inputs_of_every_kind_end_in_a_result_or_a_refusal() {
    for (name, taken) in fuzz(3, 120) {
        println!("{name}: {taken} of 120 taken");
        // Digests keep out nearly every change of a decision table.
        assert!(name == "decision table" || taken > 0, "{name}: the damage is too crude");
        assert!(taken < 120, "{name}: no damage was noticed");
    }
}

/// `FUZZ_ROUNDS=200000 FUZZ_SEED=11 cargo test --release --test outside -- --ignored long_fuzz`
#[test]
#[ignore = "takes minutes"]
fn long_fuzz_of_inputs() {
    let number = |name: &str| std::env::var(name).ok().and_then(|v| v.parse().ok());
    let rounds: usize = number("FUZZ_ROUNDS").unwrap_or(5000);
    let seed = number("FUZZ_SEED").unwrap_or(7) as u64;
    for (name, taken) in fuzz(seed, rounds) {
        println!("{name}: {taken} of {rounds} taken");
    }
}

/// Files that once ended in a panic, without end, or in nonsense: each is taken or refused, and says nothing that a
/// terminal would obey.
#[test]
fn what_once_was_too_much_is_answered() {
    let mut paths: Vec<PathBuf> = std::fs::read_dir("tests/outside/corpus")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    assert!(paths.len() > 20);
    for path in paths {
        let output = Command::new(env!("CARGO_BIN_EXE_billet"))
            .arg("check")
            .arg(&path)
            .output()
            .unwrap();
        let status = output.status.code();
        assert!(matches!(status, Some(0 | 2)), "{}: {status:?}", path.display());
        for text in [output.stdout, output.stderr] {
            let text = String::from_utf8(text).unwrap();
            let obeyed = |c: char| (c.is_control() && c != '\n') || ('\u{202a}'..='\u{202e}').contains(&c);
            assert!(!text.contains(obeyed), "{}: {text:?}", path.display());
        }
    }
}
