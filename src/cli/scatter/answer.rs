//! What a scatter study writes: JSON, CSV and pictures.

use serde_json::{Value, json};

use super::super::out;
use super::super::planning::Job;
use crate::ask::Failure;
use crate::ask::answer::{RareFound, ScatterAnswer};
use crate::ask::model::Model;
use crate::ask::scatter::Draws;
use crate::ask::shards::Shard;
use crate::report::csv::write_rows;
use crate::report::scatter::histogram;
use crate::report::{OutFile, ReportError};
use crate::show::View;

pub(super) fn json(job: &Job, found: &ScatterAnswer) -> Value {
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
        "bad_parts": found.causes,
        "rare": found.rare.iter().map(rare).collect::<Vec<_>>(),
        "rare_any": found.rare_any.as_ref().map(rare),
        "response_surface": found.response,
        "stopped": found.stopped,
    })
}

fn rare(event: &RareFound) -> Value {
    match event {
        Ok(event) => json!(event),
        Err(message) => json!({ "not_found": message }),
    }
}

fn csv(found: &ScatterAnswer) -> Result<String, ReportError> {
    let head = [
        "limit", "broken", "low", "high", "mean", "sd", "skewness", "min", "max", "cpk",
    ];
    let rows = found.result.limits.iter().map(|l| {
        let cpk = l.capability.as_ref().map(|c| format!("{:.3}", c.cpk.estimate));
        vec![
            l.name.clone(),
            format!("{:e}", l.broken.estimate),
            format!("{:e}", l.broken.low),
            format!("{:e}", l.broken.high),
            format!("{:.3}", l.value.mean),
            format!("{:.4}", l.value.sd),
            format!("{:.3}", l.value.skewness),
            format!("{:.3}", l.value.min),
            format!("{:.3}", l.value.max),
            cpk.unwrap_or_default(),
        ]
    });
    write_rows(std::iter::once(head.map(str::to_owned).to_vec()).chain(rows))
}

pub(super) fn files(job: &Job, found: &ScatterAnswer, view: &View) -> Result<Vec<OutFile>, ReportError> {
    let mut files = vec![
        OutFile::text("scatter.json", out::json(&json(job, found))),
        OutFile::text("scatter.csv", csv(found)?),
    ];
    let limits = job.model.limits().iter().zip(&found.margins);
    files.extend(limits.enumerate().map(|(k, (limit, margins))| {
        let name = format!("histogram-{:02}.svg", k + 1);
        OutFile::text(name, histogram(margins, limit, view).svg)
    }));
    Ok(files)
}

/// Inputs and margins of every sample: one row a sample, in their order.
pub(super) fn samples(job: &Job, shard: &Shard) -> Result<String, Failure> {
    let draws = Draws::new(&job.study)?;
    let mut head = vec!["sample".to_owned()];
    head.extend(job.study.scattered.iter().map(|s| s.path.clone()));
    head.extend(job.model.limits().iter().map(|limit| format!("margin_k: {}", limit)));
    head.push("failed".to_owned());
    let width = head.len();
    let rows = shard.rows.iter().map(|row| {
        let mut cells = vec![row.index.to_string()];
        cells.extend(draws.changes(row.index).iter().map(|change| change.value.to_string()));
        cells.extend(row.result.iter().flatten().map(|margin| format!("{margin:.4}")));
        cells.resize(width - 1, "no run".to_owned());
        cells.push(row.result.as_ref().err().cloned().unwrap_or_else(|| "no".to_owned()));
        cells
    });
    write_rows(std::iter::once(head).chain(rows)).map_err(|error| Failure::Line(error.to_string()))
}
