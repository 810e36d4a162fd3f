//! Which parts in flight survive a stop of the line, in blocks.

use super::limits::legend;
use super::times::state;
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::State;
use crate::ask::model::Model;
use crate::ask::stoppage::{Hold, Survival};
use crate::ask::times::Times;
use crate::judge::Limit;
use crate::show::{Block, Cell, Column, Joint, NoteKind, Quantity, Seconds, Table, Text, limit, say};

/// What was asked: the stop lengths of the table and the longest stop that was searched, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked<'a> {
    /// Stop lengths of the table.
    pub stops_s: &'a [f64],
    /// Longest stop searched.
    pub longest_s: f64,
}

/// The answer and the table of a line.
pub fn blocks(judged: &Judged, found: &[Survival], asked: &Asked) -> Vec<Block> {
    let mut blocks = vec![Block::heading(Cell::name(judged.enquiry.title()))];
    blocks.extend(headline(judged, found, asked.stops_s).into_iter().map(Block::sentence));
    blocks.extend(section(judged, found, asked));
    blocks
}

/// The table as a section of a page.
pub fn section(judged: &Judged, found: &[Survival], asked: &Asked) -> Vec<Block> {
    let mut blocks = vec![Block::Table(table(found, asked)), legend(judged.enquiry.model.limits())];
    let mut note = |id| blocks.push(Block::Note(NoteKind::Remark, say(id).into()));
    note("stops.rule");
    if judged.risk.is_some() {
        note("stops.guard");
    }
    blocks.extend(super::times::guarding(judged.enquiry));
    blocks
}

fn table(found: &[Survival], asked: &Asked) -> Table {
    let mut columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("plan.where")),
        Column::numbers(say("plan.longest_stop"), Quantity::Seconds),
        Column::mixed(say("limit.number")),
    ];
    let stops = asked
        .stops_s
        .iter()
        .map(|s| Column::words(Cell::number(*s, Quantity::Seconds)));
    columns.extend(stops);
    let rows = found.iter().map(|s| {
        let longest = super::times::latest(s.longest_s(), Some(asked.longest_s));
        let mut row = vec![
            Cell::name(&s.position.stage),
            place(s.position.hold),
            longest,
            deciding(s),
        ];
        row.extend(s.states.iter().map(|one| state(*one)));
        row
    });
    let table = Table::new(columns).caption(say("stops.caption")).rows(rows);
    if found.iter().any(|s| s.longest_s().is_none()) {
        table.note(say("time.searched"))
    } else {
        table
    }
}

/// The limit that ends the wait; both where two exclude each other.
fn deciding(survival: &Survival) -> Cell {
    let number = |k: usize| Cell::count(k + 1);
    match survival.stated() {
        Times::Never {
            limit,
            other: Some(other),
            ..
        } => number(*other).joined(Joint::Slash, number(*limit)),
        _ => survival.limit().map_or_else(|| say("limit.none").into(), number),
    }
}

/// Where a part waits, in words.
fn place(hold: Hold) -> Cell {
    say(match hold {
        Hold::InPlace => "plan.in_place",
        Hold::OnDieBefore => "plan.on_die_before",
        Hold::OnDieAfter => "plan.on_die_after",
        Hold::OnRest => "plan.on_rest",
    })
    .into()
}

/// What is broken without a stop, then what to reject at each stop length.
fn headline(judged: &Judged, found: &[Survival], stops: &[f64]) -> Vec<Text> {
    let broken = judged.planned.verdicts.iter().filter(|v| !v.holds);
    let broken: Vec<Text> = broken
        .map(|v| say("stops.broken").with("limit", limit(&v.limit)))
        .collect();
    answer(broken, judged.enquiry.model.limits(), found, stops)
}

