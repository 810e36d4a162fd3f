//! The answer for a row of coils.

use std::fmt::Write;

use serde_json::{Value, json};

use super::stops::{Running, events, lasting_text, scaled, stop_text, stops};
use super::{Answer, Heat};
use crate::cli::exit::Exit;
use crate::cli::out;
use crate::heater::advice::frequency_advice;
use crate::heater::coil::Drive;
use crate::heater::line::{
    Criteria, Filling, HeaterLine, Steady, Study, Target, TrackPoint, Verdict, hold_powers, hold_time, start_up,
    takt_change,
};
use crate::heater::search::{Miss, Missed, Remedy, SetPoints, Status, find_powers, remedies};
use crate::heater::{Bar, HeaterError};
use crate::line::plan::{CoilLine, Plan};
use crate::report::heater::{
    EnergyTable, advice_svg, along_svg, coil_table, density_svg, numbers, power_svg, section_svg, study_svg,
};
use crate::report::table::{COLUMNS, wrap};
use crate::report::{OutFile, Side, View};

/// Longest hold that is looked at, s: after half an hour a coil is emptied, whatever it holds.
const LONGEST_HOLD_S: f64 = 1800.0;

pub(super) fn answer(heat: &Heat, plan: &Plan, heater: &CoilLine, view: &View) -> Result<Answer, HeaterError> {
    let bar = heater.bar(&plan.piece, &plan.metal, plan.resolution)?;
    let slices = heater.slices(plan.resolution);
    let found = if heat.search || !heater.is_set() {
        Some(heater.search(&bar, plan.resolution)?)
    } else {
        None
    };
    let (drives, steady) = match &found {
        Some(found) => {
            let drives: Vec<Drive> = found.powers_w.iter().map(|p| Drive::Terminals(*p)).collect();
            (drives, found.steady.clone())
        }
        None => {
            let drives = heater.drives(&bar, plan.resolution)?;
            let steady = heater.line.steady(&bar, &drives, slices)?;
            (drives, steady)
        }
    };
    let helps = match &found {
        Some(f) if matches!(f.status, Status::Impossible(_)) => match heater.goal {
            Some(goal) => remedies(&heater.line, &bar, &goal, f, slices)?,
            None => Vec::new(),
        },
        _ => Vec::new(),
    };
    let criteria = criteria(plan, heater, &steady);
    // A column of quarters is followed on the quick grid, at the middle of its billets.
    let (bar, slices) = match (bar.is_round(), bar.coarser()?) {
        (true, _) => (bar, slices),
        (false, Some(coarse)) => (coarse, 1),
        (false, None) => (bar, 1),
    };
    let cold = match heat.start_up {
        true => {
            let takts = 3 * heater.line.places() + 10;
            let filling = Filling::Uniform(heater.line.start_c);
            Some(start_up(
                &heater.line,
                &bar,
                &drives,
                slices,
                filling,
                takts,
                &criteria,
            )?)
        }
        false => None,
    };
    let hold = hold_powers(&heater.line, &bar, &drives, slices)?;
    let running = Running {
        heater,
        bar: &bar,
        drives: &drives,
        hold: &hold,
        criteria: &criteria,
        slices,
    };
    let stops = stops(heat, &running)?;
    let lasting = match stops.is_empty() {
        true => None,
        false => {
            let hold: Vec<Drive> = hold.iter().map(|p| Drive::Load(*p)).collect();
            let asked = (drives.as_slice(), hold.as_slice());
            let drop_k = heater.goal.map_or(30.0, |g| g.value_c - criteria.at_least.1);
            Some(hold_time(
                &heater.line,
                &bar,
                asked,
                slices,
                (LONGEST_HOLD_S, drop_k),
                &criteria,
            )?)
        }
    };
    let advice = heater
        .line
        .coils()
        .last()
        .map(|(_, coil)| frequency_advice(&bar, coil))
        .transpose()?;
    let pace = match heat.takt {
        Some(takt_s) => Some(new_pace(heater, &bar, &drives, takt_s, slices, &criteria)?),
        None => None,
    };
    let mut energy = energy(&bar, heater, &steady);
    energy.add_events(
        &events(cold.as_ref(), &stops),
        &steady,
        heat.shift,
        &heater.line,
        &bar,
        heater.supply_efficiency,
    );

    let mut text = headline(heater, found.as_ref(), &steady, &energy, view);
    for remedy in &helps {
        text.push_str(&said(&remedy_text(remedy, view)));
    }
    text.push('\n');
    text.push_str(&coil_table(&steady, view));
    text.push('\n');
    text.push_str(&energy.text(view));
    if let Some(advice) = &advice {
        let _ = writeln!(
            text,
            "\nFor this bar, hot: {} to {} Hz (diameter of 4 to 6 skin depths).",
            view.number(round_hz(advice.low_hz), 0),
            view.number(round_hz(advice.high_hz), 0)
        );
    }
    if let Some(study) = &cold {
        text.push_str(&start_text(study, &bar, heater, view));
    }
    if let Some(pace) = &pace {
        text.push_str(&pace_text(pace, view));
    }
    if !stops.is_empty() {
        text.push_str(&stop_text(&stops, &hold, view));
        if let Some(time) = &lasting {
            text.push_str(&lasting_text(time, &criteria, view));
        }
    }
    let exit = match &found {
        Some(f) if matches!(f.status, Status::Impossible(_)) => Exit::LimitBroken,
        _ if steady.exit.peak_c > criteria.never_above_c + 1.0 => Exit::LimitBroken,
        _ => Exit::Fine,
    };
    let mut json = as_json(plan, found.as_ref(), &helps, &steady, &energy);
    json["hold_w"] = json!(hold);
    json["hold"] = json!(lasting);
    json["start_up"] = json!(cold);
    json["pace"] = json!(pace.as_ref().map(|p| json!({
        "takt_s": p.takt_s,
        "powers_w": p.powers_w,
        "met": p.met,
        "study": p.study,
    })));
    json["stops"] = json!(
        stops
            .iter()
            .map(|s| {
                json!({
                    "seconds": s.seconds,
                    "power": s.mode,
                    "powers_w": s.powers_w,
                    "takt_s": s.takt_s,
                    "pushed_out": s.pushed_out(),
                    "rejected_after": s.rejected_after(),
                    "study": s.study,
                })
            })
            .collect::<Vec<_>>()
    );
    json["frequency"] = json!(advice);
    let mut files = vec![
        OutFile::text("heater.json", out::json(&json)),
        OutFile::text("heater.csv", track_csv(&steady.track)),
        OutFile::text(
            "heater.svg",
            along_svg(&heater.line, &steady, Some(criteria.never_above_c), view),
        ),
        OutFile::text("power.svg", power_svg(&steady, view)),
        OutFile::text("exit.svg", section_svg(&steady.exit, view)),
        OutFile::text("density.svg", density_svg(&steady, view)),
        OutFile::text("energy.svg", energy.svg(view)),
    ];
    if let Some(advice) = &advice {
        files.push(OutFile::text("frequency.svg", advice_svg(advice, view)));
    }
    let low = criteria.at_least.1;
    if let Some(pace) = &pace {
        let title = format!("Billets after a change of takt to {} s", view.number(pace.takt_s, 1));
        let svg = study_svg(&title, &pace.study, criteria.never_above_c, low, view);
        files.push(OutFile::text("takt.svg", svg));
    }
    if let Some(study) = &cold {
        let svg = study_svg("Billets after a cold start", study, criteria.never_above_c, low, view);
        files.push(OutFile::text("start_up.svg", svg));
    }
    for stop in &stops {
        let title = format!("Billets after a stop of {:.0} s: {}", stop.seconds, stop.says());
        let svg = study_svg(&title, &stop.study, criteria.never_above_c, low, view);
        files.push(OutFile::text(
            format!("stop_{:.0}s_{}.svg", stop.seconds, stop.mode.replace(' ', "_")),
            svg,
        ));
    }
    Ok(Answer {
        text,
        json,
        files,
        exit,
    })
}

