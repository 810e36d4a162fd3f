//! The walk: whatever a planning command prints, a second, a kelvin or a degree, is put back into the line as
//! it is printed and run. On its side the limits hold, a printed step further the limit named breaks.
//!
//! All examples and five further lines of an invented shop, on the quick grid, which the numbers are then of.

use std::path::Path;

use billet_thermal::inside::ask::band::{Band, BandEnd, BandOptions, EndOf};
use billet_thermal::inside::ask::decide::{DecisionTable, Guard};
use billet_thermal::inside::ask::enquiry::{Enquiry, Judged};
use billet_thermal::inside::ask::hand_overs::State;
use billet_thermal::inside::ask::model::{Change, Model};
use billet_thermal::inside::ask::stoppage::Hold;
use billet_thermal::inside::ask::times::Times;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::show::number::{down, up};

use crate::dice::Dice;

/// The five further lines: too hot to trim as planned, a rest under a boss, a press with a cooled part at the
/// end of a belt, a plate that waits, and a bar with a wait and no dies at all.
const LINES: [(&str, &str); 5] = [
    (
        "too hot to trim",
        r#"
[billet]
steel = "C45"
diameter_mm = 50
length_mm = 80
[heater]
kind = "measured"
temperature_c = 1220
[[stage]]
kind = "carry"
name = "to press"
seconds = 3
[[stage]]
kind = "forge"
name = "press"
lying_after_s = 0
shape = [
  { zone = "body", outer_mm = 84, height_mm = 26 },
  { zone = "flash", inner_mm = 84, outer_mm = 100, height_mm = 5.6 },
]
[[stage]]
kind = "carry"
name = "to trim"
seconds = 4
[[stage]]
kind = "trim"
name = "trim"
removes = ["flash"]
[[limit]]
stage = "trim"
moment = "first blow"
node = "flash.mean"
min_c = 700
max_c = 950
[[limit]]
stage = "press"
moment = "first blow"
node = "surface"
min_c = 1100
"#,
    ),
    (
        "rest under a boss",
        r#"
[billet]
steel = "42CrMo4"
diameter_mm = 45
length_mm = 96
[heater]
kind = "measured"
surface_c = 1230
core_c = 1210
[[stage]]
kind = "carry"
name = "to hammer"
seconds = 3.5
grip = { end = "grip_end", length_mm = 20 }
[[stage]]
kind = "forge"
name = "finisher"
blows = 2
shape = [
  { zone = "hub", outer_mm = 42, bottom_mm = 0, top_mm = 47.5 },
  { zone = "flange", inner_mm = 42, outer_mm = 98, bottom_mm = 10, top_mm = 24.1 },
]
[[stage]]
kind = "rest"
name = "table"
seconds = 5
[[stage]]
kind = "carry"
name = "to coining"
seconds = 2
[[stage]]
kind = "trim"
name = "coining"
removes = []
[[limit]]
stage = "coining"
moment = "first blow"
node = "flange.mean"
min_c = 980
[[limit]]
stage = "finisher"
moment = "last blow"
node = "surface"
min_c = 950
"#,
    ),
    (
        "belt",
        r#"
[billet]
steel = "16MnCr5"
diameter_mm = 40
length_mm = 60
[heater]
kind = "measured"
temperature_c = 1200
[[stage]]
kind = "carry"
name = "to press"
seconds = 2.5
[[stage]]
kind = "forge"
name = "press"
shape = [{ zone = "body", outer_mm = 56, height_mm = 30.6 }]
[[stage]]
kind = "cool"
name = "belt"
seconds = 60
[[limit]]
stage = "belt"
moment = "end"
node = "mean"
min_c = 800
[[limit]]
stage = "press"
moment = "first blow"
node = "mean"
min_c = 1130
"#,
    ),
    (
        "plate",
        r#"
[billet]
section = "plate"
thickness_mm = 12
steel = "C45"
[heater]
kind = "measured"
temperature_c = 1180
[[stage]]
kind = "carry"
name = "out"
seconds = 5
[[stage]]
kind = "wait"
name = "queue"
seconds = 4
[[limit]]
stage = "queue"
moment = "end"
node = "surface"
min_c = 1050
[[limit]]
moment = "exit"
node = "hottest"
max_c = 1250
"#,
    ),
    (
        "two waits",
        r#"
[billet]
steel = "C45"
diameter_mm = 60
length_mm = 100
[heater]
kind = "measured"
temperature_c = 1150
[[stage]]
kind = "wait"
name = "turn"
seconds = 6
[[stage]]
kind = "wait"
name = "look"
seconds = 3
[[limit]]
stage = "look"
moment = "end"
node = "surface"
min_c = 1000
max_c = 1120
"#,
    ),
];

