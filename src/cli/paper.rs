//! What sheet and report have in common: language, paper, date, and the results behind them.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use rayon::prelude::*;
use serde_json::json;

use super::exit::Exit;
use super::{Global, message, out, save};
use crate::ask::Failure;
use crate::ask::band::BandOptions;
use crate::ask::enquiry::Enquiry;
use crate::ask::hand_overs::exit_chart;
use crate::ask::line_model::LineModel;
use crate::ask::model::{Model, Outcome};
use crate::ask::scatter::{reduce, run_part, study_key};
use crate::ask::sensitivity::sensitivity;
use crate::ask::shards::Shard;
use crate::ask::study::Study;
use crate::ask::times::TimesOptions;
use crate::condition::part::{NodeCondition, of_trace};
use crate::heater::HeaterError;
use crate::heater::line::{Shift, hold_at_terminals};
use crate::judge::Moment;
use crate::line::file::Document;
use crate::line::plan::{CoilLine, Heater, Resolution};
use crate::line::trace::Trace;
use crate::measured::{Bench, MeasuredError, compare};
use crate::report::heater::AtWork;
use crate::report::{Dossier, Paper, View};
use crate::report::{
    band, headline, heater, measured, metal, scatter, sensitivities as influence, stops, times as delays,
};
use crate::show::{Block, Cell, Quantity, say, terminal};

/// Options of the printed pages.
#[derive(Debug, Clone, Args)]
pub(super) struct PaperOptions {
    /// Paper size.
    #[arg(long, value_enum, default_value = "a4", value_name = "SIZE")]
    paper: PaperSize,
    /// Decimal sign, instead of that of the language.
    #[arg(long, value_enum, value_name = "SIGN")]
    decimal: Option<Decimal>,
    /// Date to print; without it the sheet leaves a line to fill in.
    #[arg(long, value_name = "TEXT", default_value = "")]
    date: String,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum PaperSize {
    A4,
    Letter,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Decimal {
    Comma,
    Point,
}

impl PaperOptions {
    /// Units, decimal sign and language.
    pub fn view(&self, global: &Global) -> View {
        let view = global.view();
        match self.decimal {
            None => view,
            Some(sign) => View {
                decimal_comma: matches!(sign, Decimal::Comma),
                ..view
            },
        }
    }

    /// Paper size.
    pub fn paper(&self) -> Paper {
        match self.paper {
            PaperSize::A4 => Paper::A4,
            PaperSize::Letter => Paper::Letter,
        }
    }

    /// A dossier of the run with what the line file says of the part.
    pub fn dossier<'a>(&self, document: &Document, trace: &'a Trace) -> Dossier<'a> {
        Dossier {
            date: self.date.clone(),
            ..dossier(document, trace)
        }
    }
}

/// Name of a file made from that of the line file, in the current folder.
pub(super) fn default_name(document: &Document, kind: &str) -> PathBuf {
    let stem = document
        .path()
        .file_stem()
        .map_or_else(|| "line".to_owned(), |s| s.to_string_lossy().into_owned());
    PathBuf::from(format!("{stem}.{kind}.html"))
}

/// A dossier of the run with what the line file says of the part and what the history did to the
/// metal.
pub(super) fn dossier<'a>(document: &Document, trace: &'a Trace) -> Dossier<'a> {
    let name = document
        .path()
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let plan = document.plan();
    Dossier {
        part: plan.part.clone().unwrap_or_default(),
        revision: plan.revision.clone().unwrap_or_default(),
        note: plan.note.clone().unwrap_or_default(),
        ..Dossier::new(trace, name, document.text())
    }
}

/// Adds the section on the metal; a history outside the range of its laws leaves it out.
pub(super) fn add_metal(dossier: &mut Dossier<'_>, document: &Document) -> Option<Vec<NodeCondition>> {
    let nodes = of_trace(dossier.trace, &document.plan().metal).ok()?;
    dossier.metal = Some(metal::blocks(&nodes));
    Some(nodes)
}

/// Adds what was measured, beside the runs of the parts.
pub(super) fn add_measured(dossier: &mut Dossier<'_>, document: &Document, view: &View) -> Result<(), MeasuredError> {
    let bench = Bench::new(&LineModel::new(document.clone()))?;
    let found = compare(&bench)?;
    dossier.measured = Some(measured::section(&bench, &found, dossier.trace, view));
    Ok(())
}