/// The criteria of the file's target; without one, 30 K about the steady exit and the steel's limit.
fn criteria(plan: &Plan, heater: &CoilLine, steady: &Steady) -> Criteria {
    heater.criteria.unwrap_or_else(|| {
        let never = plan.metal.limits.never_exceed_c.as_ref().map_or(1300.0, |s| s.value);
        Criteria {
            at_least: (Target::Mean, steady.exit.mean_c - 30.0),
            at_most_c: Some(steady.exit.mean_c + 30.0),
            never_above_c: never,
            difference_k: None,
        }
    })
}

/// A change of pace as asked for.
struct Pace {
    takt_s: f64,
    powers_w: Vec<f64>,
    met: bool,
    study: Study,
}

/// From the running state to another takt, with the powers for it: found anew for a target, else in
/// proportion to the throughput.
fn new_pace(
    heater: &CoilLine,
    bar: &Bar,
    drives: &[Drive],
    takt_s: f64,
    slices: usize,
    criteria: &Criteria,
) -> Result<Pace, HeaterError> {
    let line = HeaterLine {
        takt_s,
        ..heater.line.clone()
    };
    let scaled = scaled(drives, heater.line.takt_s / takt_s);
    let found = match heater.goal {
        Some(goal) => Some(find_powers(&line, bar, &goal, &heater.highest_w, None, slices)?),
        None => None,
    };
    let (next, met) = match &found {
        Some(f) => (
            f.powers_w.iter().map(|p| Drive::Terminals(*p)).collect(),
            !matches!(f.status, Status::Impossible(_)),
        ),
        None => (scaled, true),
    };
    let billets = 2 * heater.line.places() + 10;
    let study = takt_change(&heater.line, bar, drives, slices, (takt_s, &next), billets, criteria)?;
    let steady = match found {
        Some(f) => f.steady,
        None => line.steady(bar, &next, slices)?,
    };
    Ok(Pace {
        takt_s,
        powers_w: steady.coils.iter().map(|c| c.terminals_w).collect(),
        met,
        study,
    })
}

