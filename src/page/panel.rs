//! Answers that take longer and are asked for one by one, as the commands give them.

use std::time::Instant;

use super::answer::shown;
use super::body::Body;
use super::line::{Loaded, Settled};
use super::work::Work;
use crate::ask::Failure;
use crate::ask::answer::ScatterAnswer;
use crate::ask::band::BandOptions;
use crate::ask::band_by_core::bands_by_core;
use crate::ask::decide::Decision;
use crate::ask::enquiry::Enquiry;
use crate::ask::heating::{CoilAnswer, CoilQuestion};
use crate::ask::model::Model;
use crate::ask::scatter::{run_part, study_key};
use crate::ask::shards::Shard;
use crate::ask::stoppage::{LONGEST_STOP_S, STOPS_S};
use crate::ask::study::Study;
use crate::heater::energy::StopWay;
use crate::line::plan::Heater;
use crate::measured::{Bench, MeasuredError, compare};
use crate::report::heater::{coil_line, fixed::static_coil, pictures};
use crate::report::{self, band, decision, scatter, stops};
use crate::show::{Block, View};

/// Stops of a heater, s.
const HEATER_STOPS_S: [f64; 2] = [90.0, 600.0];
/// Time over which a heater's events are spread, s: one shift.
const SHIFT_S: f64 = 8.0 * 3600.0;
/// Most samples that a page runs.
const MOST_SAMPLES: u64 = 20_000;
/// Samples of a page unless others are asked for.
pub(super) const SAMPLES: u64 = 500;

/// The panels, with the keys of their names.
pub(super) const PANELS: [(&str, &str); 6] = [
    ("measured", "measured.title"),
    ("exit-band", "page.exit_band"),
    ("stops", "sheet.stop_table"),
    ("scatter", "report.scatter"),
    ("sorting", "page.sorting"),
    ("heater", "page.heater"),
];

/// Whether a panel can be cancelled while it is worked on: the others are a few runs, which are finished.
pub(super) fn can_be_cancelled(name: &str) -> bool {
    name == "scatter"
}

/// Whether there is such a panel.
pub(super) fn exists(name: &str) -> bool {
    PANELS.iter().any(|(known, _)| *known == name)
}

/// Works out a panel.
///
/// # Errors
/// A sentence that says why there is no answer.
pub(super) fn panel(loaded: &Loaded, body: &Body, work: &Work, view: &View) -> Result<String, String> {
    let settled = loaded.settled(&body.changes()).map_err(|failure| failure.to_string())?;
    let enquiry = &settled.enquiry;
    if !work.goes_on(Instant::now()) {
        return Err(String::new());
    }
    let blocks = match body.panel.as_str() {
        "exit-band" => exit_band(enquiry),
        "stops" => stopped(enquiry),
        "scatter" => scattered(enquiry, body.samples, work),
        "sorting" => sorted(enquiry),
        "measured" => measured(&settled, view),
        _ => heater(enquiry, view),
    };
    blocks
        .map(|blocks| shown(&blocks, view))
        .map_err(|failure| failure.to_string())
}

fn exit_band(enquiry: &Enquiry) -> Result<Vec<Block>, Failure> {
    let options = BandOptions::default();
    let bands = enquiry.judged()?.band(&options)?;
    let coarse: &dyn Model = enquiry.quick.as_ref().unwrap_or(&enquiry.model);
    let by_core = bands_by_core(coarse, &options)?;
    let more = band::More {
        by_core: &by_core,
        wanted: None,
    };
    Ok(band::blocks(enquiry, &bands, &more))
}

fn stopped(enquiry: &Enquiry) -> Result<Vec<Block>, Failure> {
    let judged = enquiry.judged()?;
    let found = judged.stops(&STOPS_S, LONGEST_STOP_S, true)?;
    let asked = stops::Asked {
        stops_s: &STOPS_S,
        longest_s: LONGEST_STOP_S,
    };
    Ok(stops::blocks(&judged, &found, &asked))
}

