//! `billet delays`: how long each hand-over may take.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{Job, Progress, allowed_json, fail, legend, limit_words, total_words, wrap, write};
use super::{Global, controller, out};
use crate::ask::Failure;
use crate::ask::delays::{Allowed, DelayLimit, DelayOptions, combined, delay_limits};
use crate::ask::model::{Model, Outcome, limit_name};
use crate::ask::uncertainty::{Uncertainty, uncertainty};
use crate::report::table::text_table;
use crate::units::Display;

/// Find how long each hand-over and wait may take before a limit breaks.
#[derive(Debug, Args)]
pub(super) struct Delays {
    /// The line file; its [[study.scatter]] tables give the guard band.
    file: PathBuf,
    /// Write delays.json, the controller table (CSV and JSON), the decision table and the chart.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Find the pairs of extra seconds in two hand-overs that together just hold.
    #[arg(long, num_args = 2, value_names = ["STAGE", "STAGE"])]
    together: Vec<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = ["quick", "standard", "fine"])]
    resolution: Option<String>,
}

/// What the command found.
pub(super) struct Found {
    pub limits: Vec<DelayLimit>,
    pub uncertainty: Option<Uncertainty>,
    pub nominal: Outcome,
    pub options: DelayOptions,
}

impl Delays {
    pub fn run(&self, global: &Global) -> Exit {
        let job = match Job::load(&self.file, self.resolution.as_deref()) {
            Ok(job) => job,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "searching the delays");
        let answer = find(&job).and_then(|found| Ok((self.pairs(&job)?, found)));
        progress.end();
        let (pairs, found) = match answer {
            Ok(answer) => answer,
            Err(failure) => return fail(&failure),
        };
        if let Some(folder) = &self.out {
            let progress = Progress::spinner(global, "making the controller table");
            let files = controller::files(&job, &found, global);
            progress.end();
            let written = match files {
                Ok(files) => write(folder, &files, global),
                Err(failure) => return fail(&failure),
            };
            if let Err(exit) = written {
                return exit;
            }
        }
        let done = if found.nominal.verdicts.iter().all(|v| v.holds) {
            Exit::Fine
        } else {
            Exit::LimitBroken
        };
        let text = if global.json {
            out::json(&delays_json(&job, &found, &pairs))
        } else {
            self.text(&job, &found, &pairs, global.display())
        };
        out::print(&text, done)
    }

    fn pairs(&self, job: &Job) -> Result<Vec<(f64, f64)>, Failure> {
        let [first, second] = self.together.as_slice() else {
            return Ok(Vec::new());
        };
        let handovers = job.model.handovers();
        let find = |name: &String| {
            handovers.iter().find(|h| h.stage == *name).ok_or_else(|| {
                let near = crate::text::nearest(name, handovers.iter().map(|h| h.stage.as_str()));
                Failure::Run(crate::ask::model::ModelError::UnknownName {
                    what: "hand-over",
                    name: name.clone(),
                    near,
                })
            })
        };
        let options = DelayOptions::default();
        combined(&job.model, job.cheap(), find(first)?, find(second)?, 5, &options)
    }

    fn text(&self, job: &Job, found: &Found, pairs: &[(f64, f64)], display: Display) -> String {
        let mut text = format!("{}\n", job.title());
        text.push_str(&wrap(&headline(job, found, display)));
        for delay in &found.limits {
            if let Some((seconds, limit)) = delay.wait {
                text.push_str(&wrap(&format!(
                    "Too hot unless `{}` takes at least {:.1} s: {}.",
                    delay.stage,
                    crate::report::number::up(delay.nominal_s + seconds, 1),
                    limit_words(&job.model.limits()[limit], display)
                )));
            }
        }
        let rows: Vec<Vec<String>> = found
            .limits
            .iter()
            .map(|delay| {
                let words = |a: &Option<Allowed>| {
                    a.as_ref()
                        .map_or_else(|| "-".to_owned(), |a| total_words(delay.nominal_s, a))
                };
                vec![
                    delay.stage.clone(),
                    format!("{:.1}", delay.nominal_s),
                    words(&delay.alarm),
                    words(&delay.reject),
                    words(&delay.worst),
                    total_words(delay.nominal_s, &delay.nominal),
                    delay
                        .nominal
                        .limit()
                        .map_or_else(|| "-".to_owned(), |k| (k + 1).to_string()),
                    format!("{:.1}", display.difference(delay.k_per_s)),
                ]
            })
            .collect();
        text.push('\n');
        text.push_str(&text_table(
            &[
                "hand-over",
                ">now s",
                ">alarm s",
                ">reject s",
                ">others late s",
                ">longest s",
                ">limit",
                &format!(">{}/s", display.difference_unit()),
            ],
            &rows,
        ));
        text.push('\n');
        text.push_str(&legend(job.model.limits(), display));
        match &found.uncertainty {
            Some(_) => text.push_str(&wrap(&format!(
                "Alarm and reject keep a guard band for a risk of {} and {} that a part right at that time is bad; \
                 `others late` has all other times at their worst.",
                percent(found.options.alarm_risk),
                percent(found.options.reject_risk),
            ))),
            None => text.push_str(&wrap(
                "No alarm and reject times: the file states no uncertainties ([[study.scatter]]).",
            )),
        }
        if let [first, second] = self.together.as_slice() {
            let rows: Vec<Vec<String>> = pairs
                .iter()
                .map(|(a, b)| vec![format!("{a:.1}"), format!("{:.1}", crate::report::number::down(*b, 1))])
                .collect();
            text.push_str(&format!(
                "\nExtra seconds that together just hold:\n{}",
                text_table(&[&format!(">{first}"), &format!(">{second}")], &rows)
            ));
        }
        text
    }
}

