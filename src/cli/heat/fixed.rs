//! The answer for a static coil.

use serde_json::json;

use super::{Answer, track_csv};
use crate::cli::exit::Exit;
use crate::cli::out;
use crate::heater::HeaterError;
use crate::line::plan::{Plan, StaticCoil};
use crate::line::run::HeaterCache;
use crate::report::OutFile;
use crate::report::heater::fixed::{static_coil, too_hot, too_uneven};
use crate::report::heater::pictures;
use crate::show::View;

pub(super) fn answer(plan: &Plan, heater: &StaticCoil, view: &View) -> Result<Answer, HeaterError> {
    let bar = heater.bar(&plan.piece, &plan.metal, plan.resolution)?;
    let (set, result) = heater.shown(&bar, plan.exit_offset_k)?;
    let missed = heater.missed(&result);
    let seconds: f64 = set.steps.iter().map(|s| s.seconds).sum();
    let json = json!({
        "title": plan.title,
        "static_coil": result,
        "seconds": seconds,
        "steps": set.steps,
        "missed": missed,
    });
    let files = vec![
        OutFile::text("heater.json", out::json(&json)),
        OutFile::text(
            "heater.svg",
            pictures::static_coil(&result, heater.set.start_c, view).svg,
        ),
        OutFile::text("exit.svg", pictures::section(&result.exit, view).svg),
        OutFile::text("heater.csv", track_csv(&result.track)),
    ];
    let broken = too_hot(&result.exit, heater).or(too_uneven(&result.exit, heater));
    Ok(Answer {
        blocks: static_coil(&result, &set, heater),
        json,
        files,
        heated: HeaterCache::default(),
        exit: match broken.is_none() && missed.is_empty() {
            true => Exit::Fine,
            false => Exit::LimitBroken,
        },
    })
}