/// What the searches leave on the safe side, K.
const NEAR_K: f64 = 0.1;

fn enquiry(text: String, path: &Path) -> Enquiry {
    Enquiry::new(Document::parse(text, path).unwrap(), Some(Resolution::Quick)).unwrap()
}

/// Margins of the line with one stage at `seconds`.
fn margins(enquiry: &Enquiry, changes: Vec<Change>) -> Option<Vec<f64>> {
    enquiry.model.run(&changes).ok().map(|outcome| outcome.margins_k())
}

/// The ends of some times as they are printed are run: what they name holds there and breaks a step beyond.
fn ends_are_true(enquiry: &Enquiry, what: &str, path: &str, others: &[Change], times: &Times, bare: bool) {
    let at = |seconds: f64| {
        let mut changes = others.to_vec();
        changes.push(Change::new(path, seconds));
        margins(enquiry, changes)
    };
    let ends = [(times.earliest(), true), (times.latest(), false)];
    for (edge, early) in ends.into_iter().filter_map(|(edge, early)| Some((edge?, early))) {
        let printed = if early {
            up(edge.seconds, 1)
        } else {
            down(edge.seconds, 1)
        };
        let found = at(printed).unwrap_or_else(|| panic!("{what}: {printed} s cannot be run"));
        assert!(
            found[edge.limit] >= 0.0,
            "{what}: {printed} s: {found:?}, limit {}",
            edge.limit
        );
        let beyond = if early { printed - 0.1 } else { printed + 0.1 };
        if let Some(found) = at(beyond).filter(|_| bare && beyond >= 0.0) {
            assert!(found[edge.limit] < NEAR_K, "{what}: {beyond} s still holds: {found:?}");
        }
    }
}

fn times_are_true(judged: &Judged) {
    let enquiry = judged.enquiry;
    let planned = judged.planned.margins_k();
    for t in judged.times().unwrap() {
        let what = format!("{}, {}", enquiry.title(), t.stage);
        assert_eq!(t.margins_k, planned, "{what}");
        ends_are_true(enquiry, &what, &t.path, &[], &t.alone, true);
        for (word, times) in [("reject", &t.reject), ("alarm", &t.alarm)] {
            if let Some(times) = times {
                ends_are_true(enquiry, &format!("{what}, {word}"), &t.path, &[], times, false);
            }
        }
        // A guard band never allows more.
        let inside = |outer: &Times, inner: &Times| {
            let late = inner
                .latest()
                .is_none_or(|i| outer.latest().is_none_or(|o| i.seconds <= o.seconds + 0.01));
            let early = inner
                .earliest()
                .is_none_or(|i| outer.earliest().is_none_or(|o| i.seconds >= o.seconds - 0.01));
            late && early
        };
        if let (Some(reject), Some(alarm)) = (&t.reject, &t.alarm) {
            assert!(inside(&t.alone, reject) && inside(reject, alarm), "{what}: {t:?}");
        }
    }
    let handovers = enquiry.model.handovers();
    if let [first, second, ..] = handovers {
        for pair in judged.pairs(&first.stage, &second.stage, 2).unwrap() {
            let what = format!(
                "{}, {} after {} s of {}",
                enquiry.title(),
                second.stage,
                pair.first_s,
                first.stage
            );
            let others = [Change::new(first.path.clone(), pair.first_s)];
            ends_are_true(enquiry, &what, &second.path, &others, &pair.second, true);
        }
    }
}

fn stops_are_true(judged: &Judged) {
    let enquiry = judged.enquiry;
    let times = judged.times().unwrap();
    for survival in judged.stops(&[5.0, 20.0], 600.0, false).unwrap() {
        let of = &survival.position;
        let what = format!("{}, stop in {}, {:?}", enquiry.title(), of.stage, of.hold);
        ends_are_true(enquiry, &what, &of.path, &[], &survival.alone, true);
        if let Some(of_hand_over) = times.iter().find(|t| t.path == of.path && of.hold == Hold::InPlace) {
            assert_eq!(survival.alone.latest(), of_hand_over.alone.latest(), "{what}");
            assert_eq!(
                survival.reject.map(|t| t.latest()),
                of_hand_over.reject.map(|t| t.latest()),
                "{what}"
            );
            for (stop, state) in [5.0, 20.0].into_iter().zip(&survival.states) {
                let one = State::of(survival.stated(), survival.alarm.as_ref(), of.seconds + stop);
                assert_eq!(one, *state, "{what}");
            }
        }
    }
}

