//! `billet delays`: how long each hand-over may take.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;

use super::exit::Exit;
use super::planning::{
    Progress, earliest_words, enquire, fail, latest_words, legend, limit_words, resolution, times_json, wrap, write,
};
use super::{Global, controller, out};
use crate::ask::Failure;
use crate::ask::enquiry::Judged;
use crate::ask::hand_overs::{HandOverTimes, Pair};
use crate::ask::model::{Model, limit_name};
use crate::ask::times::Times;
use crate::line::plan::Resolution;
use crate::report::number::{down, up};
use crate::report::table::text_table;
use crate::units::Display;

/// Find how long each hand-over may take: from when on the part is not too hot, until when not too cold.
#[derive(Debug, Args)]
pub(super) struct Delays {
    /// The line file; its [[study.scatter]] tables give the guard band.
    file: PathBuf,
    /// Write delays.json, the controller table (CSV and JSON), the decision table and the chart.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Find what the second of two hand-overs may take for several lengths of the first.
    #[arg(long, num_args = 2, value_names = ["STAGE", "STAGE"])]
    together: Vec<String>,
    /// Resolution of the runs, instead of that of the file.
    #[arg(long, value_name = "WORD", value_parser = resolution)]
    resolution: Option<Resolution>,
}

impl Delays {
    pub fn run(&self, global: &Global) -> Exit {
        let enquiry = match enquire(&self.file, self.resolution) {
            Ok(enquiry) => enquiry,
            Err(exit) => return exit,
        };
        let progress = Progress::spinner(global, "searching the times");
        let answer = enquiry.judged().and_then(|judged| {
            let times = judged.times()?;
            let pairs = self.pairs(&judged)?;
            Ok((judged, times, pairs))
        });
        progress.end();
        let (judged, times, pairs) = match answer {
            Ok(answer) => answer,
            Err(failure) => return fail(&failure),
        };
        if let Some(folder) = &self.out {
            let progress = Progress::spinner(global, "making the controller table");
            let files = controller::files(&judged, &times);
            progress.end();
            let written = match files {
                Ok(files) => write(folder, &files, global),
                Err(failure) => return fail(&failure),
            };
            if let Err(exit) = written {
                return exit;
            }
        }
        let holds = judged.planned.verdicts.iter().all(|v| v.holds);
        let done = if holds { Exit::Fine } else { Exit::LimitBroken };
        let text = if global.json {
            out::json(&times_of_line_json(&judged, &times, &pairs))
        } else {
            self.text(&judged, &times, &pairs, global.display())
        };
        out::print(&text, done)
    }

    fn pairs(&self, judged: &Judged) -> Result<Vec<Pair>, Failure> {
        match self.together.as_slice() {
            [first, second] => judged.pairs(first, second, 5),
            _ => Ok(Vec::new()),
        }
    }

    fn text(&self, judged: &Judged, times: &[HandOverTimes], pairs: &[Pair], display: Display) -> String {
        let limits = judged.enquiry.model.limits();
        let mut text = format!("{}\n", judged.enquiry.title());
        text.push_str(&wrap(&headline(judged, times, display)));
        for sentence in unreachable(times) {
            text.push_str(&wrap(&sentence));
        }
        let number = |limit: Option<usize>| limit.map_or_else(|| "-".to_owned(), |k| (k + 1).to_string());
        let of = |times: Option<&Times>, words: &dyn Fn(&Times) -> String| times.map_or_else(|| "-".to_owned(), words);
        let rows: Vec<Vec<String>> = times
            .iter()
            .map(|t| {
                let latest = t.alone.limit().map(|k| display.difference(t.k_per_s[k]));
                vec![
                    t.stage.clone(),
                    format!("{:.1}", t.planned_s),
                    earliest_words(t.stated()),
                    of(t.alarm.as_ref(), &latest_words),
                    of(t.reject.as_ref(), &latest_words),
                    of(t.others_worst.as_ref(), &latest_words),
                    latest_words(&t.alone),
                    number(t.alone.limit()),
                    latest.map_or_else(|| "-".to_owned(), |rate| format!("{rate:.1}")),
                ]
            })
            .collect();
        text.push('\n');
        text.push_str(&text_table(
            &[
                "hand-over",
                ">planned s",
                ">earliest s",
                ">alarm s",
                ">reject s",
                ">others late s",
                ">latest s",
                ">limit",
                &format!(">{}/s", display.difference_unit()),
            ],
            &rows,
        ));
        text.push('\n');
        text.push_str(&legend(limits, display));
        let risks = judged.risks();
        text.push_str(&wrap(&match &judged.uncertainty {
            Some(_) => format!(
                "Earliest, alarm and reject keep a guard band: the risk that a part right at that time is bad is {} at \
                 the alarm and {} at the others. `others late` has all other times at their worst.",
                percent(risks.alarm),
                percent(risks.reject),
            ),
            None => "No alarm and reject times: the file states no uncertainties ([[study.scatter]]).".to_owned(),
        }));
        if let [first, second] = self.together.as_slice() {
            let rows: Vec<Vec<String>> = pairs
                .iter()
                .map(|pair| {
                    let second = &pair.second;
                    vec![
                        format!("{:.1}", pair.first_s),
                        earliest_words(second),
                        latest_words(second),
                    ]
                })
                .collect();
            let table = text_table(&[&format!(">{first} s"), ">earliest s", ">latest s"], &rows);
            text.push_str(&format!(
                "\nWhat `{second}` may take when `{first}` takes so long:\n{table}"
            ));
        }
        text
    }
}

