//! From raw tables to the plan: ranges, words, names, volumes. All that is wrong is told at once.

mod billet;
mod blows;
mod carry;
mod context;
mod converter;
mod cool;
mod cycle;
mod die_block;
mod forge;
mod forming;
mod gripper;
mod heater;
mod heater_limit;
mod induction;
mod interface;
mod limit;
mod moment;
mod more_die;
mod part;
mod press;
mod pressure;
mod rest;
mod ring;
mod scale;
mod section;
mod shape;
mod stage;
mod steel_limit;
mod tools;
mod trim;

use context::Check;
pub use ring::VOLUME_TOLERANCE_PERCENT;

use super::metals::Metals;
use super::tables::RawFile;
use crate::judge::Limit;
use crate::line::plan::{Plan, Resolution, Stage};
use crate::text::{Problem, ProblemKind, Source, Words};

impl Words for Resolution {
    const WORDS: &'static [(&'static str, Resolution)] = &[
        ("quick", Resolution::Quick),
        ("standard", Resolution::Standard),
        ("fine", Resolution::Fine),
    ];
}

/// Most stages, and most limits, that a file may have.
const MOST: usize = 500;

/// Checks the tables of a file and makes the plan of it.
pub(crate) fn check(source: &Source<'_>, raw: &RawFile, metals: &Metals) -> Result<Plan, Vec<Problem>> {
    let mut check = Check::new(source, metals);
    let plan = assemble(&mut check, raw);
    match plan {
        Some(plan) if check.problems.is_empty() => Ok(plan),
        _ => Err(check.found.problems),
    }
}

fn assemble(check: &mut Check, raw: &RawFile) -> Option<Plan> {
    let whole = 0..0;
    let title = check.text(&raw.title);
    if raw.title.is_none() {
        check.missing(whole.clone(), "title", "title = \"what is forged\"");
    }
    let part = check.text(&raw.part);
    let revision = check.text(&raw.revision);
    let note = check.text(&raw.note);
    let default = (
        Resolution::Standard,
        "numerical error within 1 K at most nodes, 2.5 K at the root of a flash and at corners under water",
    );
    let resolution = check.word_or("", &raw.resolution, default);

    let billet = billet::billet(check, &raw.billet, tools::gripped(raw));
    let emissivity = billet.as_ref().and_then(|billet| billet.emissivity);
    let shop = billet::shop(check, &raw.shop, emissivity, tools::any(raw));
    let mut heater = heater::heater(check, &raw.heater, billet.as_ref(), &shop);
    let exit_offset_k = heater::exit_offset(check, &raw.heater);
    if let Some(heater) = &mut heater {
        heater.aim_for(exit_offset_k);
    }
    let scale = scale::scale(check, raw, billet.as_ref(), heater.as_ref());
    if let (Some(billet), Some(heater)) = (&billet, &mut heater) {
        if let Some(layer) = &scale {
            scale::metal_under(check, raw, heater, layer, (billet, &shop));
        }
        heater::warn_solidus(check, billet, heater);
    }
    let scale_loss = scale::loss(check, raw);
    let tools = tools::defaults(check, raw);

    let stages = all_stages(check, raw, billet.as_ref(), scale_loss, (&shop, &tools));
    if raw.limit.items().len() > MOST {
        let kind = ProblemKind::TooMany {
            what: "limits",
            count: raw.limit.items().len(),
            most: MOST,
        };
        check.problem(kind, raw.limit.items()[MOST].span());
        return None;
    }
    // A limit is looked at only against stages that stand, or every limit would name a ghost.
    if stages.len() != raw.stage.items().len() || stages.is_empty() {
        limit::ranges(check, raw.limit.items());
        return None;
    }
    let billet = billet?;
    let mut limits = limit::limits(check, raw.limit.items(), &billet.piece, &stages);
    let mut heater = heater?;
    let with_steel = raw.steel_limits.value().copied();
    if with_steel.unwrap_or(raw.limit.items().is_empty()) {
        limits.extend(steel_limit::limits(check, &billet, &stages));
    } else if with_steel.is_none() && heater.is_computed() && !limits.iter().any(Limit::is_of_the_heat) {
        // What heats from cold may burn what the limits of the file do not look at.
        limits.extend(steel_limit::never_exceed_in_heater(&billet));
    }
    limits.extend(heater_limit::limits(&raw.heater, &heater, &limits));
    if let Some(never_c) = limits.iter().filter_map(Limit::never_in_heater_c).reduce(f64::min) {
        heater.keep_below(never_c);
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
        heater,
        exit_offset_k,
        stages,
        limits,
        inputs: std::mem::take(&mut check.inputs),
        warnings: std::mem::take(&mut check.warnings),
    })
}

/// The stages, where there are some and not too many.
fn all_stages(
    check: &mut Check,
    raw: &RawFile,
    billet: Option<&billet::Billet>,
    scale_loss: f64,
    (shop, tools): (&billet::Shop, &tools::Tools),
) -> Vec<Stage> {
    let items = raw.stage.items();
    if items.is_empty() {
        let detail = "no stages: a line has at least one [[stage]]".to_owned();
        let kind = ProblemKind::rule("no-stages", detail, "add a [[stage]] with kind and seconds");
        check.problem(kind, 0..0);
    } else if items.len() > MOST {
        let kind = ProblemKind::TooMany {
            what: "stages",
            count: items.len(),
            most: MOST,
        };
        check.problem(kind, items[MOST].span());
    } else if let Some(billet) = billet {
        let sections = section::sections(check, raw.section.items(), &billet.piece);
        let stages = stage::stages(check, (items, sections), (billet, scale_loss), shop, tools);
        gripper::one_body(check, raw);
        return stages;
    }
    Vec::new()
}