fn band_is_true(judged: &Judged) {
    let enquiry = judged.enquiry;
    let Some(exit) = enquiry.model.exit_inputs() else {
        return;
    };
    let bands = judged.band(&BandOptions::default()).unwrap();
    let run = |exit_c: f64| margins(enquiry, exit.at(exit_c));
    let holds = |end: &BandEnd, low: bool, bare: bool| {
        let printed = if low { up(end.exit_c, 0) } else { down(end.exit_c, 0) };
        let what = format!("{}, exit {printed} degC by {:?}", enquiry.title(), end.by);
        let found = run(printed).unwrap_or_else(|| panic!("{what}"));
        assert!(found.iter().all(|m| *m >= 0.0), "{what}: {found:?}");
        let beyond = run(if low { printed - 1.0 } else { printed + 1.0 });
        if let (EndOf::Limit(limit), Some(beyond), true) = (end.by, beyond, bare) {
            assert!(beyond[limit] < NEAR_K, "{what}: {beyond:?}");
        }
    };
    // What the guard of the reject risk takes off at the plan stays off at the ends: scatter there is about the same.
    if let Some(Band::Open { low, high }) = &bands.reject {
        let guards = judged.decision_table().unwrap().guard_k;
        for end in [low, high] {
            let (EndOf::Limit(limit), Some(found)) = (end.by, run(end.exit_c)) else {
                continue;
            };
            let (left, guard) = (found[limit], guards[limit]);
            assert!(
                left >= 0.5 * guard,
                "{}: {left} K of {guard} K at {end:?}",
                enquiry.title()
            );
        }
    }
    for (band, bare) in [
        (Some(&bands.bare), true),
        (bands.reject.as_ref(), false),
        (bands.alarm.as_ref(), false),
    ] {
        match band {
            // A band of less than a printed degree has no printed degree inside.
            Some(Band::Open { low, high }) if up(low.exit_c, 0) <= down(high.exit_c, 0) => {
                holds(low, true, bare);
                holds(high, false, bare);
            }
            Some(Band::Closed {
                best_exit_c, short_k, ..
            }) if bare => {
                let found = run(*best_exit_c).unwrap();
                let least = found.iter().copied().fold(f64::INFINITY, f64::min);
                assert!(
                    (least + short_k).abs() < 0.5,
                    "{}: {least} for {short_k}",
                    enquiry.title()
                );
            }
            _ => {}
        }
    }
}

fn table_is_true(judged: &Judged) {
    let enquiry = judged.enquiry;
    if enquiry.model.exit_inputs().is_none() || enquiry.model.handovers().is_empty() {
        return;
    }
    let table: DecisionTable = judged.decision_table().unwrap();
    table.check().unwrap();
    let exit = enquiry.model.exit_inputs().unwrap();
    let planned = table.exit_c.iter().position(|c| *c == table.planned_exit_c).unwrap();
    for (k, stage) in table.stages.iter().enumerate() {
        for exit_c in [planned - 2, planned, planned + 2].map(|row| table.exit_c[row]) {
            let Some(times) = table.times(k, exit_c, Guard::Reject, None) else {
                continue;
            };
            for edge in [times.earliest(), times.latest()].into_iter().flatten() {
                let mut changes = exit.at(exit_c);
                changes.push(Change::new(stage.path.clone(), edge.seconds));
                let found = margins(enquiry, changes).unwrap();
                let what = format!("{}, controller, {} at {exit_c}", enquiry.title(), stage.stage);
                assert!(
                    found.iter().all(|m| *m >= -0.01),
                    "{what}: {} s: {found:?}",
                    edge.seconds
                );
            }
        }
    }
}

fn seconds_of_the_trace_are_true(judged: &Judged) {
    let enquiry = judged.enquiry;
    let trace = enquiry.trace().unwrap();
    for (limit, verdict) in trace.verdicts.iter().enumerate() {
        let Some(stage) = &verdict.margin_stage else { continue };
        let path = format!("stage.{stage}.seconds");
        let edge = |seconds: f64| billet_thermal::inside::ask::times::Edge { seconds, limit };
        let times = Times::Between {
            earliest: verdict.earliest_s.map(edge),
            latest: verdict.latest_s.map(edge),
        };
        ends_are_true(
            enquiry,
            &format!("{}, trace", enquiry.title()),
            &path,
            &[],
            &times,
            true,
        );
    }
}

