//! Everything that a sheet or a report can show of one line file.

use sha2::{Digest, Sha256};

use crate::ask::explore::Explored;
use crate::line::Trace;
use crate::show::{Block, Cell};

/// A trace with its line file and whatever else was calculated.
///
/// What is `None` or empty is left out of the report with a reason. Nothing is taken from the
/// clock or the machine, so that the same dossier always gives the same bytes.
#[derive(Debug, Clone)]
pub struct Dossier<'a> {
    /// The run.
    pub trace: &'a Trace,
    /// Part number or name; empty when not given.
    pub part: String,
    /// Revision of the line file; empty when not given.
    pub revision: String,
    /// Remark of the line file; empty when not given.
    pub note: String,
    /// Date to print; empty leaves a line to fill in by hand.
    pub date: String,
    /// Name of the line file.
    pub file_name: String,
    /// Text of the line file.
    pub file_text: String,
    /// Time limits of the hand-overs from planning, with their guard band.
    pub delays: Vec<DelayRow>,
    /// Allowed exit temperatures in degC from planning.
    pub exit_band_c: Option<(f64, f64)>,
    /// What to do after a stop, by its length.
    pub stops: Option<Vec<Block>>,
    /// Why planning did not run, as a key of the message file.
    pub no_planning: &'static str,
    /// What is set at the heater: coils with their powers.
    pub heater_settings: Vec<(Cell, Cell)>,
    /// Heater profile and energy.
    pub heater: Option<Vec<Block>>,
    /// Warm-up of the dies over many parts.
    pub warm_up: Option<Vec<Block>>,
    /// Delay limits in full.
    pub delay_limits: Option<Vec<Block>>,
    /// What one unit of each input changes.
    pub sensitivities: Option<Vec<Block>>,
    /// Results of scatter runs.
    pub scatter: Option<Vec<Block>>,
    /// Measurements beside the run.
    pub measured: Option<Vec<Block>>,
    /// What the history did to the metal.
    pub metal: Option<Vec<Block>>,
    /// How certain each limited value is.
    pub certainty: Option<Vec<Block>>,
    /// Estimated discretisation error.
    pub discretisation: Option<Vec<Block>>,
    /// Margins over some inputs, for sliders.
    pub explored: Option<Explored>,
}

/// Earliest and longest times of one hand-over.
#[derive(Debug, Clone, PartialEq)]
pub struct DelayRow {
    /// Stage name.
    pub stage: String,
    /// Planned time, in s.
    pub planned_s: f64,
    /// Time before which the part is too hot, in s; `None` where no limit sets one.
    pub earliest_s: Option<f64>,
    /// Time after which the shift leader is called, in s; `None` without a guard band.
    pub alarm_s: Option<f64>,
    /// Time after which the part is rejected, in s; `None` where no limit sets one.
    pub reject_s: Option<f64>,
    /// Node that sets the limit.
    pub node: String,
    /// Whether the guard band leaves no time at all, so that the times have none.
    pub guard_used: bool,
}

impl<'a> Dossier<'a> {
    /// A dossier of a trace and its line file alone.
    pub fn new(trace: &'a Trace, file_name: impl Into<String>, file_text: impl Into<String>) -> Self {
        Dossier {
            trace,
            part: String::new(),
            revision: String::new(),
            note: String::new(),
            date: String::new(),
            file_name: file_name.into(),
            file_text: file_text.into(),
            delays: Vec::new(),
            exit_band_c: None,
            stops: None,
            no_planning: "reason.not_run",
            heater_settings: Vec::new(),
            heater: None,
            warm_up: None,
            delay_limits: None,
            sensitivities: None,
            scatter: None,
            measured: None,
            metal: None,
            certainty: None,
            discretisation: None,
            explored: None,
        }
    }

    /// SHA-256 of the line file's text in hexadecimal digits.
    pub fn input_hash(&self) -> String {
        Sha256::digest(self.file_text.as_bytes())
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use sha2::{Digest, Sha256};

    #[test]
    fn hash_is_sha_256() {
        // FIPS 180-4 example: SHA-256 of "abc"
        let digest: String = Sha256::digest(b"abc").iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(
            digest,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
