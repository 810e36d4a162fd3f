//! From raw tables to the plan: ranges, words, names, volumes. All that is wrong is told at once.

mod billet;
mod blows;
mod context;
mod cool;
mod cycle;
mod forge;
mod forming;
mod gripper;
mod heater;
mod induction;
mod interface;
mod limit;
mod moment;
mod more_die;
mod press;
mod pressure;
mod scale;
mod section;
mod shape;
mod stage;
mod steel_limit;
mod tools;
mod trim;

use std::path::Path;

use context::Check;
pub use shape::VOLUME_TOLERANCE_PERCENT;

use super::metals::Metals;
use super::problem::{LineFileError, ProblemKind, Problems};
use super::raw::RawFile;
use crate::line::plan::{Plan, Resolution};

/// Most stages, and most limits, that a file may have.
const MOST: usize = 500;

/// Checks raw tables and makes the plan of it.
pub(crate) fn check(text: &str, path: &Path, raw: &RawFile, metals: &Metals) -> Result<Plan, LineFileError> {
    let mut check = Check::new(text, metals);
    let plan = assemble(&mut check, raw);
    let Check { mut problems, .. } = check;
    match plan {
        Some(plan) if problems.is_empty() => Ok(plan),
        _ => {
            problems.sort_by_key(|problem| problem.span.start);
            Err(LineFileError::Wrong(Box::new(Problems {
                path: path.to_owned(),
                text: text.to_owned(),
                list: problems,
            })))
        }
    }
}

fn assemble(check: &mut Check, raw: &RawFile) -> Option<Plan> {
    let whole = 0..0;
    let title = check.text("title", &raw.title, 10_000);
    if raw.title.is_none() {
        check.missing(whole.clone(), "title", "title = \"what is forged\"");
    }
    let part = check.text("part", &raw.part, 200);
    let revision = check.text("revision", &raw.revision, 200);
    let note = check.text("note", &raw.note, 10_000);
    let resolution = check.word_or(
        "",
        "resolution",
        &raw.resolution,
        &[
            ("quick", Resolution::Quick),
            ("standard", Resolution::Standard),
            ("fine", Resolution::Fine),
        ],
        (Resolution::Standard, "within 1 K at every node"),
    );

    let billet = billet::billet(check, &raw.billet, tools::gripped(raw));
    let emissivity = billet.as_ref().and_then(|billet| billet.emissivity);
    let shop = billet::shop(check, &raw.shop, emissivity, tools::any(raw));
    let heater = heater::heater(check, &raw.heater, billet.as_ref(), &shop);
    if let (Some(billet), Some(heater)) = (&billet, &heater) {
        heater::warn_solidus(check, billet, heater);
    }
    let exit_offset_k = heater::exit_offset(check, &raw.heater);
    let scale = scale::scale(check, raw, billet.as_ref(), heater.as_ref());
    let scale_loss = scale::loss(check, raw);
    let tools = tools::defaults(check, raw);

    let mut stages = Vec::new();
    if raw.stage.is_empty() {
        check.problem(ProblemKind::NoStages, whole);
    } else if raw.stage.len() > MOST {
        let kind = ProblemKind::TooMany {
            what: "stages",
            count: raw.stage.len(),
            most: MOST,
        };
        check.problem(kind, raw.stage[MOST].span());
    } else if let Some(billet) = &billet {
        let sections = section::sections(check, &raw.section, &billet.piece);
        stages = stage::stages(check, (&raw.stage, sections), (billet, scale_loss), &shop, &tools);
        gripper::one_body(check, raw);
    }
    if raw.limit.len() > MOST {
        let kind = ProblemKind::TooMany {
            what: "limits",
            count: raw.limit.len(),
            most: MOST,
        };
        check.problem(kind, raw.limit[MOST].span());
        return None;
    }
    // A limit is looked at only against stages that stand, or every limit would name a ghost.
    if stages.len() != raw.stage.len() || stages.is_empty() {
        limit::ranges(check, &raw.limit);
        return None;
    }
    let billet = billet?;
    let mut limits = limit::limits(check, &raw.limit, &billet.piece, &stages);
    let with_steel = match &raw.steel_limits {
        Some(given) => *given.get_ref(),
        None => raw.limit.is_empty(),
    };
    if with_steel {
        limits.extend(steel_limit::limits(check, &billet, &stages));
    }
    Some(Plan {
        title: title.unwrap_or_default(),
        part,
        revision,
        note,
        resolution,
        piece: billet.piece,
        metal: billet.metal,
        cold_end_c: billet.cold_end_c,
        scale,
        scale_loss,
        surroundings: shop.air,
        takt_s: shop.takt_s,
        tool_film_w_m2k: shop.tool_film_w_m2k.unwrap_or(0.0),
        heater: heater?,
        exit_offset_k,
        stages,
        limits,
        inputs: std::mem::take(&mut check.inputs),
        warnings: std::mem::take(&mut check.warnings),
    })
}
