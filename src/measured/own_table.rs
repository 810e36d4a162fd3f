//! Whether a decision table may judge the parts of a log: it is of the line, and all that it counts as measured is measured.

use super::error::MeasuredError;
use super::setup::Setup;
use crate::ask::decide::DecisionTable;
use crate::ask::line_model::LineModel;
use crate::ask::model::Model;

/// Refuses a decision table that is not of a line.
pub(super) fn table_is_of(table: &DecisionTable, model: &LineModel) -> Result<(), MeasuredError> {
    let plan = model.document().plan();
    let of = &table.identity;
    let other = |what: &str, here: &str, there: &str| {
        Err(MeasuredError::Wrong(format!(
            "the decision table is of another line: its {what} is {there}, that of the line {here}"
        )))
    };
    if of.title != plan.title {
        return other("title", &plan.title, &of.title);
    }
    let named = |word: &Option<String>| word.clone().unwrap_or_else(|| "not given".to_owned());
    if of.part != plan.part {
        return other("part", &named(&plan.part), &named(&of.part));
    }
    if of.revision != plan.revision {
        return other("revision", &named(&plan.revision), &named(&of.revision));
    }
    let limits: Vec<String> = model.limits().iter().map(ToString::to_string).collect();
    if table.limits != limits {
        return other("list of limits", &limits.join("; "), &table.limits.join("; "));
    }
    for stage in &table.stages {
        let planned_s = model.number(&stage.path).ok();
        if planned_s.is_none_or(|s| (s - stage.planned_s).abs() > 1e-6 * s.abs().max(1.0)) {
            let here = planned_s.map_or("not there".to_owned(), |s| format!("{s} s"));
            return other(&format!("`{}`", stage.path), &here, &format!("{} s", stage.planned_s));
        }
    }
    Ok(())
}

/// Refuses a decision table of hand-overs that nothing measures: its guard bands leave out what they scatter.
pub(super) fn table_is_measured(table: &DecisionTable, setup: &Setup) -> Result<(), MeasuredError> {
    let open = table.stages.iter().find(|stage| !setup.times.contains(&stage.path));
    let Some(open) = open else { return Ok(()) };
    Err(MeasuredError::Wrong(format!(
        "the decision table counts the seconds of `{0}` as measured on each part, and they are not: give a [[measurement]] \
         of them, or a column `{0}` where the line has no [[measurement]]; or judge without the table",
        open.stage
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::decide::Identity;
    use crate::ask::risk::Risks;
    use crate::measured::testing::enquiry;

    #[test]
    fn a_table_of_another_line_is_refused() {
        let enquiry = enquiry("");
        let model = &enquiry.model;
        let risks = Risks {
            reject: 0.01,
            alarm: 0.05,
        };
        let table = DecisionTable {
            schema_version: 1,
            identity: Identity::of(model.document(), risks).unwrap(),
            meaning: String::new(),
            limits: model.limits().iter().map(ToString::to_string).collect(),
            limit_of: Vec::new(),
            moment_of: Vec::new(),
            exit_input: "heater.surface_c".to_owned(),
            planned_exit_c: 0.0,
            exit_c: Vec::new(),
            base_k: Vec::new(),
            stages: Vec::new(),
            pair_per_k: Vec::new(),
            sum_error_per_k: vec![[0.0; 3]],
            guard_k: Vec::new(),
            alarm_guard_k: Vec::new(),
            error_k: Vec::new(),
            digest: String::new(),
        };
        assert!(table_is_of(&table, model).is_ok());
        let mut other = table.clone();
        other.limits = vec!["another limit".to_owned()];
        assert!(table_is_of(&other, model).is_err());
        let mut other = table;
        other.identity.title = "Another line".to_owned();
        assert!(table_is_of(&other, model).is_err());
    }
}
