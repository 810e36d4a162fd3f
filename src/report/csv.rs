//! Results as comma-separated files. Always metric, decimal point, comma between fields, so that
//! every program reads them alike; missing values are empty. Texts that a spreadsheet would run as a
//! formula are made harmless.

use super::ReportError;
use crate::judge::{Bound, Cause};
use crate::line::Trace;

/// `trace.csv`: `time_s`, `stage`, then one column per node in degC.
pub fn trace_csv(trace: &Trace) -> Result<String, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut head = vec!["time_s".to_owned(), "stage".to_owned()];
    head.extend(trace.nodes.iter().cloned());
    write(&mut writer, &head)?;
    for (row, sample) in trace.samples.iter().enumerate() {
        let mut record = vec![
            finite(sample.time_s, 4, "time_s", row)?,
            stage_name(trace, sample.stage),
        ];
        for (i, node) in trace.nodes.iter().enumerate() {
            record.push(match sample.temps_c.get(i).copied().flatten() {
                None => String::new(),
                Some(temp) => finite(temp, 3, node, row)?,
            });
        }
        write(&mut writer, &record)?;
    }
    text(writer)
}

/// `limits.csv`: one row per limit with its verdict.
pub fn limits_csv(trace: &Trace) -> Result<String, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let head = [
        "stage",
        "moment",
        "node",
        "other_node",
        "bound",
        "limit",
        "unit",
        "holds",
        "value",
        "margin_k",
        "margin_s",
        "margin_stage",
        "time_s",
        "worst_stage",
        "worst_moment",
        "crossing_s",
        "cause",
        "owner",
        "source",
    ];
    write(&mut writer, &head.map(str::to_owned))?;
    for (row, verdict) in trace.verdicts.iter().enumerate() {
        let limit = &verdict.limit;
        let (bound, value, unit) = match limit.bound {
            Bound::MinC(c) => ("min", c, "degC"),
            Bound::MaxC(c) => ("max", c, "degC"),
            Bound::MaxDifferenceK(k) => ("max difference", k, "K"),
        };
        let maybe = |value: Option<f64>, name: &str| match value {
            None => Ok(String::new()),
            Some(v) => finite(v, 3, name, row),
        };
        let record = [
            limit.stage.clone().unwrap_or_default(),
            limit.moment.to_string(),
            limit.node.clone(),
            limit.other.clone().unwrap_or_default(),
            bound.to_owned(),
            finite(value, 3, "limit", row)?,
            unit.to_owned(),
            verdict.holds.to_string(),
            finite(verdict.value, 3, "value", row)?,
            finite(verdict.margin_k, 3, "margin_k", row)?,
            maybe(verdict.margin_s, "margin_s")?,
            verdict.margin_stage.clone().unwrap_or_default(),
            finite(verdict.time_s, 4, "time_s", row)?,
            stage_name(trace, verdict.stage),
            verdict.moment.to_string(),
            maybe(verdict.crossing_s, "crossing_s")?,
            cause_word(verdict.cause).to_owned(),
            limit.owner.word().to_owned(),
            limit.source.clone(),
        ];
        write(&mut writer, &record)?;
    }
    text(writer)
}

/// Name of a stage by index, empty for an index without a stage.
pub(crate) fn stage_name(trace: &Trace, index: usize) -> String {
    trace.stages.get(index).map(|s| s.name.clone()).unwrap_or_default()
}

/// A cause in words, empty for none.
pub(crate) fn cause_word(cause: Option<Cause>) -> &'static str {
    match cause {
        None => "",
        Some(Cause::TooHot) => "too hot",
        Some(Cause::TooCold) => "too cold",
        Some(Cause::TooUneven) => "too uneven",
    }
}

fn finite(value: f64, decimals: usize, name: &str, row: usize) -> Result<String, ReportError> {
    if value.is_finite() {
        Ok(crate::text::number::fixed(value, decimals, false))
    } else {
        Err(ReportError::NotFinite {
            name: name.to_owned(),
            row,
            value,
        })
    }
}

/// Records as a file; texts that a spreadsheet would run are made harmless.
pub(crate) fn write_rows(records: impl IntoIterator<Item = Vec<String>>) -> Result<String, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for record in records {
        write(&mut writer, &record)?;
    }
    text(writer)
}

fn write(writer: &mut csv::Writer<Vec<u8>>, record: &[String]) -> Result<(), ReportError> {
    writer
        .write_record(record.iter().map(|cell| crate::show::csv::field(cell)))
        .map_err(|e| ReportError::Text(e.to_string()))
}

fn text(writer: csv::Writer<Vec<u8>>) -> Result<String, ReportError> {
    let bytes = writer.into_inner().map_err(|e| ReportError::Text(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| ReportError::Text(e.to_string()))
}
