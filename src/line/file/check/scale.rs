//! The `[scale]` table.

use super::billet::{Billet, Shop};
use super::context::Check;
use crate::heater::lining::open_radiation;
use crate::judge::Datum;
use crate::line::file::tables::RawFile;
use crate::line::plan::{Heater, ScaleLayer, Section, StartField};
use crate::surface::{FilmTable, Geometry};
use crate::text::Given;

/// The layer of scale, where the file has one.
pub(crate) fn scale(
    check: &mut Check,
    file: &RawFile,
    billet: Option<&Billet>,
    heater: Option<&Heater>,
) -> Option<ScaleLayer> {
    let at = file.scale.as_ref()?;
    let (place, raw) = (at.span(), at.get_ref());
    refuse_fixed(check, file);
    let base = "scale";
    let at_exit_um = match heater {
        Some(Heater::Measured(_)) => {
            let hint = "at_exit_um = thickness at heater exit, 0 for clean metal";
            Some(check.required(base, &raw.at_exit_um, place, hint))
        }
        _ => check.number(base, &raw.at_exit_um),
    };
    if let Some(billet) = billet {
        warn_metal(check, billet);
    }
    Some(ScaleLayer {
        at_exit_m: at_exit_um.map(|um| um * 1e-6),
        conductivity_w_mk: check.or_default(base, &raw.w_mk),
        growth: check.or_default(base, &raw.growth),
        left_by_first_blow: check.or_default(base, &raw.left_by_first_blow),
        left_by_descaling: check.or_default(base, &raw.left_by_descaling),
    })
}

/// Takes the surface of a measured exit from the outside of the scale, which is what a pyrometer sees, to the metal under
/// it: hotter by the heat that leaves the outside in still air, times the resistance of the layer.
pub(crate) fn metal_under(
    check: &mut Check,
    file: &RawFile,
    heater: &mut Heater,
    layer: &ScaleLayer,
    (billet, shop): (&Billet, &Shop),
) {
    let Some(raw) = file.heater.value().filter(|raw| raw.pyrometer_c.is_some()) else {
        return;
    };
    let (Heater::Measured(StartField::Parabolic { surface_c, core_c }), Some(thickness_m)) = (heater, layer.at_exit_m)
    else {
        return;
    };
    let Some(drop_k) = drop_over(thickness_m / layer.conductivity_w_mk, *surface_c, billet, shop) else {
        return;
    };
    let shown = *surface_c;
    *surface_c += drop_k;
    if raw.core_below_surface_k.is_some() {
        *core_c += drop_k;
    }
    let message = format!(
        "the pyrometer shows {shown:.0} degC on {:.0} um of scale: the metal under it has {:.0} degC",
        thickness_m * 1e6,
        *surface_c
    );
    let metal_c = *surface_c;
    check
        .warn("pyrometer", message)
        .tell("shown", Datum::Celsius(shown))
        .tell("metal", Datum::Celsius(metal_c));
}

/// Difference over a layer (m²K/W) whose outside is at a temperature, K.
fn drop_over(layer_m2k_w: f64, outside_c: f64, billet: &Billet, shop: &Shop) -> Option<f64> {
    let air = &shop.air;
    let diameter_m = match billet.piece.section {
        Section::Round { radius_m } => 2.0 * radius_m,
        Section::Square { side_m } => side_m,
        Section::Rectangle { width_m, height_m } => width_m.max(height_m),
        Section::Plate { thickness_m } => thickness_m,
    };
    let film = match air.film_w_m2k {
        Some(film) => film,
        None => {
            let geometry = Geometry::HorizontalCylinder { diameter_m };
            let range_c = (outside_c - 1.0, outside_c + 1.0);
            FilmTable::in_air(geometry, range_c, air.ambient_c, air.air_speed_m_s)
                .ok()?
                .at(outside_c)
                .0
        }
    };
    let emissivity = air.emissivity.unwrap_or_else(|| billet.metal.emissivity.at(outside_c));
    let radiation = open_radiation(emissivity, outside_c, air.surroundings_c) * air.view_factor;
    Some((radiation + film * (outside_c - air.ambient_c)) * layer_m2k_w)
}

/// Share of the mass that turns into scale and comes off with the first new shape.
pub(crate) fn loss(check: &mut Check, file: &RawFile) -> f64 {
    let shaped = file.stage.items().iter().any(|stage| stage.get_ref().shape.is_some());
    let billet = file.billet.value();
    match billet.map(|billet| &billet.scale_loss_percent) {
        Some(given) if shaped => 0.01 * check.or_default("billet", given),
        given => {
            if let Some(span) = given.and_then(Given::span) {
                let hint = "mass is taken off with the first new shape";
                check.not_here("scale_loss_percent", span, "where no stage has a shape", hint);
            }
            0.0
        }
    }
}

/// Scale of a fixed thickness in a `die` would be counted twice.
fn refuse_fixed(check: &mut Check, file: &RawFile) {
    let of_stages = file
        .stage
        .items()
        .iter()
        .filter_map(|stage| stage.get_ref().die.value());
    for die in file.die.value().into_iter().chain(of_stages) {
        if let Some(given) = die.scale_um.as_ref() {
            check.not_here(
                "scale_um",
                given.span(),
                "beside the table [scale], which follows the scale itself",
                "take one of them out",
            );
        }
    }
}

/// The kinetics are those of iron and low-alloy steel.
fn warn_metal(check: &mut Check, billet: &Billet) {
    let scales = billet.metal.composition.as_ref().is_some_and(|c| c.scales_like_iron());
    if !scales {
        let message = format!(
            "[scale] grows as on iron and low-alloy steel, which `{}` is not known to be",
            billet.metal.name
        );
        let metal = Datum::Name(billet.metal.name.clone());
        check.warn("scale-law", message).tell("metal", metal);
    }
}