fn pace_text(pace: &Pace, view: &View) -> String {
    let kw: Vec<String> = pace.powers_w.iter().map(|p| view.number(p / 1e3, 1)).collect();
    let reach = if pace.met {
        ""
    } else {
        " (the target is out of reach there)"
    };
    let what = match pace.study.first_good {
        Some(n) => format!(
            "{} billets are rejected (too cold {}, too hot {}), good from billet {n} on.",
            pace.study.rejected,
            numbers(&pace.study, Verdict::TooCold),
            numbers(&pace.study, Verdict::TooHot)
        ),
        None => "no good billet within the time followed.".to_owned(),
    };
    let takt = view.number(pace.takt_s, 1);
    format!(
        "\n{}",
        said(&format!(
            "To a takt of {takt} s, with {} kW{reach}: {what}",
            kw.join(" / ")
        ))
    )
}

fn energy(bar: &Bar, heater: &CoilLine, steady: &Steady) -> EnergyTable {
    let heating = &bar.metal().thermal().heating;
    let target = heater.goal.map_or(steady.exit.mean_c, |g| g.value_c);
    let rise = heating.enthalpy(target) - heating.enthalpy(heater.line.start_c);
    EnergyTable::of(steady, heater.supply_efficiency, rise * steady.balance.kg_s)
}

fn headline(
    heater: &CoilLine,
    found: Option<&SetPoints>,
    steady: &Steady,
    energy: &EnergyTable,
    view: &View,
) -> String {
    let unit = view.temperature_unit();
    let mut text = match found.map(|f| &f.status) {
        None => "At the powers given".to_owned(),
        Some(Status::Met) => "Target met".to_owned(),
        Some(Status::MetAtBound(coils)) => {
            let names: Vec<&str> = coils
                .iter()
                .filter_map(|i| steady.coils.get(*i).map(|c| c.name.as_str()))
                .collect();
            format!("Target met with {} at the end of its range", names.join(", "))
        }
        Some(Status::Impossible(missed)) => {
            let reasons: Vec<String> = missed.iter().map(|m| miss_text(m, view)).collect();
            format!("Not possible: {}. Nearest", reasons.join("; "))
        }
    };
    let exit = &steady.exit;
    let _ = write!(
        text,
        ": exit surface {} {unit}, core {} {unit}, mean {} {unit}; hottest point ever {} {unit}; {} kWh/t from the mains, {} {}/h.",
        view.degrees(exit.surface_c, Side::Nearest),
        view.degrees(exit.core_c, Side::Nearest),
        view.degrees(exit.mean_c, Side::Nearest),
        view.degrees(exit.peak_c, Side::Up),
        view.number(energy.mains_kwh_t(), 0),
        view.number(view.display.mass(3600.0 * steady.balance.kg_s), 0),
        view.display.mass_unit(),
    );
    if let Some((goal, found)) = heater.goal.zip(found).filter(|(g, _)| g.after_s > 0.0) {
        let _ = write!(
            text,
            " After {} s: surface {} {unit}, core {} {unit}, mean {} {unit}.",
            view.number(goal.after_s, 1),
            view.degrees(found.at_target.surface_c, Side::Nearest),
            view.degrees(found.at_target.core_c, Side::Nearest),
            view.degrees(found.at_target.mean_c, Side::Nearest),
        );
    }
    said(&text)
}