/// Adds profile and energy of a line of coils or a static coil. The run has solved it already, so it cannot fail here
/// without having failed there; if it did, the section would say that it is not in the report.
pub(super) fn add_heater(dossier: &mut Dossier<'_>, document: &Document, view: &View) {
    let plan = document.plan();
    if let Heater::CoilLine(coils) = &plan.heater
        && let Ok(at_work) = at_work(document, coils)
    {
        dossier.heater_settings = at_work.settings();
        dossier.heater_settings.extend(shown_at_exit(dossier.trace));
        dossier.heater = Some(at_work.section(view));
    }
    if let Heater::StaticCoil(coil) = &plan.heater {
        let solve = || {
            let bar = coil.bar(&plan.piece, &plan.metal, plan.resolution)?;
            coil.shown(&bar, plan.exit_offset_k).map(|heated| heated.1)
        };
        dossier.heater = solve()
            .ok()
            .map(|result| heater::fixed::static_section(&result, coil, view));
    }
}

/// A line of coils in its settled state, with its hold powers.
fn at_work<'a>(document: &Document, coils: &'a CoilLine) -> Result<AtWork<'a>, HeaterError> {
    let (plan, line) = (document.plan(), &coils.line);
    let bar = coils.bar(&plan.piece, &plan.metal, plan.resolution)?;
    let (drives, slices) = (coils.drives(&bar, plan.resolution)?, coils.slices(plan.resolution));
    let mut steady = line.steady(&bar, &drives, slices)?;
    Shift::new(plan.exit_offset_k, line.start_c, steady.exit.mean_c).steady(&mut steady);
    // Holding is followed on the quick grid, as `heat` does for square bars.
    let quick = coils.bar(&plan.piece, &plan.metal, Resolution::Quick)?;
    let hold_terminals_w = hold_at_terminals(line, &quick, &drives, 1)?;
    Ok(AtWork {
        heater: coils,
        steady,
        hold_terminals_w,
        curie_c: bar.metal().curie_c(),
    })
}

/// What a pyrometer shows at the exit of the heater: the outside of the scale, where the line follows it.
fn shown_at_exit(trace: &Trace) -> Option<(Cell, Cell)> {
    let metal_c = trace.at("heater", Moment::Exit, "surface")?;
    let scale = trace.scale.iter().find(|s| s.moment == Moment::Exit);
    let shown_c = metal_c - scale.map_or(0.0, |s| s.outside_colder_k);
    Some((
        say("heat.pyrometer").into(),
        Cell::number(shown_c, Quantity::Temperature),
    ))
}

/// Stops of the wall table, s.
const STOPS_S: [f64; 5] = [5.0, 10.0, 20.0, 60.0, 300.0];
/// Longest stop searched, s.
const LONGEST_STOP_S: f64 = 3600.0;
/// Most samples of a scatter study run for a page.
const SAMPLES: u64 = 200;
/// Points of the chart of allowed time over exit temperature, either side of the nominal one.
const CHART_POINTS: i32 = 2;
/// Distance of those points, K.
const CHART_STEP_K: f64 = 20.0;
/// Longest delay of that chart, s.
const CHART_LONGEST_S: f64 = 120.0;
/// Most inputs whose influence is listed.
const KNOBS: usize = 24;

/// Whether an input is something that a shop sets or that scatters: times, temperatures of heater
/// and dies, blows, emissivity.
fn is_knob(path: &str) -> bool {
    if path.starts_with("limit.") || path.contains("shape") {
        return false;
    }
    let last = path.rsplit('.').next().unwrap_or(path);
    path.starts_with("heater.")
        || matches!(
            last,
            "seconds"
                | "lying_before_s"
                | "lying_after_s"
                | "interval_s"
                | "contact_ms"
                | "bulk_c"
                | "ambient_c"
                | "emissivity"
        )
}

/// How much planning a page asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Planning {
    /// The times of hand-overs alone.
    Brief,
    /// What the sheet prints: times of hand-overs, exit band, stops.
    Sheet,
    /// Everything.
    Report,
}

