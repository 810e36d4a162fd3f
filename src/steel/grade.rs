//! One metal with all its data.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::composition::Composition;
use super::curve::{Curve, Law, Provenance};
use super::flow_stress::FlowStress;
use super::limits::{ProcessLimits, Sourced};
use super::magnetic::Magnetic;
use super::thermal::ThermalTable;

/// Lower end of every thermal table, degC (a cold yard in winter, with room below).
const TABLE_LOW_C: f64 = -60.0;

/// Upper end of every thermal table, degC (above every liquidus of the library).
const TABLE_HIGH_C: f64 = 1600.0;

/// A metal: curves, limits, flow stress and where each of them comes from.
///
/// ```
/// use billet_thermal::steel::Steel;
/// let text = "conductivity_w_mk = 30\nspecific_heat_j_kgk = 650\ndensity_kg_m3 = 7850\n";
/// let steel = Steel::from_toml_str(text, "inline")?;
/// let table = steel.thermal();
/// assert!((table.heating.enthalpy(1020.0) - 650e3).abs() < 1e-6);
/// # Ok::<(), billet_thermal::steel::SteelError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Steel {
    /// Name of the grade.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// Kind of metal.
    pub family: String,
    /// Remarks; empty if none.
    pub note: String,
    /// Analysis in wt-%, where known.
    pub composition: Option<Composition>,
    /// Thermal conductivity, W/mK.
    pub conductivity: Curve,
    /// Specific heat on heating, J/kgK.
    pub specific_heat: Curve,
    /// Specific heat on cooling after full transformation, J/kgK, where it differs.
    pub specific_heat_cooling: Option<Curve>,
    /// Temperature above which the two specific heats agree, degC; infinite without a second one.
    pub austenite_c: f64,
    /// Density at 20 degC, kg/m³.
    pub density_kg_m3: Sourced<f64>,
    /// Total emissivity of the surface as it is in forging.
    pub emissivity: Curve,
    /// Electrical resistivity, Ωm.
    pub resistivity_ohm_m: Option<Curve>,
    /// Magnetic law; `None` for a metal that is not ferromagnetic.
    pub magnetic: Option<Magnetic>,
    /// Solidus estimate, degC.
    pub solidus_c: Option<Sourced<f64>>,
    /// Tempering temperature of a die steel, degC; a face that stays hotter softens.
    pub tempering_c: Option<Sourced<f64>>,
    /// Process temperatures.
    pub limits: ProcessLimits,
    /// Hot flow stress.
    pub flow_stress: Option<FlowStress>,
    /// File or table it was read from.
    pub origin: String,
    pub(super) table: TableCache,
}

/// The thermal table once it has been made, with what it was made from: a steel that was changed since
/// gets a new one. It follows from the rest, so it does not count when steels are compared.
#[derive(Debug, Default)]
pub(super) struct TableCache(Mutex<Option<Made>>);

#[derive(Debug, Clone)]
struct Made {
    from: Ingredients,
    table: Arc<ThermalTable>,
}

/// All that a thermal table depends on.
#[derive(Debug, Clone, PartialEq)]
struct Ingredients {
    conductivity: Curve,
    specific_heat: Curve,
    specific_heat_cooling: Option<Curve>,
    austenite_c: f64,
    density: f64,
}

impl TableCache {
    fn held(&self) -> MutexGuard<'_, Option<Made>> {
        // A panic elsewhere cannot leave a table half made, so a poisoned lock holds good data.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Clone for TableCache {
    fn clone(&self) -> TableCache {
        TableCache(Mutex::new(self.held().clone()))
    }
}

impl PartialEq for TableCache {
    fn eq(&self, _: &TableCache) -> bool {
        true
    }
}

/// One property of a steel for reports.
#[derive(Debug, Clone, PartialEq)]
pub struct PropertyInfo {
    /// Name for people.
    pub name: &'static str,
    /// SI unit.
    pub unit: &'static str,
    /// Lower end of the range, degC.
    pub low_c: f64,
    /// Upper end of the range, degC.
    pub high_c: f64,
    /// Where the values come from.
    pub source: String,
    /// Who owns them.
    pub provenance: Provenance,
}

impl Ingredients {
    fn of(steel: &Steel) -> Ingredients {
        Ingredients {
            conductivity: steel.conductivity.clone(),
            specific_heat: steel.specific_heat.clone(),
            specific_heat_cooling: steel.specific_heat_cooling.clone(),
            austenite_c: steel.austenite_c,
            density: steel.density_kg_m3.value,
        }
    }

    fn are_those_of(&self, steel: &Steel) -> bool {
        self.conductivity == steel.conductivity
            && self.specific_heat == steel.specific_heat
            && self.specific_heat_cooling == steel.specific_heat_cooling
            && self.austenite_c == steel.austenite_c
            && self.density == steel.density_kg_m3.value
    }
}