fn percent(risk: f64) -> String {
    format!("{:.2} %", 100.0 * risk)
}

/// Hand-overs at which the guard bands leave no time, or not the planned one.
fn unreachable(times: &[HandOverTimes]) -> Vec<String> {
    let mut sentences = Vec::new();
    for t in times {
        let at = |times: &Option<Times>| times.as_ref().is_some_and(|times| !times.holds_at(t.planned_s));
        if !t.alone.holds_at(t.planned_s) {
            continue;
        }
        let stage = &t.stage;
        if at(&t.reject) {
            sentences.push(format!(
                "The guard band for the reject risk is larger than the margin: `{stage}` as planned is a reject."
            ));
        } else if at(&t.alarm) {
            sentences.push(format!(
                "The guard band for the alarm risk is larger than the margin: `{stage}` as planned is an alarm."
            ));
        }
    }
    sentences
}

/// The answer in one or two sentences: what is broken, else the hand-over with least to spare.
fn headline(judged: &Judged, times: &[HandOverTimes], display: Display) -> String {
    let limits = judged.enquiry.model.limits();
    let name = |k: usize| limit_words(&limits[k], display);
    let mut text = String::new();
    for (k, verdict) in judged.planned.verdicts.iter().enumerate().filter(|(_, v)| !v.holds) {
        // The hand-over that can mend it, if one can.
        let mended = times.iter().find_map(|t| match t.alone {
            Times::Between {
                earliest: Some(edge), ..
            } if edge.limit == k && edge.seconds > t.planned_s => Some(format!(
                "TOO HOT unless `{}` takes at least {:.1} s",
                t.stage,
                up(edge.seconds, 1)
            )),
            Times::Between { latest: Some(edge), .. } if edge.limit == k && edge.seconds < t.planned_s => {
                Some(format!(
                    "TOO COLD unless `{}` takes at most {:.1} s",
                    t.stage,
                    down(edge.seconds, 1)
                ))
            }
            _ => None,
        });
        let words = mended.unwrap_or_else(|| "BROKEN whatever one hand-over takes".to_owned());
        let by = display.difference(-verdict.margin_k);
        text.push_str(&format!(
            "{words}: {}, by {:.1} {}. ",
            name(k),
            up(by, 1),
            display.difference_unit()
        ));
    }
    if !text.is_empty() {
        return text;
    }
    let tightest = times
        .iter()
        .filter_map(|t| Some((t, t.alone.latest()?)))
        .min_by(|a, b| (a.1.seconds - a.0.planned_s).total_cmp(&(b.1.seconds - b.0.planned_s)));
    let Some((t, edge)) = tightest else {
        return "No hand-over can make the part too cold, however long it takes (600 s more searched).".to_owned();
    };
    text = format!(
        "`{}` has least to spare: it may take {:.1} s",
        t.stage,
        down(edge.seconds, 1)
    );
    if let (Some(alarm), Some(reject)) = (&t.alarm, &t.reject) {
        let words = format!(
            " (alarm {}, reject {} with guard band)",
            latest_words(alarm),
            latest_words(reject)
        );
        text.push_str(&words);
    }
    text.push_str(&format!(
        ", planned {:.1} s. Then breaks: {}.",
        t.planned_s,
        name(edge.limit)
    ));
    text
}

/// The times of a line as JSON.
pub(super) fn times_of_line_json(judged: &Judged, times: &[HandOverTimes], pairs: &[Pair]) -> serde_json::Value {
    let limits = judged.enquiry.model.limits();
    let risks = judged.risks();
    let list: Vec<_> = times
        .iter()
        .map(|t| {
            json!({
                "stage": t.stage,
                "kind": t.kind,
                "path": t.path,
                "planned_s": t.planned_s,
                "alone": times_json(Some(&t.alone), limits),
                "others_worst": times_json(t.others_worst.as_ref(), limits),
                "reject": times_json(t.reject.as_ref(), limits),
                "alarm": times_json(t.alarm.as_ref(), limits),
                "planned": t.state(t.planned_s),
                "margins_k": t.margins_k,
                "k_per_s": t.k_per_s,
            })
        })
        .collect();
    let bands: Vec<_> = judged.uncertainty.as_ref().map_or_else(Vec::new, |u| {
        limits
            .iter()
            .zip(&u.limits)
            .map(|(limit, stack)| json!({ "limit": limit_name(limit), "sd_k": stack.sd, "worst_k": stack.worst }))
            .collect()
    });
    let together: Vec<_> = pairs
        .iter()
        .map(|pair| json!({ "first_s": pair.first_s, "second": times_json(Some(&pair.second), limits) }))
        .collect();
    json!({
        "schema_version": 2,
        "title": judged.enquiry.title(),
        "resolution": judged.enquiry.model.resolution(),
        "reject_risk": risks.reject,
        "alarm_risk": risks.alarm,
        "handovers": list,
        "uncertainty": bands,
        "together": together,
    })
}
