//! What a scatter study writes: JSON, CSV and pictures.

use serde_json::{Value, json};

use super::super::out;
use super::super::planning::Job;
use crate::ask::Failure;
use crate::ask::answer::{RareFound, ScatterAnswer};
use crate::ask::model::Model;
use crate::ask::respond::Response;
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
        "own_values_counted_as_known": found.known,
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

/// Inputs and margins of every sample: one row a sample, in their order, with whether they are of a run or `taken` from
/// the response surface.
pub(super) fn samples(job: &Job, shard: &Shard, response: Option<&Response>) -> Result<String, Failure> {
    let draws = Draws::new(&job.study)?;
    let from_surface = |index: u64| response.is_some_and(|response| response.taken_at.binary_search(&index).is_ok());
    let mut head = vec!["sample".to_owned(), "from".to_owned()];
    head.extend(job.study.scattered.iter().map(|s| s.path.clone()));
    head.extend(job.model.limits().iter().map(|limit| format!("margin_k: {}", limit)));
    head.push("failed".to_owned());
    let width = head.len();
    let rows = shard.rows.iter().map(|row| {
        let from = if from_surface(row.index) { "surface" } else { "run" };
        let mut cells = vec![row.index.to_string(), from.to_owned()];
        cells.extend(draws.changes(row.index).iter().map(|change| change.value.to_string()));
        cells.extend(row.result.iter().flatten().map(|margin| format!("{margin:.4}")));
        cells.resize(width - 1, "no run".to_owned());
        cells.push(row.result.as_ref().err().cloned().unwrap_or_else(|| "no".to_owned()));
        cells
    });
    write_rows(std::iter::once(head).chain(rows)).map_err(|error| Failure::Line(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::scatter::study_key;
    use crate::ask::shards::SampleRow;
    use crate::line::file::Document;
    use crate::line::plan::Resolution;

    /// A row says whether its margins are of a run.
    #[test]
    fn samples_say_where_their_margins_are_from() {
        let line = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1220\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
            [[limit]]\nnode = \"coldest\"\nmin_c = 900\nstage = \"carry\"\nmoment = \"end\"\nsource = \"x\"\n\
            [[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"normal\"\nsd = 0.2\n";
        let document = Document::parse(line, "x.toml").unwrap();
        let job = Job::new(document, Some(Resolution::Quick)).unwrap();
        let mut shard = Shard::new(study_key(&job.model, &job.study, line, "quick"), 1, 1).unwrap();
        shard.rows = (0..3)
            .map(|index| SampleRow {
                index,
                result: Ok(vec![1.0]),
            })
            .collect();
        let response = Response {
            scouted: 0,
            fitted: 1,
            compared: 0,
            near: 1,
            taken: 1,
            taken_at: vec![1],
            error_k: vec![0.1],
        };
        let from = |response: Option<&Response>| -> Vec<String> {
            let text = samples(&job, &shard, response).unwrap();
            let cells = text.lines().filter_map(|row| Some(row.split(',').nth(1)?.to_owned()));
            cells.collect()
        };
        assert_eq!(from(Some(&response)), ["from", "run", "surface", "run"]);
        assert_eq!(from(None), ["from", "run", "run", "run"]);
    }
}