/// Why a target is out of reach, in the units asked for.
fn miss_text(missed: &Missed, view: &View) -> String {
    let (unit, apart) = (view.temperature_unit(), view.difference_unit());
    let at = |c: f64| view.degrees(c, Side::Nearest);
    let k = |k: f64| view.kelvins(k, Side::Nearest);
    let (value, wanted) = (missed.value, missed.wanted);
    match missed.miss {
        Miss::TooCold => format!(
            "target {} {unit} is missed from below: {} {unit}",
            at(wanted),
            at(value)
        ),
        Miss::TooHot => format!(
            "target {} {unit} is missed from above: {} {unit}",
            at(wanted),
            at(value)
        ),
        Miss::Uneven => format!(
            "surface and core differ by {} {apart}, allowed {} {apart}",
            k(value),
            k(wanted)
        ),
        Miss::PeakTooHot => format!("hottest point {} {unit}, allowed {} {unit}", at(value), at(wanted)),
    }
}

/// Prose for a terminal, wrapped.
pub(super) fn said(text: &str) -> String {
    wrap(text, usize::from(COLUMNS), "  ")
}

fn remedy_text(remedy: &Remedy, view: &View) -> String {
    let powers = |p: &[f64]| {
        let list: Vec<String> = p.iter().map(|w| view.number(w / 1e3, 0)).collect();
        list.join(" / ")
    };
    match remedy {
        Remedy::Takt { takt_s, powers_w } => {
            format!(
                "A takt of {} s would do, with {} kW.",
                view.number(*takt_s, 1),
                powers(powers_w)
            )
        }
        Remedy::Power { powers_w } => format!("At this takt it would take {} kW.", powers(powers_w)),
        Remedy::Frequency { factor, powers_w } => format!(
            "Frequencies {} times as high would do, with {} kW.",
            view.number(*factor, 2),
            powers(powers_w)
        ),
    }
}

/// Two significant digits: more would pretend.
fn round_hz(hz: f64) -> f64 {
    let scale = 10f64.powf(hz.log10().floor() - 1.0);
    (hz / scale).round() * scale
}

fn start_text(study: &Study, bar: &Bar, heater: &CoilLine, view: &View) -> String {
    let mass = bar.mass_kg_m() * heater.line.billet_m;
    let what = match study.first_good {
        Some(n) => format!(
            "billet {n} is the first good one; {} are rejected ({} {}, {} kWh in them).",
            study.rejected,
            view.number(view.display.mass(study.rejected as f64 * mass), 0),
            view.display.mass_unit(),
            view.number(study.rejected_j / 3.6e6, 1)
        ),
        None => "no good billet within the time followed.".to_owned(),
    };
    format!("\n{}", said(&format!("Cold start with a full heater: {what}")))
}

/// Temperatures on the way through the heater, one row a step.
pub(super) fn track_csv(track: &[TrackPoint]) -> String {
    let mut text = String::from("place_m,time_s,core_c,surface_c,mean_c,hottest_c\n");
    for p in track {
        let _ = writeln!(
            text,
            "{:.4},{:.3},{:.2},{:.2},{:.2},{:.2}",
            p.place_m, p.time_s, p.core_c, p.surface_c, p.mean_c, p.hottest_c
        );
    }
    text
}

fn as_json(plan: &Plan, found: Option<&SetPoints>, helps: &[Remedy], steady: &Steady, energy: &EnergyTable) -> Value {
    json!({
        "title": plan.title,
        "search": found.map(|f| json!({
            "status": f.status,
            "powers_w": f.powers_w,
            "highest_w": f.highest_w,
            "at_target": f.at_target,
            "evaluations": f.evaluations,
        })),
        "remedies": helps,
        "steady": steady,
        "energy": energy.shares.iter().map(|(name, w)| json!({ "name": name, "power_w": w })).collect::<Vec<_>>(),
        "mains_kwh_t": energy.mains_kwh_t(),
        "events": energy.events.iter().map(|e| json!({ "name": e.0, "extra_kwh_per_good_t": e.1 })).collect::<Vec<_>>(),
        "mains_kwh_per_good_t": energy.good_kwh_t(),
        "least_w": energy.least_w,
    })
}