/// Delay limits of a line with its study.
pub(super) fn find(job: &Job) -> Result<Found, Failure> {
    let nominal = job.nominal()?;
    let options = DelayOptions {
        reject_risk: job.study.reject_risk,
        alarm_risk: job.study.alarm_risk,
        each_limit: false,
        ..DelayOptions::default()
    };
    // The spread of the guard band comes from differences, which the quick grid gives as well.
    let uncertainty = if job.study.scattered.is_empty() {
        None
    } else {
        match &job.quick {
            Some(quick) => Some(uncertainty(
                quick,
                &job.study.scattered,
                &job.study.correlations,
                &quick.run(&[])?,
            )?),
            None => Some(uncertainty(
                &job.model,
                &job.study.scattered,
                &job.study.correlations,
                &nominal,
            )?),
        }
    };
    let limits = delay_limits(
        &job.model,
        job.cheap(),
        &nominal,
        &job.study.scattered,
        uncertainty.as_ref(),
        &options,
    )?;
    Ok(Found {
        limits,
        uncertainty,
        nominal,
        options,
    })
}

fn percent(risk: f64) -> String {
    format!("{:.2} %", 100.0 * risk)
}

/// The answer in one or two sentences: the hand-over with least to spare.
fn headline(job: &Job, found: &Found, display: Display) -> String {
    let name = |k: usize| limit_words(&job.model.limits()[k], display);
    let (mut text, cold) = (String::new(), |k: usize| {
        found
            .limits
            .iter()
            .any(|delay| matches!(delay.nominal, Allowed::Broken { limit, .. } if limit == k))
    });
    for (k, verdict) in found.nominal.verdicts.iter().enumerate() {
        let mended = found
            .limits
            .iter()
            .any(|delay| delay.wait.is_some_and(|(_, limit)| limit == k));
        if !verdict.holds && !mended && !cold(k) {
            text.push_str(&format!("BROKEN whatever the delay: {}. ", name(k)));
        }
    }
    let broken = found.limits.iter().find_map(|delay| match delay.nominal {
        Allowed::Broken { limit, margin_k } => Some((limit, margin_k)),
        _ => None,
    });
    if let Some((limit, margin_k)) = broken {
        return format!(
            "{text}TOO COLD without any delay: {} by {:.1} {}.",
            name(limit),
            display.difference(-margin_k),
            display.difference_unit()
        );
    }
    let tightest = found
        .limits
        .iter()
        .filter_map(|delay| Some((delay, delay.nominal.seconds()?, delay.nominal.limit()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((delay, extra, limit)) = tightest else {
        return format!("{text}No hand-over can break a limit, however long it takes (600 s searched).");
    };
    text.push_str(&format!(
        "`{}` has least to spare: it may take {:.1} s",
        delay.stage,
        crate::report::number::down(delay.nominal_s + extra, 1)
    ));
    if let (Some(alarm), Some(reject)) = (&delay.alarm, &delay.reject) {
        text.push_str(&format!(
            " (alarm {}, reject {} with guard band)",
            total_words(delay.nominal_s, alarm),
            total_words(delay.nominal_s, reject)
        ));
    }
    text.push_str(&format!(
        ", now {:.1} s. It breaks first: {}.",
        delay.nominal_s,
        name(limit)
    ));
    text
}

pub(super) fn delays_json(job: &Job, found: &Found, pairs: &[(f64, f64)]) -> serde_json::Value {
    let limits = job.model.limits();
    let list: Vec<_> = found
        .limits
        .iter()
        .map(|d| {
            let entry = |a: Option<&Allowed>| allowed_json(d.nominal_s, a, limits);
            json!({
                "stage": d.stage,
                "path": d.path,
                "now_s": d.nominal_s,
                "longest": entry(Some(&d.nominal)),
                "others_worst": entry(d.worst.as_ref()),
                "reject": entry(d.reject.as_ref()),
                "alarm": entry(d.alarm.as_ref()),
                "at_least_s": d.wait.map(|(s, _)| crate::report::number::up(d.nominal_s + s, 1)),
                "smallest_margin_k_per_s": d.k_per_s,
            })
        })
        .collect();
    let bands: Vec<_> = found.uncertainty.as_ref().map_or_else(Vec::new, |u| {
        limits
            .iter()
            .zip(&u.limits)
            .map(|(limit, stack)| json!({ "limit": limit_name(limit), "sd_k": stack.sd, "worst_k": stack.worst }))
            .collect()
    });
    json!({
        "schema_version": 1,
        "title": job.title(),
        "resolution": job.model.resolution().word(),
        "reject_risk": found.options.reject_risk,
        "alarm_risk": found.options.alarm_risk,
        "handovers": list,
        "uncertainty": bands,
        "together": pairs,
    })
}
