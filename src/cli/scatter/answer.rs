//! What a scatter study says: text, JSON, CSV and pictures.

use serde_json::{Value, json};

use super::super::controller::quoted;
use super::super::out;
use super::super::planning::{Job, legend, limit_words, wrap};
use super::{Found, names};
use crate::ask::model::Model;
use crate::ask::rare::RareEvent;
use crate::ask::scatter::LimitScatter;
use crate::ask::statistics::Proportion;
use crate::judge::Bound;
use crate::report::OutFile;
use crate::report::chart::{Axis, Histogram, Style};
use crate::report::number::fixed;
use crate::report::table::text_table;
use crate::units::Display;

/// A probability as per cent, or as parts in a million where it is small.
fn share_words(p: f64) -> String {
    if p == 0.0 {
        "0".to_owned()
    } else if p < 1e-8 {
        format!("{p:.0e}")
    } else if p < 1e-3 {
        // Three significant digits.
        let ppm = p * 1e6;
        let digits = (2 - ppm.log10().floor() as i32).clamp(0, 4) as usize;
        format!("{ppm:.digits$} ppm")
    } else {
        format!("{:.2} %", 100.0 * p)
    }
}

fn interval_words(p: &Proportion) -> String {
    format!("{} to {}", share_words(p.low), share_words(p.high))
}

/// Inputs by their share in the variance of a limit, largest first.
fn ranked(found: &Found, limit: usize) -> Vec<(usize, f64)> {
    let mut list: Vec<(usize, f64)> = match &found.shares {
        Some(shares) => shares[limit].iter().map(|s| s.total).enumerate().collect(),
        None => found.stack.limits[limit].shares.iter().copied().enumerate().collect(),
    };
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    list
}

pub(super) fn text(job: &Job, found: &Found, display: Display) -> String {
    let result = &found.result;
    let limits = job.model.limits();
    let mut text = format!("{}\n", job.title());
    let mut answer = format!(
        "{} of parts break a limit ({} at {:.0} % confidence, {} runs at resolution {}).",
        share_words(result.any.estimate),
        interval_words(&result.any),
        100.0 * result.any.confidence,
        result.runs,
        job.model.resolution().word()
    );
    let worst = (0..limits.len()).max_by(|&a, &b| {
        let p = |k: usize| result.limits[k].broken.estimate;
        p(a).total_cmp(&p(b)).then(b.cmp(&a))
    });
    if let Some(k) = worst.filter(|&k| result.limits[k].broken.count > 0) {
        answer.push_str(&format!(" Mostly {}", limit_words(&limits[k], display)));
        if let Some((input, share)) = ranked(found, k).first() {
            answer.push_str(&format!(
                ", by `{}` ({:.0} % of its variance)",
                job.study.scattered[*input].path,
                100.0 * share
            ));
        }
        answer.push('.');
    }
    text.push_str(&wrap(&answer));
    if !result.failed.is_empty() {
        text.push_str(&wrap(&format!(
            "{} runs FAILED and are in no figure; the first: sample {}, {}",
            result.failed.len(),
            result.failed[0].index,
            result.failed[0].message
        )));
    }
    if let Some(r) = &found.response {
        let worst = r.error_k.iter().copied().fold(0.0, f64::max);
        text.push_str(&wrap(&format!(
            "{} samples were run: {} to fit a response surface, {} to check it, {} that came near a limit or lay outside \
             what it had seen. {} were taken from it; on those run and not fitted it was off by {:.2} {} at most.",
            r.fitted + r.compared + r.near,
            r.fitted,
            r.compared,
            r.near,
            r.taken,
            display.difference(worst),
            display.difference_unit()
        )));
    }
    if found.stopped {
        text.push_str(&wrap(&format!(
            "STOPPED after {} of {} samples; all figures are of these.",
            result.runs + result.failed.len() as u64,
            found.key.samples
        )));
    }
    let unit = display.temperature_unit();
    let rows: Vec<Vec<String>> = result
        .limits
        .iter()
        .zip(limits)
        .enumerate()
        .map(|(k, (l, limit))| {
            let show = |x: f64| match limit.bound {
                Bound::MaxDifferenceK(_) => format!("{:.0}", display.difference(x)),
                _ => format!("{:.0}", display.temperature(x)),
            };
            let tail = match limit.bound {
                Bound::MinC(_) => l.value.quantiles[0],
                _ => l.value.quantiles[6],
            };
            vec![
                (k + 1).to_string(),
                share_words(l.broken.estimate),
                interval_words(&l.broken),
                show(l.value.mean),
                format!("{:.1}", display.difference(l.value.sd)),
                l.capability
                    .map_or_else(|| "-".to_owned(), |_| format!("{:+.1}", l.value.skewness)),
                show(tail),
                l.capability
                    .map_or_else(|| "-".to_owned(), |c| format!("{:.2}", c.cpk.estimate)),
            ]
        })
        .collect();
    text.push_str(&format!(
        "\n{}\n{}",
        text_table(
            &[
                ">limit",
                ">broken",
                ">interval",
                &format!(">mean {unit}"),
                ">sd",
                ">skew",
                ">1 in 1000",
                ">Cpk"
            ],
            &rows
        ),
        legend(limits, display)
    ));
    text.push_str(&causes_text(job, found));
    if !found.rare.is_empty() {
        text.push_str(&rare_text(found));
    }
    text.push_str(&format!(
        "\nseed {}, {} samples, {:?}; {:.1} s for the runs\n",
        found.key.seed, found.key.samples, job.study.scheme, found.seconds
    ));
    text
}