/// The answer behind what is `broken` as planned: the limits whose guard band the plan does not keep, then the stops
/// after which every part goes on, those at which parts wait, and those that cost parts.
fn answer(broken: Vec<Text>, limits: &[Limit], found: &[Survival], stops: &[f64]) -> Vec<Text> {
    let here: Vec<&Survival> = found.iter().collect();
    let mut stops = stops.to_vec();
    stops.sort_by(f64::total_cmp);
    let mut answer = match broken.is_empty() {
        true => unguarded(&here, limits),
        false => broken,
    };
    answer.extend((!answer.is_empty()).then(|| say("stops.mend")));
    let states = |stop: f64| here.iter().map(move |s| s.state(stop));
    let all_go_on = |stop: f64| states(stop).all(|state| matches!(state, State::Good | State::Alarm));
    let costs = |stop: f64| states(stop).any(|state| state == State::Reject);
    let all_lost = |stop: f64| !here.is_empty() && states(stop).all(|state| state == State::Reject);
    let time = |s: f64| Cell::number(s, Quantity::Seconds);
    // Nothing cools faster for a longer stop: the stops after which all parts go on lie side by side.
    let carried: Vec<f64> = stops.iter().copied().filter(|stop| all_go_on(*stop)).collect();
    answer.extend(waits(&here, &stops));
    let whole = all_go_on(0.0) && carried.first() == stops.first();
    match (carried.first(), carried.last()) {
        (Some(_), Some(last)) if whole => answer.push(say("stops.carry_on").with("time", time(*last))),
        (Some(first), Some(last)) => {
            let range = match first == last {
                true => time(*first),
                false => Cell::range(*first, *last, Quantity::Seconds),
            };
            answer.push(say("stops.carry_at").with("range", range));
        }
        _ => {
            let first = stops.iter().find(|stop| costs(**stop));
            answer.extend(first.map(|first| say("stops.costs").with("time", time(*first))));
        }
    }
    let hopeless = stops.iter().find(|stop| all_lost(**stop));
    answer.extend(hopeless.map(|stop| say("stops.reject_all").with("time", time(*stop))));
    let weakest = here
        .iter()
        .filter_map(|s| Some((s, s.longest_s()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((s, stop)) = weakest {
        answer.push(at("stops.first", s).with("time", Cell::Seconds(Seconds::allowed(stop))));
    }
    answer
}

/// A sentence about the part at a position.
fn at(id: &'static str, survival: &Survival) -> Text {
    say(id)
        .with("stage", Cell::name(&survival.position.stage))
        .with("where", place(survival.position.hold))
}

/// Limits whose guard band is not kept without any stop, each once.
fn unguarded(here: &[&Survival], limits: &[Limit]) -> Vec<Text> {
    let mut numbers: Vec<usize> = here
        .iter()
        .filter_map(|s| match (s.state(0.0), s.stated()) {
            (State::Wait, times) => times.earliest().map(|edge| edge.limit),
            (State::Reject, Times::Between { latest, .. }) => latest.map(|edge| edge.limit),
            (State::Reject, Times::Never { limit, .. }) => Some(*limit),
            _ => None,
        })
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    let known = numbers.into_iter().filter_map(|k| limits.get(k));
    known
        .map(|one| say("stops.unguarded").with("limit", limit(one)))
        .collect()
}

/// Until when parts wait: up to which of the stops, in rising order, and how long the last of them.
fn waits(here: &[&Survival], stops: &[f64]) -> Option<Text> {
    let waits = |stop: f64| move |s: &&&Survival| s.state(stop) == State::Wait;
    let (stop, last) = stops.iter().rev().find_map(|stop| {
        let until = |s: &Survival| Some(s.stated().earliest()?.seconds - s.position.seconds);
        let waiting = here.iter().filter(waits(*stop)).filter_map(|s| Some((*s, until(s)?)));
        Some((*stop, waiting.max_by(|a, b| a.1.total_cmp(&b.1))?))
    })?;
    let (survival, until) = last;
    let text = at("stops.wait", survival).with("time", Cell::number(stop, Quantity::Seconds));
    Some(text.with("until", super::times::earliest(Some(until))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::stoppage::Position;
    use crate::ask::times::Edge;
    use crate::judge::{Bound, Kind, Moment, Owner};
    use crate::show::View;

    fn limits() -> Vec<Limit> {
        let one = |bound| Limit {
            stage: None,
            moment: Moment::End,
            node: "surface".to_owned(),
            other: None,
            bound,
            owner: Owner::Given,
            source: String::new(),
        };
        vec![one(Bound::MaxC(960.0)), one(Bound::MinC(800.0))]
    }

    /// A part in a stage planned to take 3 s.
    fn part(stage: &str, reject: Times) -> Survival {
        Survival {
            position: Position {
                stage: stage.to_owned(),
                kind: Kind::Carry,
                hold: Hold::InPlace,
                path: String::new(),
                seconds: 3.0,
                least_s: 0.0,
            },
            alone: Times::ANY,
            reject: Some(reject),
            alarm: None,
            states: Vec::new(),
        }
    }

    fn times(from: Option<f64>, to: f64) -> Times {
        let edge = |limit| move |seconds| Edge { seconds, limit };
        Times::Between {
            earliest: from.map(edge(0)),
            latest: Some(to).map(edge(1)),
        }
    }

    fn said(found: &[Survival], stops: &[f64]) -> Vec<String> {
        let view = View::default();
        let told = answer(Vec::new(), &limits(), found, stops);
        let plain = |text: Text| Cell::from(text).whole(&view).replace('\u{a0}', " ");
        told.into_iter().map(plain).collect()
    }

    /// A part that has to wait does not go on, is no reject, and ends no time up to which all go on.
    #[test]
    fn a_wait_is_an_answer_of_its_own() {
        let found = [part("early", times(Some(4.56), 20.0)), part("late", times(None, 20.0))];
        let told = said(&found, &[2.0, 0.5, 5.0, 60.0, 10.0]);
        let words = [
            "The plan itself does not keep the guard band",
            "Mend that first",
            "Up to 0.5 s: parts marked wait stay where they are; the last of them goes on 1.6 s after",
            "After 2.0 \u{2013} 10.0 s: carry on with every part.",
            "From 60.0 s: reject everything in flight.",
            "First to go: the part in early",
        ];
        assert_eq!(told.len(), words.len(), "{told:?}");
        for (sentence, start) in told.iter().zip(words) {
            assert!(sentence.starts_with(start), "{sentence}");
        }
        // Parts that are lost beside one that waits are not all parts.
        let never = Times::Never {
            limit: 1,
            other: None,
            margin_k: -4.0,
        };
        let told = said(
            &[part("early", times(Some(9.0), 20.0)), part("lost", never)],
            &[1.0, 2.0],
        );
        assert!(told.iter().all(|sentence| !sentence.contains("everything")), "{told:?}");
        assert!(
            told.iter().any(|sentence| sentence == "Already 1.0 s costs parts."),
            "{told:?}"
        );
        // Where all hold from no stop on, the word is the old one.
        let told = said(&[part("late", times(None, 20.0))], &[5.0, 10.0]);
        assert_eq!(told[0], "Up to 10.0 s: carry on with every part.");
    }
}
