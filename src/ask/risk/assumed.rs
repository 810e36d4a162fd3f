//! The spread of the program's own values: what a line without stated uncertainties is judged with.

use crate::ask::distribution::{Distribution, Triangular, TruncatedNormal};
use crate::ask::model::Model;
use crate::ask::uncertainty::Scattered;
use crate::judge::Owner;
use crate::line::plan::Input;
use crate::surface::Situation;

/// A value that the file leaves to the program, with its spread.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// The input with its distribution: triangular, from the lowest to the highest usual value, highest at
    /// the value itself (JCGM 100:2008, 4.3.9).
    pub scattered: Scattered,
    /// Where the spread comes from.
    pub source: &'static str,
}

/// The numbers that the file leaves to the program and that are known no better than within a range. What
/// is zero because it is not there (no spray, no rebound) has no spread.
#[must_use]
pub fn assumed(model: &dyn Model) -> Vec<Assumed> {
    model.inputs().iter().filter_map(of_input).collect()
}

/// How many of the values of [`assumed`] count as known where nothing but `scattered` moves.
#[must_use]
pub fn left_known(model: &dyn Model, scattered: &[Scattered]) -> usize {
    let own = assumed(model).into_iter();
    own.filter(|a| !scattered.iter().any(|s| s.path == a.scattered.path))
        .count()
}

fn of_input(input: &Input) -> Option<Assumed> {
    if let (Owner::Measured, Some(sd)) = (input.owner, input.sd) {
        return measured(input, sd);
    }
    let steel = input.path == "billet.emissivity";
    if input.owner == Owner::Given || (input.follows && !steel) {
        return None;
    }
    let nominal = input.number()?;
    let (low, high, source) = range(&input.path, nominal)?;
    let triangular = Triangular::new(low.min(nominal), nominal, high.max(nominal)).ok()?;
    Some(Assumed {
        scattered: Scattered {
            path: input.path.clone(),
            nominal,
            distribution: Distribution::Triangular(triangular),
        },
        source,
    })
}

/// A number that was fitted to measurements, with their spread.
fn measured(input: &Input, sd: f64) -> Option<Assumed> {
    let nominal = input.number()?;
    let (low, high) = input
        .allowed
        .map_or((f64::NEG_INFINITY, f64::INFINITY), |a| (a.low, a.high));
    let ends = ((nominal - 4.0 * sd).max(low), (nominal + 4.0 * sd).min(high));
    let normal = TruncatedNormal::new(nominal, sd, ends.0, ends.1).ok()?;
    Some(Assumed {
        scattered: Scattered {
            path: input.path.clone(),
            nominal,
            distribution: Distribution::TruncatedNormal(normal),
        },
        source: "fitted to measurements of the line",
    })
}

/// Lowest and highest usual value of an input, whoever set it, with the source.
#[must_use]
pub fn usual_range(path: &str, nominal: f64) -> Option<(f64, f64, &'static str)> {
    range(path, nominal).map(|(low, high, source)| (low.min(nominal), high.max(nominal), source))
}

/// Lowest and highest usual value of an input that the program sets, with the source.
fn range(path: &str, nominal: f64) -> Option<(f64, f64, &'static str)> {
    let (table, key) = path.rsplit_once('.')?;
    let contact = |situation: Situation| {
        let of = situation.coefficient();
        Some((of.low, of.high, of.source))
    };
    let tool = table.rsplit('.').next().unwrap_or(table);
    match (tool, key) {
        (_, "resting_w_m2k" | "at_zero_w_m2k") | ("support", "w_m2k") => contact(Situation::Resting),
        (_, "pressed_w_m2k" | "knock_out_w_m2k") | ("grip", "w_m2k") => contact(Situation::Gripped),
        (_, "blow_w_m2k") => contact(Situation::Blow),
        (_, "flash_w_m2k") => contact(Situation::FlashLand),
        (_, "gap_w_m2k") => contact(Situation::Gap),
        _ => usual(tool, key, nominal),
    }
}