fn walk(enquiry: &Enquiry) {
    let judged = enquiry.judged().unwrap();
    times_are_true(&judged);
    stops_are_true(&judged);
    band_is_true(&judged);
    table_is_true(&judged);
    seconds_of_the_trace_are_true(&judged);
}

#[test]
fn what_is_printed_for_five_further_lines_is_true() {
    for (title, text) in LINES {
        walk(&enquiry(format!("title = {title:?}\n{text}"), Path::new("walk.toml")));
    }
}

/// Limits as they are over all examples; the guard bands are walked on the lines above and by the hub.
#[test]
fn what_is_printed_for_the_examples_is_true() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut walked = 0;
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    for path in files
        .iter()
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
    {
        let one = enquiry(std::fs::read_to_string(path).unwrap(), path);
        if one.model.limits().is_empty() {
            continue;
        }
        let guarded = path.ends_with("hub.toml");
        walk(&if guarded { one } else { one.bare() });
        walked += 1;
    }
    assert!(walked >= 8, "{walked}");
}

/// Parts of random exit temperatures and times, as the table decides them and as a run of each does: called good though
/// bad, and rejected though good, out of how many.
fn table_against_runs(judged: &Judged, parts: u64) -> (u64, u64) {
    let enquiry = judged.enquiry;
    let table: DecisionTable = judged.decision_table().unwrap();
    let exit = enquiry.model.exit_inputs().unwrap();
    let mut dice = Dice(7);
    let (mut unsafe_, mut strict) = (0, 0);
    let (low, high) = (table.exit_c[0], table.exit_c[table.exit_c.len() - 1]);
    for _ in 0..parts {
        let exit_c = dice.between(low, high);
        // Most hand-overs about as planned, some a little faster or slower, a few by far.
        let seconds: Vec<f64> = table
            .stages
            .iter()
            .map(|stage| {
                let (least, most) = (stage.seconds[0], stage.seconds[stage.seconds.len() - 1]);
                match dice.next() {
                    x if x < 0.2 => dice.between(least, stage.planned_s),
                    x if x < 0.8 => stage.planned_s + dice.between(0.0, 0.1) * (most - stage.planned_s),
                    x => stage.planned_s + x.mul_add(5.0, -4.0).powi(3) * (most - stage.planned_s),
                }
            })
            .collect();
        let mut changes = exit.at(exit_c);
        let paths = table.stages.iter().map(|stage| stage.path.clone());
        changes.extend(paths.zip(&seconds).map(|(path, s)| Change::new(path, *s)));
        let run = margins(enquiry, changes).unwrap();
        let worst = run
            .iter()
            .zip(&table.guard_k)
            .map(|(m, g)| m - g)
            .fold(f64::INFINITY, f64::min);
        let goes_on = table.decide(exit_c, &seconds).goes_on();
        unsafe_ += u64::from(goes_on && worst < 0.0);
        strict += u64::from(!goes_on && worst >= 0.0);
    }
    (unsafe_, strict)
}

/// No part is called good that a run calls bad, guard band taken off, and few are rejected that need not be.
fn table_errs_to_the_safe_side(parts: u64) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/hub.toml");
    let hub = enquiry(std::fs::read_to_string(&path).unwrap(), &path);
    let lines = LINES.iter().map(|(title, text)| {
        let text = format!("title = {title:?}\n{text}");
        enquiry(text, Path::new("walk.toml"))
    });
    for one in std::iter::once(hub).chain(lines) {
        if one.model.exit_inputs().is_none() || one.model.handovers().is_empty() {
            continue;
        }
        let (unsafe_, strict) = table_against_runs(&one.judged().unwrap(), parts);
        println!("{}: {unsafe_} unsafe, {strict} strict of {parts}", one.title());
        assert_eq!(unsafe_, 0, "{}", one.title());
        assert!(strict * 50 <= parts, "{}: {strict} of {parts}", one.title());
    }
}

#[test]
fn the_decision_table_errs_to_the_safe_side() {
    table_errs_to_the_safe_side(300);
}

/// The same for ten thousand parts of each line: some quarter of an hour.
#[test]
#[ignore = "minutes"]
fn the_decision_table_errs_to_the_safe_side_over_ten_thousand_parts() {
    table_errs_to_the_safe_side(10_000);
}
