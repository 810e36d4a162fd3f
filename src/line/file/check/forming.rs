//! The heat of forming and of friction.

use super::context::Check;
use super::part::Part;
use crate::judge::Datum;
use crate::line::file::tables::RawStage;
use crate::line::plan::{DeformationHeat, Dies, Friction, Shape};
use crate::text::ProblemKind;

/// Where the heat of forming comes from; `(blows, contact)` spread the strain over time.
pub(super) fn heat(
    check: &mut Check,
    base: &str,
    raw: &RawStage,
    part: &Part,
    new: Option<&Shape>,
    (blows, contact_s): (u32, f64),
) -> DeformationHeat {
    let mut clash = check.exclusive(&raw.strain, &raw.blow_energy_kj);
    clash |= check.exclusive(&raw.flow_stress_mpa, &raw.blow_energy_kj);
    clash |= check.exclusive(&raw.strain_rate_1_s, &raw.ram_speed_m_s);
    if clash {
        return DeformationHeat::None;
    }
    let energy_kj = check.number(base, &raw.blow_energy_kj);
    if let Some(energy_kj) = energy_kj {
        return DeformationHeat::BlowEnergy {
            energy_j: energy_kj * 1e3,
            efficiency: check.or_default(base, &raw.blow_efficiency),
            heat_share: check.or_default(base, &raw.heat_share),
        };
    }
    if let Some(stray) = raw.blow_efficiency.as_ref() {
        check.not_here("blow_efficiency", stray.span(), "without blow_energy_kj", "");
    }
    let from_heights = from_heights(part.shape.as_ref(), new);
    let strain = check.or_follow(base, &raw.strain, from_heights.mean);
    // A given strain keeps the pattern of the heights, scaled to the mean that was asked for.
    let scale = if from_heights.mean > 0.0 {
        strain / from_heights.mean
    } else {
        1.0
    };
    let ring_strain: Vec<f64> = from_heights.rings.iter().map(|s| s * scale).collect();
    if strain == 0.0 {
        for given in [&raw.strain_rate_1_s, &raw.ram_speed_m_s, &raw.flow_stress_mpa] {
            if let (Some(span), true) = (given.span(), raw.strain.is_none()) {
                check.not_here(
                    given.key.name,
                    span,
                    "where nothing is strained",
                    "give shape or strain",
                );
            }
        }
        return DeformationHeat::None;
    }
    let speed = check.number(base, &raw.ram_speed_m_s);
    let rate = match (speed, part.shape.as_ref(), new) {
        (Some(speed), Some(before), Some(after)) => {
            2.0 * speed / (before.height_towards_m(after) + after.mean_height_m())
        }
        (Some(_), ..) => {
            if let Some(given) = raw.ram_speed_m_s.as_ref() {
                let kind = ProblemKind::Needs {
                    what: "ram_speed_m_s".to_owned(),
                    needs: "a shape, for the height it acts on; give strain_rate_1_s without one",
                };
                check.problem(kind, given.span());
            }
            f64::NAN
        }
        _ => strain / (contact_s * f64::from(blows)),
    };
    DeformationHeat::FlowStress {
        strain,
        ring_strain,
        strain_rate_1_s: check.or_follow(base, &raw.strain_rate_1_s, rate),
        flow_stress_pa: check.number(base, &raw.flow_stress_mpa).map(|mpa| mpa * 1e6),
        heat_share: check.or_default(base, &raw.heat_share),
    }
}

/// Friction where a new shape makes the part slide; the flow stress is that of the heat of forming.
pub(super) fn friction(
    dies: &Dies,
    part: &Part,
    new: Option<&Shape>,
    heat: &DeformationHeat,
    contact_s: f64,
) -> Option<Friction> {
    let factor = dies.friction_factor;
    // Sliding is known for round parts; the sections of a long part take no friction heat.
    new.filter(|shape| factor > 0.0 && shape.rings.iter().all(|ring| ring.strip.is_none()))?;
    let from_heights = from_heights(part.shape.as_ref(), new);
    Some(match heat {
        DeformationHeat::FlowStress {
            strain,
            ring_strain,
            strain_rate_1_s,
            flow_stress_pa,
            ..
        } => Friction {
            factor,
            strain: *strain,
            ring_strain: ring_strain.clone(),
            strain_rate_1_s: *strain_rate_1_s,
            flow_stress_pa: *flow_stress_pa,
        },
        _ => Friction {
            factor,
            strain: from_heights.mean,
            strain_rate_1_s: from_heights.mean / contact_s,
            ring_strain: from_heights.rings,
            flow_stress_pa: None,
        },
    })
}

/// Refuses friction that a stage asks for and cannot have; warns where that of all dies is left out of a shape.
pub(super) fn no_friction(check: &mut Check, base: &str, raw: &RawStage, (factor, shaped): (f64, bool), place: &str) {
    let own = raw.die.value().and_then(|die| die.friction_factor.as_ref());
    match own {
        Some(given) if factor > 0.0 => {
            check.not_here("friction_factor", given.span(), place, "take it out of this stage");
        }
        None if factor > 0.0 && shaped => {
            let message = format!("{base}: friction_factor = {factor} has no meaning {place}; it is left out");
            check
                .warn("friction-left-out", message)
                .tell("path", Datum::Name(base.to_owned()))
                .tell("factor", Datum::Plain(factor));
        }
        _ => {}
    }
}

struct Strains {
    mean: f64,
    rings: Vec<f64>,
}

/// Strain of each ring, |ln(mean height before / its height)|, and their volume mean. For one ring
/// upset into one ring this is the homogeneous strain ln(h0/h1).
fn from_heights(before: Option<&Shape>, after: Option<&Shape>) -> Strains {
    let (Some(before), Some(after)) = (before, after) else {
        return Strains {
            mean: 0.0,
            rings: Vec::new(),
        };
    };
    let rings: Vec<f64> = after
        .rings
        .iter()
        .map(|ring| {
            let height = match ring.strip {
                Some(strip) => before.section_height_m(strip.section),
                None => before.mean_height_m(),
            };
            (height / ring.height_m()).ln().abs()
        })
        .collect();
    let weighted = after.rings.iter().zip(&rings);
    let sum: f64 = weighted.map(|(ring, strain)| ring.volume_m3() * strain).sum();
    Strains {
        mean: sum / after.volume_m3(),
        rings,
    }
}