fn scattered(enquiry: &Enquiry, samples: Option<u64>, work: &Work) -> Result<Vec<Block>, Failure> {
    let samples = samples.unwrap_or(SAMPLES.min(enquiry.study.samples));
    if !(1..=MOST_SAMPLES).contains(&samples) {
        let why = format!("{samples} samples; a page runs 1 to {MOST_SAMPLES}, `billet scatter` runs more");
        return Err(Failure::NothingToDo(why));
    }
    let study = Study {
        samples,
        ..enquiry.study.clone()
    };
    let model = &enquiry.model;
    let start = Instant::now();
    let key = study_key(model, &study, model.document().text(), model.resolution().word());
    let mut shard = Shard::new(key, 1, 1)?;
    let block = 4 * rayon::current_num_threads();
    run_part(model, &study, &mut shard, block, |shard| {
        Ok(work.at(shard.rows.len() as u64, samples))
    })?;
    if work.is_cancelled() {
        return Err(Failure::NothingToDo("cancelled".to_owned()));
    }
    let seconds = start.elapsed().as_secs_f64();
    let line = (model, enquiry.quick.as_ref(), &study);
    let found = ScatterAnswer::of(line, &enquiry.planned()?, shard, None, None, false)?;
    let run = (enquiry.title(), model.resolution().word(), seconds);
    Ok(scatter::answer(&found, &study, model.limits(), run))
}

/// What the decision table of the line says of a part at the planned exit and times.
fn sorted(enquiry: &Enquiry) -> Result<Vec<Block>, Failure> {
    let table = enquiry.judged()?.decision_table()?;
    let exit = enquiry.model.exit_inputs().ok_or_else(Failure::no_exit)?;
    let planned: Vec<f64> = enquiry
        .model
        .handovers()
        .iter()
        .map(|handover| handover.seconds)
        .collect();
    let decided: Decision = table.decide(exit.surface.1, &planned);
    Ok(decision::blocks(&table, &decided))
}

/// The readings of the shop beside the runs of their parts, with these numbers.
fn measured(settled: &Settled, view: &View) -> Result<Vec<Block>, Failure> {
    let failed = |error: MeasuredError| Failure::Line(error.to_string());
    let bench = Bench::new(&settled.enquiry.model).map_err(failed)?;
    let found = compare(&bench).map_err(failed)?;
    Ok(report::measured::section(&bench, &found, &settled.trace, view))
}

fn heater(enquiry: &Enquiry, view: &View) -> Result<Vec<Block>, Failure> {
    let plan = enquiry.model.document().plan();
    let failed = |error: crate::heater::HeaterError| Failure::Line(error.to_string());
    match &plan.heater {
        Heater::CoilLine(coils) => {
            let question = CoilQuestion {
                search: false,
                start_up: true,
                start_empty: true,
                run_out: true,
                stops_s: HEATER_STOPS_S.to_vec(),
                ways: vec![StopWay::Off, StopWay::Hold],
                run_on_takt_s: None,
                run_on_share: None,
                shift_s: SHIFT_S,
                takt_s: None,
                next: None,
                warm_c: None,
            };
            let answer = CoilAnswer::of(&question, plan, coils).map_err(failed)?;
            let mut blocks = coil_line(&answer, coils);
            let marks = pictures::Marks::of(&answer, coils);
            blocks.push(pictures::along(&coils.line, &answer.steady, marks, view).into());
            Ok(blocks)
        }
        Heater::StaticCoil(coil) => {
            let bar = coil.bar(&plan.piece, &plan.metal, plan.resolution).map_err(failed)?;
            let (set, result) = coil.shown(&bar, plan.exit_offset_k).map_err(failed)?;
            let mut blocks = static_coil(&result, &set, coil);
            blocks.push(pictures::static_coil(&result, set.start_c, view).into());
            Ok(blocks)
        }
        _ => Err(Failure::NothingToDo("the line has no coils".to_owned())),
    }
}
