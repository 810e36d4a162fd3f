//! `billet exit-band`: which heater exit temperatures make every limit hold.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Value, json};

use super::exit::Exit;
use super::planning::{Job, Progress, fail, legend, limit_words, wrap};
use super::{Global, out};
use crate::ask::Failure;
use crate::ask::band::{Band, BandEnd, BandOptions, exit_band, exit_for};
use crate::ask::model::{Change, Model, Probe, limit_name};
use crate::judge::Moment;
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
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

struct Found {
    band: Band,
    /// Bands with the core at other distances from the surface.
    by_difference: Vec<(f64, Band)>,
    exit_for_wanted: Option<f64>,
}

impl ExitBand {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "searching the band");
        let found = self.find(&job);
        progress.end();
        let found = match found {
            Ok(found) => found,
            Err(failure) => return fail(&failure),
        };
        let nominal = job.model.exit_inputs().map_or(f64::NAN, |exit| exit.surface.1);
        let done = match &found.band {
            Band::Open { low, high } if nominal >= low.exit_c && nominal <= high.exit_c => Exit::Fine,
            _ => Exit::LimitBroken,
        };
        let text = if global.json {
            out::json(&self.json(&job, &found, nominal))
        } else {
            self.text(&job, &found, nominal, global.display())
        };
        out::print(&text, done)
    }

    fn find(&self, job: &Job) -> Result<Found, Failure> {
        job.nominal()?;
        let options = BandOptions::default();
        let band = exit_band(&job.model, job.cheap(), &[], &options)?;
        let mut by_difference = Vec::new();
        // How the core stands to the surface: by its own input, on the quick grid.
        let coarse: &dyn Model = match &job.quick {
            Some(quick) => quick,
            None => &job.model,
        };
        if let Some(exit) = job.model.exit_inputs() {
            let below = "heater.core_below_surface_k";
            for difference in [0.0, 20.0, 40.0, 60.0] {
                if job.model.number(below).is_ok() {
                    let fixed = [Change::new(below, difference)];
                    by_difference.push((difference, exit_band(coarse, None, &fixed, &options)?));
                } else if let Some((path, core_c)) = &exit.core {
                    let moved = WithCore {
                        line: coarse,
                        exit: crate::ask::model::ExitInputs {
                            surface: exit.surface.clone(),
                            base_c: exit.base_c,
                            core: Some((path.clone(), exit.surface.1 - difference)),
                        },
                        shift: Change::new(path.clone(), exit.surface.1 - difference),
                        nominal_core_c: *core_c,
                    };
                    by_difference.push((difference, exit_band(&moved, None, &[], &options)?));
                }
            }
        }
        let exit_for_wanted = match (self.wanted_c, &self.stage, &self.moment, &self.node) {
            (Some(wanted), Some(stage), Some(moment), Some(node)) => {
                let probe = Probe {
                    stage: stage.clone(),
                    moment: *moment,
                    node: node.clone(),
                };
                Some(exit_for(&job.model, &probe, wanted, &options)?)
            }
            _ => None,
        };
        Ok(Found {
            band,
            by_difference,
            exit_for_wanted,
        })
    }

    fn text(&self, job: &Job, found: &Found, nominal: f64, display: Display) -> String {
        let limits = job.model.limits();
        let name = |k: usize| limit_words(&limits[k], display);
        let unit = display.temperature_unit();
        let mut text = format!("{}\n", job.title());
        let answer = match &found.band {
            Band::Open { low, high } => {
                let mut line = format!(
                    "Exit {} to {} {unit} (surface) makes every limit hold; now {:.0}.",
                    up(display.temperature(low.exit_c), 0),
                    down(display.temperature(high.exit_c), 0),
                    display.temperature(nominal)
                );
                for (end, word) in [(low, "Colder"), (high, "Hotter")] {
                    if let Some(k) = end.limit {
                        line.push_str(&format!(" {word} breaks {}.", name(k)));
                    }
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
        if job.model.exit_inputs().is_some_and(|exit| exit.base_c != 0.0) {
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
        if !found.by_difference.is_empty() {
            let end = |end: &BandEnd| {
                (
                    format!("{:.0}", display.temperature(end.exit_c)),
                    end.limit.map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                )
            };
            let rows: Vec<Vec<String>> = found
                .by_difference
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

    fn json(&self, job: &Job, found: &Found, nominal: f64) -> Value {
        let limits = job.model.limits();
        let bands: Vec<Value> = found
            .by_difference
            .iter()
            .map(|(d, band)| json!({ "core_below_surface_k": d, "band": band_json(band, limits) }))
            .collect();
        json!({
            "schema_version": 1,
            "title": job.title(),
            "resolution": job.model.resolution().word(),
            "exit_now_c": nominal,
            "band": band_json(&found.band, limits),
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
            "low_limit": low.limit.and_then(name),
            "high_c": high.exit_c,
            "high_limit": high.limit.and_then(name),
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

/// A line whose core stands at another distance from the surface.
struct WithCore<'a> {
    line: &'a dyn Model,
    exit: crate::ask::model::ExitInputs,
    shift: Change,
    nominal_core_c: f64,
}

impl WithCore<'_> {
    /// Without a change of the core of its own, the core goes to its new distance.
    fn moved(&self, changes: &[Change]) -> Vec<Change> {
        let mut all = changes.to_vec();
        if !all.iter().any(|c| c.path == self.shift.path) && self.shift.value != self.nominal_core_c {
            all.push(self.shift.clone());
        }
        all
    }
}

impl Model for WithCore<'_> {
    fn inputs(&self) -> &[crate::line::plan::Input] {
        self.line.inputs()
    }

    fn limits(&self) -> &[crate::judge::Limit] {
        self.line.limits()
    }

    fn handovers(&self) -> &[crate::ask::model::Handover] {
        self.line.handovers()
    }

    fn exit_inputs(&self) -> Option<&crate::ask::model::ExitInputs> {
        Some(&self.exit)
    }

    fn run(&self, changes: &[Change]) -> Result<crate::ask::model::Outcome, crate::ask::model::ModelError> {
        self.line.run(&self.moved(changes))
    }

    fn probe(&self, changes: &[Change], probe: &Probe) -> Result<f64, crate::ask::model::ModelError> {
        self.line.probe(&self.moved(changes), probe)
    }
}

/// Reads a moment from the command line.
fn moment(word: &str) -> Result<Moment, String> {
    let known = Moment::WORDS.map(|(word, _)| word).join(", ");
    Moment::parse(word).ok_or_else(|| format!("moments are {known}, blow 1, blow 2, ..."))
}
