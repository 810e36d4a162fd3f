//! Line files damaged at random end in a result or in an error that says what is wrong, never in a
//! panic, and never in a number that is none.

use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunError, RunOptions, run};
use billet_thermal::inside::report::json::result_json;

use crate::dice::Dice;

/// Numbers that tend to hurt.
const NUMBERS: [&str; 16] = [
    "0", "-1", "1e-300", "1e300", "nan", "inf", "-inf", "0.001", "1", "3", "25", "1e9", "-0.0", "1e-9", "700", "20.0",
];

/// Words that may stand where others stood.
const WORDS: [&str; 14] = [
    "\"carry\"",
    "\"forge\"",
    "\"trim\"",
    "\"cool\"",
    "\"rest\"",
    "\"descale\"",
    "\"furnace\"",
    "\"round\"",
    "\"plate\"",
    "\"square\"",
    "\"lying\"",
    "\"\"",
    "true",
    "[]",
];

/// Replaces what stands after `=` somewhere in a line, once.
fn with_value(line: &str, dice: &mut Dice, new: &str) -> String {
    let places: Vec<usize> = line.match_indices('=').map(|m| m.0 + 1).collect();
    if places.is_empty() {
        return line.to_owned();
    }
    let at = places[dice.below(places.len())];
    let rest = &line[at..];
    let end = rest.find([',', '}', '#']).unwrap_or(rest.len());
    format!("{} {new} {}", &line[..at], &rest[end..])
}

pub(crate) fn damaged(text: &str, dice: &mut Dice) -> Vec<u8> {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..=dice.below(3) {
        let at = dice.below(lines.len());
        match dice.below(9) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(at, lines[at].clone()),
            2 => {
                let other = dice.below(lines.len());
                lines.swap(at, other);
            }
            3..=5 => {
                let number = NUMBERS[dice.below(NUMBERS.len())];
                lines[at] = with_value(&lines[at], dice, number);
            }
            6 => {
                let word = WORDS[dice.below(WORDS.len())];
                lines[at] = with_value(&lines[at], dice, word);
            }
            7 => {
                // A number scaled by a power of ten.
                let factor = ["e1", "e-1", "e2", "e-2", "e3"][dice.below(5)];
                if let Some(end) = lines[at].find(|c: char| c.is_ascii_digit()) {
                    let digits = lines[at][end..]
                        .chars()
                        .take_while(|c| c.is_ascii_digit() || *c == '.')
                        .count();
                    lines[at].insert_str(end + digits, factor);
                }
            }
            _ => {
                let cut = dice.below(lines[at].len() + 1);
                if lines[at].is_char_boundary(cut) {
                    lines[at].truncate(cut);
                }
            }
        }
        if lines.is_empty() {
            break;
        }
    }
    let mut bytes = lines.join("\n").into_bytes();
    if dice.below(6) == 0 && !bytes.is_empty() {
        let at = dice.below(bytes.len());
        bytes[at] = dice.bits() as u8;
    }
    bytes
}

/// Tries `rounds` damaged files; tells how many were runnable.
fn fuzz(seed: u64, rounds: usize) -> usize {
    let mut dice = Dice(seed);
    let mut texts: Vec<String> = std::fs::read_dir("examples")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect();
    texts.sort();
    let quick = RunOptions {
        resolution: Some(Resolution::Quick),
        ..RunOptions::bare()
    };
    let mut ran = 0;
    for round in 0..rounds {
        let text = &texts[round % texts.len()];
        let bytes = damaged(text, &mut dice);
        let Ok(text) = String::from_utf8(bytes) else { continue };
        let document = match Document::parse(text.clone(), "damaged.toml") {
            Ok(document) => document,
            Err(error) => {
                assert!(!error.to_string().is_empty());
                continue;
            }
        };
        ran += 1;
        match run(document.plan(), &quick) {
            Ok(trace) => {
                assert!(
                    trace.ledger.imbalance.abs() < 1e-8,
                    "{}\n{text}",
                    trace.ledger.imbalance
                );
                for verdict in &trace.verdicts {
                    assert!(
                        verdict.value.is_finite() && verdict.margin_k.is_finite(),
                        "{verdict:?}\n{text}"
                    );
                }
                if let Err(error) = result_json(&trace) {
                    panic!("{error}\n{text}");
                }
            }
            Err(RunError::NotANumber { stage, node, time_s }) => {
                panic!("{stage} {node} {time_s}\n{text}");
            }
            Err(error) => println!("round {round}: {error}"),
        }
    }
    ran
}

#[test]
fn damaged_files_end_in_a_result_or_a_refusal() {
    let ran = fuzz(1, 250);
    println!("{ran} of 250 damaged files could still be run");
    assert!(
        ran > 20,
        "only {ran} damaged files were runnable; the damage is too crude to test the runner"
    );
}

/// For a long look by hand: `FUZZ_ROUNDS=20000 cargo test --release -- --ignored long_fuzz`.
#[test]
#[ignore = "takes minutes"]
fn long_fuzz() {
    let number = |name: &str| std::env::var(name).ok().and_then(|v| v.parse().ok());
    let rounds: usize = number("FUZZ_ROUNDS").unwrap_or(5000);
    let seed = number("FUZZ_SEED").unwrap_or(7) as u64;
    println!("{} of {rounds} ran", fuzz(seed, rounds));
}
