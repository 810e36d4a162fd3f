//! `billet exit-band`: which heater exit temperatures make every limit hold.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::{Progress, enquire, fail, legend, limit_words, resolution, wrap};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::band::{Band, BandEnd, BandOptions, EndOf, exit_for};
use crate::ask::band_by_core::bands_by_core;
use crate::ask::enquiry::{Enquiry, ExitBands};
use crate::ask::model::{Model, Probe, limit_name};
use crate::judge::Moment;
use crate::line::plan::Resolution;
use crate::report::number::{down, up};
use crate::report::table::text_table;
use crate::units::Display;

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
}

struct Found {
    bands: ExitBands,
    /// Bands with the core at other distances from the surface, on the quick grid.
    by_core: Vec<(f64, Band)>,
    exit_for_wanted: Option<f64>,
}

impl ExitBand {
    pub fn run(&self, global: &Global) -> Exit {
        let enquiry = match enquire(&self.file, self.resolution) {
            Ok(enquiry) => enquiry,
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
        let done = match &found.bands.bare {
            Band::Open { low, high } if planned >= low.exit_c && planned <= high.exit_c => Exit::Fine,
            _ => Exit::LimitBroken,
        };
        let text = if global.json {
            out::json(&self.json(&enquiry, &found, planned))
        } else {
            self.text(&enquiry, &found, planned, global.display())
        };
        out::print(&text, done)
    }

    fn find(&self, enquiry: &Enquiry) -> Result<Found, Failure> {
        let options = BandOptions::default();
        let bands = enquiry.judged()?.band(&options)?;
        let coarse: &dyn Model = enquiry.quick.as_ref().unwrap_or(&enquiry.model);
        let by_core = bands_by_core(coarse, &options)?;
        let exit_for_wanted = match (self.wanted_c, &self.stage, &self.moment, &self.node) {
            (Some(wanted), Some(stage), Some(moment), Some(node)) => {
                let probe = Probe {
                    stage: stage.clone(),
                    moment: *moment,
                    node: node.clone(),
                };
                Some(exit_for(&enquiry.model, &probe, wanted, &options)?)
            }
            _ => None,
        };
        Ok(Found {
            bands,
            by_core,
            exit_for_wanted,
        })
    }

    fn text(&self, enquiry: &Enquiry, found: &Found, planned: f64, display: Display) -> String {
        let limits = enquiry.model.limits();
        let name = |k: usize| limit_words(&limits[k], display);
        let unit = display.temperature_unit();
        let mut text = format!("{}\n", enquiry.title());
        let shown = |low: &BandEnd, high: &BandEnd| {
            let (low, high) = (
                up(display.temperature(low.exit_c), 0),
                down(display.temperature(high.exit_c), 0),
            );
            (low <= high).then(|| format!("{low} to {high} {unit}"))
        };
        let answer = match &found.bands.bare {
            Band::Open { low, high } => {
                let range = shown(low, high).unwrap_or_else(|| "less than a whole degree".to_owned());
                let planned = display.temperature(planned);
                let mut line = format!("Exit {range} (surface) makes every limit hold; planned {planned:.0}.");
                for (end, word) in [(low, "Colder"), (high, "Hotter")] {
                    line.push_str(&match end.by {
                        EndOf::Limit(k) => format!(" {word} breaks {}.", name(k)),
                        EndOf::Steel => {
                            " No limit of the line ends it above: that is the highest exit of the steel.".to_owned()
                        }
                        EndOf::Search => format!(" {word} was not searched."),
                    });
                }
                for (band, risk) in [(&found.bands.reject, "reject"), (&found.bands.alarm, "alarm")] {
                    let Some(band) = band else { continue };
                    line.push_str(&match band {
                        Band::Open { low, high } => {
                            let range = shown(low, high).unwrap_or_else(|| "no whole degree".to_owned());
                            format!(" With the guard band for the {risk} risk: {range}.")
                        }
                        _ => format!(" With the guard band for the {risk} risk: none."),
                    });
                }
                line
            }
            Band::Closed {
                wants_hotter,
                wants_colder,
                best_exit_c,
                short_k,
                openings,
            } => {
                let mut line = format!(
                    "NO BAND: {} and {} exclude each other; at best ({:.0} {unit}) both are short by {:.1} {}.",
                    name(*wants_hotter),
                    name(*wants_colder),
                    display.temperature(*best_exit_c),
                    display.difference(*short_k),
                    display.difference_unit()
                );
                match openings.first() {
                    Some(opening) => line.push_str(&format!(
                        " Taking {:.1} s off `{}` opens it first.",
                        up(opening.shorten_s, 1),
                        opening.stage
                    )),
                    None => line.push_str(" No hand-over is long enough to open it by shortening."),
                }
                line
            }
            Band::Hopeless { limit, margin_k } => format!(
                "NO BAND: no exit temperature mends {} (short by {:.1} {}).",
                name(*limit),
                display.difference(-margin_k),
                display.difference_unit()
            ),
        };
        text.push_str(&wrap(&answer));
        if enquiry.model.exit_inputs().is_some_and(|exit| exit.base_c != 0.0) {
            text.push_str(&wrap(
                "The heater is computed: its exit is shifted as a whole, with the profile it has. The settings that give \
                 such an exit come from `billet heat`.",
            ));
        }
        if let (Some(exit), Some(wanted)) = (found.exit_for_wanted, self.wanted_c) {
            text.push_str(&wrap(&format!(
                "For {:.0} {unit} at {}, {}, {} the exit must be {:.0} {unit}.",
                display.temperature(wanted),
                self.node.as_deref().unwrap_or_default(),
                self.moment.map_or(String::new(), |m| m.to_string()),
                self.stage.as_deref().unwrap_or_default(),
                display.temperature(exit)
            )));
        }
        if !found.by_core.is_empty() {
            let end = |end: &BandEnd| {
                (
                    format!("{:.0}", display.temperature(end.exit_c)),
                    end.limit().map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                )
            };
            let rows: Vec<Vec<String>> = found
                .by_core
                .iter()
                .map(|(difference, band)| {
                    let mut row = vec![format!("{:.0}", display.difference(*difference))];
                    if let Band::Open { low, high } = band {
                        let ((l, lk), (h, hk)) = (end(low), end(high));
                        row.extend([l, lk, h, hk]);
                    } else {
                        row.extend(["no band".to_owned(), String::new(), String::new(), String::new()]);
                    }
                    row
                })
                .collect();
            text.push_str(&format!(
                "\nBand by core-surface difference (quick grid)\n{}\n{}",
                text_table(
                    &[
                        &format!(">core below {}", display.difference_unit()),
                        &format!(">from {unit}"),
                        ">limit",
                        &format!(">to {unit}"),
                        ">limit",
                    ],
                    &rows
                ),
                legend(limits, display)
            ));
        }
        text
    }

    fn json(&self, enquiry: &Enquiry, found: &Found, planned: f64) -> Value {
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
            "band": band_json(&found.bands.bare, limits),
            "reject": found.bands.reject.as_ref().map(|band| band_json(band, limits)),
            "alarm": found.bands.alarm.as_ref().map(|band| band_json(band, limits)),
            "by_core_difference": bands,
            "exit_for_wanted_c": found.exit_for_wanted,
        })
    }
}

pub(super) fn band_json(band: &Band, limits: &[crate::judge::Limit]) -> Value {
    let name = |k: usize| limits.get(k).map(limit_name);
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