/// The same for what is no contact coefficient.
fn usual(tool: &str, key: &str, nominal: f64) -> Option<(f64, f64, &'static str)> {
    Some(match (tool, key) {
        ("billet", "emissivity") => (
            nominal - 0.05,
            (nominal + 0.05).min(0.98),
            "total emissivity of scaled steel at forging heat, 0.8 to 0.9 (from memory)",
        ),
        (_, "plateau_w_m2k") => (
            7500.0,
            12_000.0,
            "published 7500 to 12000 W/m2K: Semiatin et al. 1987, Burte et al. 1990 (from memory)",
        ),
        ("die", "bulk_c") => (
            150.0,
            300.0,
            "dies cold in the morning and hot at noon, common practice",
        ),
        ("support", "bulk_c") => (
            20.0,
            250.0,
            "a rail cold or warm from the parts before, common practice",
        ),
        ("grip", "jaw_c") => (60.0, 250.0, "jaws after a break and in quick work, common practice"),
        ("grip", "share") => (
            0.15,
            0.5,
            "V jaws touch a sixth to a half of the side face, common practice",
        ),
        ("shop", "ambient_c") => (5.0, 40.0, "a forge in winter and in summer, common practice"),
        ("shop", "air_speed_m_s") => (0.0, 0.5, "draught in a hall, common practice"),
        ("shop", "tool_film_w_m2k") => (5.0, 20.0, "free convection at a warm wall and a draught (from memory)"),
        (_, "interval_s") => (0.6, 1.2, "rhythm of a power hammer, common practice"),
        (_, "lying_before_s" | "lying_after_s") => (0.3, 1.0, "rest in the die, common practice"),
        (_, "contact_ms") if nominal <= 10.0 => (1.0, 10.0, "hammer blow, common practice"),
        (_, "contact_ms") => (30.0, 80.0, "stroke of a mechanical press, common practice"),
        (_, "heat_share") => (0.85, 0.95, "Taylor and Quinney 1934 and later (from memory)"),
        (_, "fill") => (0.3, 0.6, "forgings tipped in at random, common practice"),
        (_, "slope_deg") => (30.0, 40.0, "angle of repose of rough pieces, common practice"),
        (_, "blow_off_w_m2k") => (50.0, 200.0, "air blast on a die (from memory)"),
        (_, "water_c" | "spray_water_c") => (5.0, 30.0, "works water in winter and in summer, common practice"),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ask::line_model::LineModel;
    use crate::line::file::Document;
    use std::path::Path;

    /// The usual range of an input holds its own value, too, where that is an unusual one.
    #[test]
    fn the_usual_range_holds_the_value() {
        let ends = |nominal: f64| usual_range("die.bulk_c", nominal).map(|(low, high, _)| (low, high));
        assert_eq!(ends(200.0), Some((150.0, 300.0)));
        assert_eq!(ends(400.0), Some((150.0, 400.0)));
        assert_eq!(ends(100.0), Some((100.0, 300.0)));
        assert!(usual_range("billet.length_mm", 100.0).is_none());
    }

    #[test]
    fn what_the_program_sets_has_a_spread_with_a_source() {
        let line = "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n\
            [heater]\nkind = \"measured\"\ntemperature_c = 1220\n[die]\nbulk_c = 180\n\
            [[stage]]\nkind = \"carry\"\nname = \"carry\"\nseconds = 3\n\
            [[stage]]\nkind = \"forge\"\nname = \"press\"\nshape = [{ zone = \"body\", outer_mm = 84, height_mm = 28.3 }]\ndie = { resting_w_m2k = 900 }\n";
        let model = LineModel::new(Document::parse(line, Path::new("x.toml")).unwrap());
        let found = assumed(&model);
        let of = |path: &str| found.iter().find(|a| a.scattered.path == path);
        let blow = of("die.blow_w_m2k").unwrap();
        let (low, high) = Situation::Blow.published_range();
        assert_eq!(blow.scattered.distribution.quantile(1e-12).round(), low);
        assert_eq!(blow.scattered.distribution.quantile(1.0 - 1e-12).round(), high);
        assert!(of("billet.emissivity").is_some());
        // What the file gives is the file's, and what is not there has no spread.
        assert!(of("die.bulk_c").is_none() && of("stage.press.die.resting_w_m2k").is_none());
        assert!(of("stage.press.rebound_s").is_none());
        assert!(found.iter().all(|a| !a.source.is_empty()));
        for a in &found {
            let allowed = model.input(&a.scattered.path).unwrap().allowed.unwrap();
            a.scattered
                .distribution
                .check_range(&a.scattered.path, allowed.low, allowed.high)
                .unwrap();
        }
    }
}