/// Runs the planning and puts its results into the dossier. The searches use the quick grid where
/// they may and confirm with the grid of the file.
pub(super) fn add_planning(
    dossier: &mut Dossier<'_>,
    document: &Document,
    view: &View,
    how_much: Planning,
) -> Result<(), Failure> {
    if dossier.trace.verdicts.is_empty() {
        return Ok(());
    }
    let enquiry = Enquiry::new(document.clone(), None)?;
    let judged = enquiry.judged_as(Outcome {
        verdicts: dossier.trace.verdicts.clone(),
        stages: dossier.trace.stages.clone(),
    })?;
    let (model, study, nominal) = (&enquiry.model, &enquiry.study, &judged.planned);
    let quick = enquiry.quick.as_ref().unwrap_or(model);
    let limits = model.limits();
    let times = judged.times()?;
    dossier.delays = delays::delay_rows(&times, limits);
    if nominal.verdicts.iter().any(|v| !v.holds) {
        // with a limit broken as planned there is no band and no stop to speak of
        dossier.no_planning = "reason.broken";
        dossier.delay_limits = Some(delays::section(&judged, &times));
        return Ok(());
    }
    if how_much == Planning::Brief {
        return Ok(());
    }
    let mut section = delays::section(&judged, &times);
    let band = || match model.exit_inputs() {
        Some(_) => judged.band(&BandOptions::default()).map(Some),
        None => Ok(None),
    };
    let (bands, survived) = rayon::join(band, || judged.stops(&STOPS_S, LONGEST_STOP_S, false));
    let survived = survived?;
    if let Some(bands) = bands? {
        dossier.exit_band_c = band::allowed_c(bands.stated());
        section.extend(band::section(&bands));
    }
    let asked = stops::Asked {
        stops_s: &STOPS_S,
        longest_s: LONGEST_STOP_S,
    };
    dossier.stops = Some(stops::section(&judged, &survived, &asked));
    if how_much == Planning::Report {
        let paths: Vec<String> = model
            .inputs()
            .iter()
            .filter(|i| i.number().is_some_and(|v| v != 0.0) && is_knob(&i.path))
            .map(|i| i.path.clone())
            .take(KNOBS)
            .collect();
        let basis = quick.run(&[])?;
        if let Some(limiting) = nominal.tightest() {
            // an input that cannot be varied alone (a shape) says nothing here
            let list: Vec<_> = paths
                .par_iter()
                .filter_map(|path| sensitivity((quick, None), path, &basis).ok())
                .collect();
            dossier.sensitivities = Some(influence::strongest(&list, limiting, limits));
        }
        let tightest = times
            .iter()
            .filter_map(|t| Some((t, t.alone.latest()?.seconds - t.planned_s)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        if let (Some((of, _)), Some(exit)) = (tightest, model.exit_inputs())
            && let Some(handover) = model.handovers().iter().find(|h| h.stage == of.stage)
        {
            let exits: Vec<f64> = (-CHART_POINTS..=CHART_POINTS)
                .map(|k| exit.surface.1 + CHART_STEP_K * f64::from(k))
                .collect();
            let bounded = TimesOptions {
                longest_s: CHART_LONGEST_S,
                ..TimesOptions::default()
            };
            let chart = exit_chart(quick, handover, &exits, &bounded)?;
            let names: Vec<_> = limits.iter().map(delays::curve_name).collect();
            let stage = (handover.stage.as_str(), handover.seconds);
            let picture = delays::exit_chart(&chart, stage, &names, view);
            section.extend(picture.map(|picture| Block::from(picture.draw(&view.style()))));
        }
        if !study.scattered.is_empty() {
            let small = Study {
                samples: study.samples.min(SAMPLES),
                ..study.clone()
            };
            let key = study_key(quick, &small, document.text(), Resolution::Quick.word());
            let mut shard = Shard::new(key, 1, 1)?;
            run_part(quick, &small, &mut shard, SAMPLES as usize, |_| Ok(true))?;
            let result = reduce(limits, &shard.rows, small.confidence)?;
            dossier.scatter = Some(scatter::section(&result, limits, view));
        }
    }
    dossier.delay_limits = Some(section);
    Ok(())
}

/// Runs the line, with the seconds of each verdict, or tells why it cannot.
pub(super) fn follow(document: &Document) -> Result<Trace, Exit> {
    Enquiry::new(document.clone(), None)
        .and_then(|enquiry| enquiry.trace())
        .map_err(|failure| fail(&failure))
}

/// Tells a failed planning and gives its exit status.
pub(super) fn fail(failure: &Failure) -> Exit {
    message::error_line(&failure.to_string());
    match failure.exit_code() {
        2 => Exit::WrongInput,
        _ => Exit::Failed,
    }
}

/// Writes the page (`-` is standard output), then says the verdict and where the page is.
///
/// With `--json` the answer is a table, in which `metal` stands where it was worked out.
pub(super) fn finish(
    page: &str,
    (to, inputs): (&Path, &[PathBuf]),
    (trace, metal): (&Trace, Option<&[NodeCondition]>),
    view: &View,
    global: &Global,
) -> Exit {
    let done = if trace.verdicts.iter().all(|v| v.holds) {
        Exit::Fine
    } else {
        Exit::LimitBroken
    };
    if to == Path::new("-") {
        return out::print(page, done);
    }
    if let Err(exit) = save::file(to, page.as_bytes(), inputs) {
        return exit;
    }
    let broken = trace.verdicts.iter().filter(|v| !v.holds).count();
    let text = if global.json {
        let mut answer = json!({
            "file": to.display().to_string(),
            "bytes": page.len(),
            "limits": trace.verdicts.len(),
            "broken": broken,
        });
        if let Some(metal) = metal {
            answer["metal"] = json!(metal);
        }
        out::json(&answer)
    } else {
        let answer = [Block::sentence(headline(trace))];
        format!(
            "{}wrote {} ({} kB)\n",
            terminal::text(&answer, view, global.terminal()),
            to.display(),
            page.len().div_ceil(1000)
        )
    };
    out::print(&text, done)
}
