//! One part, now: the exit pyrometer has read a temperature and the robot was late. May it be forged?
//!
//! `cargo run --example one_part`

use std::error::Error;

use billet_thermal::{Line, Resolution, RunOptions, run};

/// The worst margin (K) over all limits, with the surface temperature read at the heater exit
/// (degC; the file says how far the core is below it) and the seconds that the first move took.
pub fn verdict(line: &Line, surface_c: f64, move_s: f64) -> Result<(f64, String), Box<dyn Error>> {
    let plan = line.with(&[
        ("heater.surface_c", surface_c),
        ("stage.heater to upsetter.seconds", move_s),
    ])?;
    let options = RunOptions {
        resolution: Some(Resolution::Quick),
        ..RunOptions::bare()
    };
    let trace = run(&plan, &options)?;
    let worst = trace.limiting().ok_or("the line has no limits")?;
    let what = format!("{} at {}", worst.limit.node, worst.moment);
    Ok((worst.margin_k, what))
}

/// Runs the example.
pub fn main() -> Result<(), Box<dyn Error>> {
    let line = Line::load("examples/hub.toml")?;
    for (surface_c, move_s) in [(1240.0, 4.2), (1240.0, 9.0), (1190.0, 4.2), (1290.0, 4.2)] {
        let (margin_k, what) = verdict(&line, surface_c, move_s)?;
        let word = if margin_k >= 0.0 { "forge it" } else { "reject it" };
        println!("{surface_c} degC, moved in {move_s} s: {word} ({what}, margin {margin_k:.0} K)");
    }
    Ok(())
}