impl Steel {
    /// Enthalpy and conduction potential tables, made once for the properties as they are and shared.
    ///
    /// The range is −60 to 1600 degC, wider where the steel's own tables are; constant properties are
    /// exact. On cooling the transformation peak lies lower with the same area, so both branches
    /// agree below and above it.
    pub fn thermal(&self) -> Arc<ThermalTable> {
        let mut held = self.table.held();
        if let Some(made) = held.as_ref().filter(|made| made.from.are_those_of(self)) {
            return Arc::clone(&made.table);
        }
        let table = Arc::new(self.make_table());
        *held = Some(Made {
            from: Ingredients::of(self),
            table: Arc::clone(&table),
        });
        table
    }

    fn make_table(&self) -> ThermalTable {
        let density = self.density_kg_m3.value;
        if let (Some(k), Some(c), None) = (
            self.conductivity.constant(),
            self.specific_heat.constant(),
            &self.specific_heat_cooling,
        ) {
            return ThermalTable::constant(k, c, density);
        }
        let mut range = (TABLE_LOW_C, TABLE_HIGH_C);
        let curves = [&self.conductivity, &self.specific_heat];
        for curve in curves
            .into_iter()
            .chain(self.specific_heat_cooling.as_ref())
            .filter(|c| matches!(c.law, Law::Table(_)))
        {
            range.0 = range.0.min(curve.range_c.0);
            range.1 = range.1.max(curve.range_c.1);
        }
        let cooling = self
            .specific_heat_cooling
            .as_ref()
            .map(|curve| move |t: f64| curve.at(t));
        ThermalTable::from_functions(
            density,
            range,
            &|t| self.conductivity.at(t),
            &|t| self.specific_heat.at(t),
            cooling.as_ref().map(|c| c as &dyn Fn(f64) -> f64),
            self.austenite_c,
        )
    }

    /// Surface of a part at a temperature (degC) over its surface at 20 degC, for the same mass: the square
    /// of 1 + [`Composition::linear_expansion`]. One without an analysis.
    pub fn surface_growth(&self, temp_c: f64) -> f64 {
        let longer = self
            .composition
            .as_ref()
            .map_or(0.0, |analysis| analysis.linear_expansion(temp_c));
        (1.0 + longer) * (1.0 + longer)
    }

    /// Every property with its range and source, for reports.
    pub fn properties(&self) -> Vec<PropertyInfo> {
        let curve = |name, c: &Curve| PropertyInfo {
            name,
            unit: c.unit(),
            low_c: c.range_c.0,
            high_c: c.range_c.1,
            source: c.source.clone(),
            provenance: c.provenance,
        };
        let scalar = |name, unit, s: &Sourced<f64>| PropertyInfo {
            name,
            unit,
            low_c: 20.0,
            high_c: 20.0,
            source: s.source.clone(),
            provenance: s.provenance,
        };
        let mut all = vec![
            curve("thermal conductivity", &self.conductivity),
            curve("specific heat on heating", &self.specific_heat),
        ];
        if let Some(c) = &self.specific_heat_cooling {
            all.push(curve("specific heat on cooling", c));
        }
        all.push(scalar("density", "kg/m³", &self.density_kg_m3));
        all.push(curve("emissivity", &self.emissivity));
        if let Some(c) = &self.resistivity_ohm_m {
            all.push(curve("electrical resistivity", c));
        }
        if let Some(m) = &self.magnetic {
            all.push(PropertyInfo {
                name: "relative permeability",
                unit: "1",
                low_c: 0.0,
                high_c: m.curie_c,
                source: m.source.clone(),
                provenance: m.provenance,
            });
        }
        if let Some(f) = &self.flow_stress {
            all.push(PropertyInfo {
                name: "flow stress",
                unit: "Pa",
                low_c: f.range.temp_c.0,
                high_c: f.range.temp_c.1,
                source: f.source.clone(),
                provenance: f.provenance,
            });
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The enthalpy of a metal of constant specific heat is that times the rise above 20 degC.
    #[test]
    fn a_changed_steel_gets_a_new_table() {
        let text = "conductivity_w_mk = 30\nspecific_heat_j_kgk = 650\ndensity_kg_m3 = 7850\n";
        let steel = Steel::from_toml_str(text, "inline").unwrap();
        let first = steel.thermal();
        assert!(Arc::ptr_eq(&first, &steel.thermal()) && Arc::ptr_eq(&first, &steel.clone().thermal()));
        let mut changed = steel.clone();
        changed.specific_heat.law = Law::Constant(500.0);
        changed.conductivity.law = Law::Constant(10.0);
        changed.density_kg_m3.value = 7000.0;
        let table = changed.thermal();
        assert!((table.heating.enthalpy(1020.0) - 500e3).abs() < 1e-6);
        assert!((table.conductivity(500.0) - 10.0).abs() < 1e-9 && table.density == 7000.0);
        assert!(Arc::ptr_eq(&first, &steel.thermal()));
    }
}
