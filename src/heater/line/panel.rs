//! Powers as a panel takes them.

use super::layout::HeaterLine;
use super::result::Steady;

/// Powers are set to this, W (chosen: a tenth of a kilowatt).
pub const PANEL_W: f64 = 100.0;

/// To what the panel takes, W.
pub fn set(power_w: f64) -> f64 {
    (power_w / PANEL_W).round() * PANEL_W
}

/// Sensible powers for a row of coils at another pace, W, from its settled state: in proportion to the
/// throughput where they heat, unchanged where they make good losses. A billet then lives nearly the same
/// history at either pace, so going over from one to the other disturbs little.
pub fn proportional_powers(line: &HeaterLine, settled: &Steady, takt_s: f64) -> Vec<f64> {
    let share = line.takt_s / takt_s;
    // What is lost in a gap the next coil makes good, or the last one.
    let mut pending = 0.0;
    let mut loss = Vec::new();
    for zone in &settled.losses {
        pending += zone.loss_w;
        if settled.coils.iter().any(|c| c.name == zone.name) {
            loss.push(pending);
            pending = 0.0;
        }
    }
    if let Some(last) = loss.last_mut() {
        *last += pending;
    }
    let coils = settled.coils.iter().zip(loss);
    coils
        .map(|(c, loss_w)| {
            let lost = if c.efficiency > 0.0 {
                loss_w.max(0.0) / c.efficiency
            } else {
                0.0
            };
            let lost = lost.min(c.terminals_w);
            (c.terminals_w - lost) * share + lost
        })
        .collect()
}
