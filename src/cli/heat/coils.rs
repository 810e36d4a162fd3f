//! The answer for a row of coils.

use serde_json::{Value, json};

use super::{Answer, track_csv};
use crate::ask::heating::{Cause, CoilAnswer, CoilQuestion, Effect, Following, Warm};
use crate::cli::exit::Exit;
use crate::cli::out;
use crate::heater::HeaterError;
use crate::line::plan::{CoilLine, Plan};
use crate::line::run::{Heated, HeaterCache};
use crate::report::OutFile;
use crate::report::heater::{coil_line, pictures};
use crate::show::View;

pub(super) fn answer(
    question: &CoilQuestion,
    plan: &Plan,
    heater: &CoilLine,
    view: &View,
) -> Result<Answer, HeaterError> {
    let answer = CoilAnswer::of(question, plan, heater)?;
    let json = as_json(plan, &answer);
    Ok(Answer {
        blocks: coil_line(&answer, heater),
        files: files(&answer, heater, &json, view),
        json,
        heated: {
            let heated = HeaterCache::default();
            let (exit, track) = answer.computed.clone();
            let terminals_w = answer.steady.balance.terminals_w;
            let state = Heated {
                exit,
                track,
                terminals_w,
            };
            heated.know(heater, plan, plan.resolution, state);
            heated
        },
        exit: match answer.holds() {
            true => Exit::Fine,
            false => Exit::LimitBroken,
        },
    })
}

fn files(answer: &CoilAnswer, heater: &CoilLine, json: &Value, view: &View) -> Vec<OutFile> {
    let steady = &answer.steady;
    let marks = pictures::Marks::of(answer, heater);
    let svg = |name: &str, drawing: crate::picture::Drawing| OutFile::text(name, drawing.svg);
    let mut files = vec![
        OutFile::text("heater.json", out::json(json)),
        OutFile::text("heater.csv", track_csv(&steady.track)),
        svg("heater.svg", pictures::along(&heater.line, steady, marks, view)),
        svg("power.svg", pictures::power(steady, view)),
        svg("exit.svg", pictures::section(&steady.exit, view)),
        svg("density.svg", pictures::density(steady, view)),
        svg("energy.svg", pictures::energy(&answer.energy, view)),
    ];
    if let Some(advice) = &answer.advice {
        files.push(svg("frequency.svg", pictures::frequency(advice, view)));
    }
    if let Some(pace) = &answer.pace {
        files.push(svg("takt.svg", pictures::pace(pace, answer, view)));
    }
    if let Some(next) = &answer.next {
        files.push(svg("next.svg", pictures::next(next, answer, view)));
    }
    if let Some(cold) = &answer.cold {
        files.push(svg("start_up.svg", pictures::cold_start(&cold.study, answer, view)));
    }
    for stop in &answer.stops {
        let name = format!("stop_{:.0}s_{}.svg", stop.seconds, stop.way.name().replace(' ', "_"));
        files.push(svg(&name, pictures::stop(stop, answer, view)));
    }
    files
}

fn as_json(plan: &Plan, answer: &CoilAnswer) -> Value {
    let energy = &answer.energy;
    // 1 kWh/t is 3600 J/kg
    let kwh_t = |j_per_kg: f64| j_per_kg / 3600.0;
    let found = answer.found.as_ref().map(|f| {
        json!({
            "status": f.status,
            "powers_w": f.powers_w,
            "highest_w": f.highest_w,
            "at_target": f.at_target,
            "evaluations": f.evaluations,
        })
    });
    let share = |(of, w): &(crate::heater::energy::Spent, f64)| json!({ "name": of.name(), "power_w": w });
    let event =
        |e: &crate::heater::energy::EventCost| json!({ "name": e.name(), "extra_kwh_per_good_t": kwh_t(e.j_per_kg) });
    let pace = answer.pace.as_ref().map(|p| {
        json!({
            "takt_s": p.takt_s,
            "powers_w": p.powers_w,
            "met": p.met,
            "steps": p.course.phases,
            "study": p.course.study,
            "at_once": p.course.at_once,
            "scaled_w": p.scaled_w,
            "scaled": p.scaled,
        })
    });
    let start = answer.cold.as_ref().map(|c| {
        let mut json = json!(c.study);
        json["steps"] = json!(c.phases);
        json["at_once"] = json!(c.at_once);
        json
    });
    let stop = |s: &crate::ask::heating::Stop| {
        json!({
            "seconds": s.seconds,
            "power": s.way.name(),
            "powers_w": s.powers_w,
            "takt_s": s.takt_s,
            "pushed_out": s.pushed_out(),
            "rejected_after": s.rejected_after(),
            "steps": s.restart.phases,
            "study": s.study(),
            "at_once": s.restart.at_once,
        })
    };
    json!({
        "title": plan.title,
        "search": found,
        "remedies": answer.remedies,
        "steady": answer.steady,
        "energy": energy.shares.iter().map(share).collect::<Vec<_>>(),
        "mains_kwh_t": kwh_t(energy.per_kg(energy.mains_w())),
        "events": energy.events.iter().map(event).collect::<Vec<_>>(),
        "mains_kwh_per_good_t": energy.good_j_per_kg().map(kwh_t),
        "least_w": energy.least_w,
        "hold_w": answer.hold_w,
        "hold_terminals_w": answer.hold_terminals_w,
        "hold": answer.lasting,
        "start_up": start,
        "start_empty": answer.empty,
        "run_out": answer.run_out,
        "missed": answer.missed,
        "effects": answer.effects.iter().map(effect_json).collect::<Vec<_>>(),
        "pace": pace,
        "next": answer.next.as_ref().map(next),
        "warm_billet": answer.warm.as_ref().map(warm),
        "stops": answer.stops.iter().map(stop).collect::<Vec<_>>(),
        "frequency": answer.advice,
        "electrics": answer.electrics,
        "overloads": answer.overloads,
        "other_frequencies": answer.frequencies,
    })
}

/// The next order; its billets have order 1.
fn next(next: &Following) -> Value {
    let (before, new) = Following::rejected(&next.course.study);
    json!({
        "title": next.title,
        "takt_s": next.takt_s,
        "powers_w": next.powers_w,
        "met": next.met,
        "rejected_before": before,
        "rejected_new": new,
        "steps": next.course.phases,
        "study": next.course.study,
        "at_once": next.course.at_once,
        "late": next.late,
    })
}

fn warm(warm: &Warm) -> Value {
    json!({
        "start_c": warm.start_c,
        "number": warm.number,
        "others_k": warm.others_k,
        "warmest_c": warm.warmest_c,
        "study": warm.study,
    })
}

/// What one cause does to the exit.
pub(in crate::cli) fn effect_json(e: &Effect) -> Value {
    let (cause, coil, per) = match &e.cause {
        Cause::Power(name) => ("power", Some(name), "kW"),
        Cause::Takt => ("takt", None, "s"),
        Cause::Start => ("start", None, "K"),
        Cause::Size => ("size", None, "mm"),
    };
    json!({ "cause": cause, "coil": coil, "per": per, "exit_k": e.exit_k, "difference_k": e.difference_k })
}
