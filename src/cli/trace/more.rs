//! What `billet trace` adds on request: heat bill, metal, spread of the contact coefficients.

use serde_json::{Value, json};

use crate::ask::contact_spread::{LEVELS, contact_values, with_contact};
use crate::condition::part::{NodeCondition, Spread};
use crate::judge::{Bound, Verdict};
use crate::line::Trace;
use crate::line::file::{Document, LineFileError};
use crate::line::run::{RunError, RunOptions, run_with};
use crate::report::part::metal::from_cold;
use crate::report::table::text_table;
use crate::units::Display;

/// Why the levels could not be run.
#[derive(Debug, thiserror::Error)]
pub(super) enum SpreadError {
    #[error(transparent)]
    File(#[from] LineFileError),
    #[error(transparent)]
    Run(#[from] RunError),
}

/// The verdicts at each level of contact.
pub(super) struct ContactSpread {
    paths: Vec<&'static str>,
    verdicts: [Vec<Verdict>; 3],
}

impl ContactSpread {
    pub fn of(document: &Document, trace: &Trace) -> Result<ContactSpread, SpreadError> {
        let mut verdicts = [Vec::new(), trace.verdicts.clone(), Vec::new()];
        for index in [0, 2] {
            let plan = with_contact(document, LEVELS[index])?;
            verdicts[index] = run_with(&plan, &RunOptions::bare(), document.heater_cache())?.verdicts;
        }
        let paths = contact_values(document, LEVELS[0])
            .iter()
            .map(|(path, _)| *path)
            .collect();
        Ok(ContactSpread { paths, verdicts })
    }

    pub fn text(&self, display: Display) -> String {
        if self.paths.is_empty() {
            return "\nThe file gives every contact coefficient itself: there is no published spread to run.\n"
                .to_owned();
        }
        let cell = |verdict: Option<&Verdict>| {
            verdict.map_or("-".to_owned(), |v| {
                let value = match v.limit.bound {
                    Bound::MaxDifferenceK(_) => display.difference(v.value),
                    _ => display.temperature(v.value),
                };
                format!("{value:.0}{}", if v.holds { "" } else { " BAD" })
            })
        };
        let rows: Vec<Vec<String>> = self.verdicts[1]
            .iter()
            .map(|typical| {
                let twin = |level: usize| self.verdicts[level].iter().find(|v| v.limit == typical.limit);
                vec![
                    typical.limit.stage.clone().unwrap_or_else(|| "every stage".to_owned()),
                    typical.limit.moment.to_string(),
                    typical.limit.node.clone(),
                    cell(twin(0)),
                    cell(Some(typical)),
                    cell(twin(2)),
                ]
            })
            .collect();
        format!(
            "\nContact at the low, typical and high end of what is published ({}) [{}]:\n{}",
            self.paths.join(", "),
            display.temperature_unit(),
            text_table(&["stage", "moment", "node", ">low", ">typical", ">high"], &rows)
        )
    }

    pub fn json(&self) -> Value {
        let levels: Vec<Value> = LEVELS
            .iter()
            .zip(&self.verdicts)
            .map(|(level, verdicts)| json!({ "contact": level.word(), "verdicts": verdicts }))
            .collect();
        json!({ "coefficients": self.paths, "levels": levels })
    }
}

/// The metal as a table.
pub(super) fn metal_text(nodes: &[NodeCondition], display: Display) -> String {
    let range = |spread: Option<Spread>| {
        spread.map_or("-".to_owned(), |s| {
            format!("{:.0} ({:.0} to {:.0})", s.typical, s.low, s.high)
        })
    };
    let rows: Vec<Vec<String>> = nodes
        .iter()
        .map(|node| {
            vec![
                node.node.clone(),
                range(node.scale_um),
                range(node.metal_loss_um),
                range(node.decarburised_um),
                format!("{:.1}", node.above_1200_c_s),
                if node.coarse_grain { "risk" } else { "no" }.to_owned(),
                node.rate_800_500_k_s
                    .map_or("-".to_owned(), |r| format!("{:.2}", display.difference(r))),
            ]
        })
        .collect();
    let rate = format!(">800-500 [{}/s]", display.difference_unit());
    let header = [
        "node",
        "scale um",
        "metal lost um",
        "decarburised um",
        ">s above 1200 degC",
        "coarse grain",
        &rate,
    ];
    format!(
        "\nMetal from {} on (range of the uncertainty in brackets):\n{}",
        if from_cold(nodes) {
            "the cold billet"
        } else {
            "heater exit"
        },
        text_table(&header, &rows)
    )
}