fn causes_text(job: &Job, found: &Found) -> String {
    let limits = job.model.limits().len();
    let numbers: Vec<String> = (1..=limits).map(|k| format!(">{k}")).collect();
    let mut header = vec!["cause"];
    header.extend(numbers.iter().map(String::as_str));
    let mut rows: Vec<Vec<String>> = job
        .study
        .scattered
        .iter()
        .enumerate()
        .map(|(i, entry)| {
            let mut row = vec![entry.path.clone()];
            row.extend((0..limits).map(|k| match &found.shares {
                Some(shares) => format!(
                    "{} ({})",
                    fixed(100.0 * shares[k][i].first, 0, false),
                    fixed(100.0 * shares[k][i].total, 0, false)
                ),
                None => format!("{:.0}", 100.0 * found.stack.limits[k].shares[i]),
            }));
            row
        })
        .collect();
    let mut line = |word: &str, value: &dyn Fn(usize) -> f64| {
        let mut row = vec![word.to_owned()];
        row.extend((0..limits).map(|k| format!("{:.1}", value(k))));
        rows.push(row);
    };
    line("root of the squares, 1 sd, K", &|k| found.stack.limits[k].sd);
    line("all at their worst, K", &|k| found.stack.limits[k].worst);
    let title = match &found.shares {
        Some(_) => "Shares of the variance in %: first order (total)",
        None => "Shares of the variance in % (linear stack-up)",
    };
    format!("\n{title}\n{}", text_table(&header, &rows))
}

fn rare_text(found: &Found) -> String {
    let row = |name: String, event: &Result<RareEvent, String>| match event {
        Ok(e) => vec![
            name,
            share_words(e.probability),
            format!("{} to {}", share_words(e.low), share_words(e.high)),
            format!("{:.0} %", 100.0 * e.relative_error),
            e.evaluations.to_string(),
        ],
        Err(message) => vec![name, "-".to_owned(), message.clone(), String::new(), String::new()],
    };
    let mut rows: Vec<Vec<String>> = found
        .rare
        .iter()
        .enumerate()
        .map(|(k, event)| row((k + 1).to_string(), event))
        .collect();
    if let Some(any) = &found.rare_any {
        rows.push(row("any".to_owned(), any));
    }
    format!(
        "\nRare events: each limit by importance sampling, any by subset simulation\n{}",
        text_table(&["limit", ">broken", ">interval", ">error", ">runs"], &rows)
    )
}

pub(super) fn json(job: &Job, found: &Found) -> Value {
    let inputs: Vec<Value> = job
        .study
        .scattered
        .iter()
        .map(|s| {
            json!({
                "path": s.path,
                "kind": s.distribution.kind(),
                "nominal": s.nominal,
                "mean": s.distribution.mean(),
                "sd": s.distribution.standard_deviation(),
            })
        })
        .collect();
    json!({
        "schema_version": 1,
        "title": job.title(),
        "program": found.key.program,
        "study": found.key.study,
        "resolution": job.model.resolution().word(),
        "seed": found.key.seed,
        "samples": found.key.samples,
        "scheme": job.study.scheme,
        "inputs": inputs,
        "result": found.result,
        "stack_up": found.stack.limits,
        "variance_shares": found.shares,
        "rare": found.rare.iter().map(rare_json).collect::<Vec<_>>(),
        "rare_any": found.rare_any.as_ref().map(rare_json),
        "response_surface": found.response,
        "stopped": found.stopped,
    })
}

fn rare_json(event: &Result<RareEvent, String>) -> Value {
    match event {
        Ok(event) => json!(event),
        Err(message) => json!({ "not_found": message }),
    }
}

pub(super) fn files(job: &Job, found: &Found) -> Vec<OutFile> {
    let mut csv = String::from("limit,broken,low,high,mean,sd,skewness,min,max,cpk\n");
    for LimitScatter {
        name,
        broken,
        value,
        capability,
        ..
    } in &found.result.limits
    {
        csv.push_str(&format!(
            "{},{:e},{:e},{:e},{:.3},{:.4},{:.3},{:.3},{:.3},{}\n",
            quoted(name),
            broken.estimate,
            broken.low,
            broken.high,
            value.mean,
            value.sd,
            value.skewness,
            value.min,
            value.max,
            capability.map_or_else(String::new, |c| format!("{:.3}", c.cpk.estimate))
        ));
    }
    let mut files = vec![
        OutFile::text("scatter.json", out::json(&json(job, found))),
        OutFile::text("scatter.csv", csv),
    ];
    for (k, (name, limit)) in names(job).into_iter().zip(job.model.limits()).enumerate() {
        let (low, high, sign, base, unit) = match limit.bound {
            Bound::MinC(c) => (Some(c), None, 1.0, c, "degC"),
            Bound::MaxC(c) => (None, Some(c), -1.0, c, "degC"),
            Bound::MaxDifferenceK(d) => (None, Some(d), -1.0, d, "K"),
        };
        let chart = Histogram {
            title: name,
            axis: Axis::new(limit.node.clone(), unit),
            counted: "runs".to_owned(),
            values: found.margins[k].iter().map(|m| base + sign * m).collect(),
            given: Vec::new(),
            low_limit: low,
            high_limit: high,
            rules: Vec::new(),
        };
        files.push(OutFile::text(
            format!("histogram-{:02}.svg", k + 1),
            chart.draw(&Style::default()).svg,
        ));
    }
    files
}
