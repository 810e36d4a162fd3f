//! One metal with all its data.

use std::fmt;
use std::path::Path;
use std::sync::{Arc, OnceLock};

use super::composition::Composition;
use super::curve::{Curve, Law, Provenance};
use super::error::SteelError;
use super::flow_stress::FlowStress;
use super::limits::{ProcessLimits, Sourced};
use super::magnetic::Magnetic;
use super::read;
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

/// The thermal table once it has been made. It follows from the rest, so it does not count when
/// steels are compared or shown.
#[derive(Clone, Default)]
pub(super) struct TableCache(OnceLock<Arc<ThermalTable>>);

impl fmt::Debug for TableCache {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str("TableCache")
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

impl Steel {
    /// Reads a steel of the user's own: no sources needed, missing ones become "given".
    ///
    /// `origin` names the file or table in errors.
    pub fn from_toml_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        read::steel(text, origin, Provenance::Given)
    }

    /// Reads a steel by the rules of the library: a name, and a source for every value.
    pub fn from_library_str(text: &str, origin: &str) -> Result<Steel, SteelError> {
        read::steel(text, origin, Provenance::Library)
    }

    /// Reads a steel file of the user's own.
    pub fn from_file(path: &Path) -> Result<Steel, SteelError> {
        read::file(path)
    }

    /// Enthalpy and conduction potential tables, made once and shared.
    ///
    /// The range is −60 to 1600 degC, wider where the steel's own tables are; constant properties are
    /// exact. On cooling the transformation peak lies lower with the same area, so both branches
    /// agree below and above it.
    pub fn thermal(&self) -> Arc<ThermalTable> {
        Arc::clone(self.table.0.get_or_init(|| Arc::new(self.make_table())))
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
