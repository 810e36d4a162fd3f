//! Results as JSON: everything, with its schema version.

use super::ReportError;
use crate::line::Trace;

/// `result.json`: the whole trace, indented, with a final line feed. Missing values are `null`;
/// a number that is not finite is refused with its place, since JSON has no word for it.
pub fn result_json(trace: &Trace) -> Result<String, ReportError> {
    check(trace)?;
    let mut text = serde_json::to_string_pretty(trace).map_err(|e| ReportError::Text(e.to_string()))?;
    text.push('\n');
    Ok(text)
}

fn check(trace: &Trace) -> Result<(), ReportError> {
    let fine = |value: f64, name: &str, row: usize| {
        if value.is_finite() {
            Ok(())
        } else {
            Err(ReportError::NotFinite {
                name: name.to_owned(),
                row,
                value,
            })
        }
    };
    fine(trace.mass_kg, "mass_kg", 0)?;
    for (row, stage) in trace.stages.iter().enumerate() {
        fine(stage.start_s, "stages.start_s", row)?;
        fine(stage.end_s, "stages.end_s", row)?;
    }
    for (row, sample) in trace.samples.iter().enumerate() {
        fine(sample.time_s, "samples.time_s", row)?;
        for temp in sample.temps_c.iter().flatten() {
            fine(*temp, "samples.temps_c", row)?;
        }
    }
    for (row, moment) in trace.moments.iter().enumerate() {
        fine(moment.time_s, "moments.time_s", row)?;
        for temp in moment.temps_c.iter().flatten() {
            fine(*temp, "moments.temps_c", row)?;
        }
    }
    for (row, map) in trace.maps.iter().enumerate() {
        fine(map.time_s, "maps.time_s", row)?;
        let faces = map.across.faces_m.iter().chain(&map.up.faces_m);
        for value in faces.chain(map.temps_c.iter().flatten()) {
            fine(*value, "maps", row)?;
        }
    }
    for (row, die) in trace.dies.iter().enumerate() {
        let temps = [die.face_start_c, die.face_peak_c, die.face_end_c];
        for value in temps.into_iter().chain([die.heat_kj, die.friction_kj]) {
            fine(value, "dies", row)?;
        }
    }
    for (row, e) in trace.ends.iter().enumerate() {
        let grip = [e.grip_end_surface_mm, e.grip_end_mean_mm];
        for value in grip.into_iter().chain([e.free_end_surface_mm, e.free_end_mean_mm]) {
            fine(value, "ends", row)?;
        }
    }
    fine(trace.ledger.stored_kj, "ledger.stored_kj", 0)?;
    fine(trace.ledger.imbalance, "ledger.imbalance", 0)?;
    for (row, entry) in trace.ledger.entries.iter().enumerate() {
        fine(entry.energy_kj, "ledger.entries.energy_kj", row)?;
    }
    for (row, verdict) in trace.verdicts.iter().enumerate() {
        let always = [verdict.time_s, verdict.value, verdict.margin_k];
        let maybe = [verdict.margin_s, verdict.crossing_s];
        for value in always.into_iter().chain(maybe.into_iter().flatten()) {
            fine(value, "verdicts", row)?;
        }
    }
    Ok(())
}
