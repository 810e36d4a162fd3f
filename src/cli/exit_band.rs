//! `billet exit-band`: which heater exit temperatures make every limit hold.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::{GuardOption, Progress, enquire, fail, resolution};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::band::{Band, BandOptions, exit_for};
use crate::ask::band_by_core::bands_by_core;
use crate::ask::enquiry::{Enquiry, ExitBands};
use crate::ask::model::{Model, Probe};
use crate::judge::Moment;
use crate::line::plan::Resolution;
use crate::report::band;

/// Find the band of heater exit temperature for which every limit holds.
#[derive(Debug, Args)]
pub(super) struct ExitBand {
    /// The line file.
    file: PathBuf,
    /// Also find the exit temperature that gives this temperature in degC at --node and --moment of --stage.
    #[arg(long, value_name = "DEGC", requires_all = ["node", "moment", "stage"])]
    wanted_c: Option<f64>,
    /// Node of --wanted-c.
    #[arg(long)]
    node: Option<String>,
    /// Moment of --wanted-c: start, end, first blow, blow 2, ...
    #[arg(long, value_parser = moment)]
    moment: Option<Moment>,
    /// Stage of --wanted-c.
    #[arg(long)]
    stage: Option<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
    #[command(flatten)]
    guard: GuardOption,
}

struct Found {
    bands: ExitBands,
    /// Bands with the core at other distances from the surface, on the quick grid.
    by_core: Vec<(f64, Band)>,
    /// Where a temperature is wanted, and the exit that gives it.
    wanted: Option<(Probe, f64)>,
}

impl ExitBand {
    pub fn run(&self, global: &Global) -> Exit {
        let enquiry = match enquire(global, &self.file, self.resolution) {
            Ok(enquiry) => self.guard.of(enquiry),
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "searching the band");
        let found = self.find(&enquiry);
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let planned = enquiry.model.exit_inputs().map_or(f64::NAN, |exit| exit.surface.1);
        let done = match found.bands.stated() {
            Band::Open { low, high } if planned >= low.exit_c && planned <= high.exit_c => Exit::Fine,
            _ => Exit::LimitBroken,
        };
        let more = band::More {
            by_core: &found.by_core,
            wanted: found
                .wanted
                .as_ref()
                .zip(self.wanted_c)
                .map(|((probe, exit), wanted)| (probe, wanted, *exit)),
        };
        out::result(
            global,
            || band::blocks(&enquiry, &found.bands, &more),
            || json_of(&enquiry, &found, planned),
            done,
        )
    }

    fn find(&self, enquiry: &Enquiry) -> Result<Found, Failure> {
        let options = BandOptions::default();
        let bands = enquiry.judged()?.band(&options)?;
        let coarse: &dyn Model = enquiry.quick.as_ref().unwrap_or(&enquiry.model);
        let by_core = bands_by_core(coarse, &options)?;
        let wanted = match (self.wanted_c, &self.stage, &self.moment, &self.node) {
            (Some(wanted), Some(stage), Some(moment), Some(node)) => {
                let probe = Probe {
                    stage: stage.clone(),
                    moment: *moment,
                    node: node.clone(),
                };
                let exit = exit_for(&enquiry.model, &probe, wanted, &options)?;
                Some((probe, exit))
            }
            _ => None,
        };
        Ok(Found { bands, by_core, wanted })
    }
}

fn json_of(enquiry: &Enquiry, found: &Found, planned: f64) -> Value {
    let limits = enquiry.model.limits();
    let bands: Vec<Value> = found
        .by_core
        .iter()
        .map(|(d, band)| json!({ "core_below_surface_k": d, "band": band_json(band, limits) }))
        .collect();
    json!({
        "schema_version": 2,
        "title": enquiry.title(),
        "resolution": enquiry.model.resolution().word(),
        "exit_planned_c": planned,
        "guarded_acceptance": enquiry.guarding,
        "own_values_counted_as_known": enquiry.counted_as_known(),
        "band": band_json(&found.bands.bare, limits),
        "reject": found.bands.reject.as_ref().map(|band| band_json(band, limits)),
        "alarm": found.bands.alarm.as_ref().map(|band| band_json(band, limits)),
        "by_core_difference": bands,
        "exit_for_wanted_c": found.wanted.as_ref().map(|(_, exit)| exit),
    })
}

/// The bands as JSON.
pub(super) fn bands_json(bands: &ExitBands, limits: &[crate::judge::Limit]) -> Value {
    json!({
        "band": band_json(&bands.bare, limits),
        "reject": bands.reject.as_ref().map(|band| band_json(band, limits)),
        "alarm": bands.alarm.as_ref().map(|band| band_json(band, limits)),
    })
}

fn band_json(band: &Band, limits: &[crate::judge::Limit]) -> Value {
    let name = |k: usize| limits.get(k).map(ToString::to_string);
    match band {
        Band::Open { low, high } => json!({
            "open": true,
            "low_c": low.exit_c,
            "low_limit": low.limit().and_then(name),
            "high_c": high.exit_c,
            "high_end": high.by,
            "high_limit": high.limit().and_then(name),
        }),
        Band::Closed {
            wants_hotter,
            wants_colder,
            best_exit_c,
            short_k,
            openings,
        } => json!({
            "open": false,
            "wants_hotter": name(*wants_hotter),
            "wants_colder": name(*wants_colder),
            "best_exit_c": best_exit_c,
            "short_k": short_k,
            "openings": openings,
        }),
        Band::Hopeless { limit, margin_k } => json!({
            "open": false,
            "not_mended": name(*limit),
            "margin_k": margin_k,
        }),
    }
}

/// Reads a moment from the command line.
fn moment(word: &str) -> Result<Moment, String> {
    let known = Moment::WORDS.map(|(word, _)| word).join(", ");
    Moment::parse(word).ok_or_else(|| format!("moments are {known}, blow 1, blow 2, ..."))
}
