//! A steel exactly as written in TOML, before any check.

use schemars::JsonSchema;
use serde::de::{self, MapAccess, Visitor, value::MapAccessDeserializer};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use toml::Spanned;

use super::composition::Composition;

/// A steel file, or a steel given inline. Only conductivity, specific heat and density are needed.
#[derive(Debug, Clone, Default, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SteelInput {
    /// Name of the grade.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Other names.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub aliases: Vec<String>,
    /// Kind of metal, e.g. "quenched and tempered".
    #[serde(skip_serializing_if = "Option::is_none")]
    pub family: Option<String>,
    /// Remarks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Analysis in wt-%.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Composition>")]
    pub composition: Option<Spanned<Composition>>,
    /// Thermal conductivity in W/mK.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PropertyInput>")]
    pub conductivity_w_mk: Option<Spanned<PropertyInput>>,
    /// Specific heat on heating in J/kgK.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PropertyInput>")]
    pub specific_heat_j_kgk: Option<Spanned<PropertyInput>>,
    /// Specific heat on cooling in J/kgK, where it differs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PropertyInput>")]
    pub specific_heat_cooling_j_kgk: Option<Spanned<PropertyInput>>,
    /// How much lower the transformation peak lies on cooling, in K (equal area).
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub cooling_peak_shift_k: Option<Spanned<ScalarInput>>,
    /// Density at 20 degC in kg/m³.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub density_kg_m3: Option<Spanned<ScalarInput>>,
    /// Emissivity; 0.85 (scaled steel) if not given.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PropertyInput>")]
    pub emissivity: Option<Spanned<PropertyInput>>,
    /// Electrical resistivity in µΩm.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<PropertyInput>")]
    pub resistivity_uohm_m: Option<Spanned<PropertyInput>>,
    /// Magnetic saturation law.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MagneticInput>")]
    pub magnetic: Option<Spanned<MagneticInput>>,
    /// Temperature above which nothing of the transformation is left, degC; only with
    /// specific_heat_cooling_j_kgk.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub austenite_c: Option<Spanned<ScalarInput>>,
    /// Solidus estimate in degC.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub solidus_c: Option<Spanned<ScalarInput>>,
    /// Tempering temperature of a die steel in degC.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub tempering_c: Option<Spanned<ScalarInput>>,
    /// Process temperatures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limits: Option<LimitsInput>,
    /// Flow stress law.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<FlowStressInput>")]
    pub flow_stress: Option<Spanned<FlowStressInput>>,
}

/// Process temperatures in degC, each a number or `{ value = ..., source = "..." }`.
#[derive(Debug, Clone, Default, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LimitsInput {
    /// No point may ever be hotter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub never_exceed_c: Option<Spanned<ScalarInput>>,
    /// Highest at heater exit.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub start_max_c: Option<Spanned<ScalarInput>>,
    /// Lowest at a blow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub forging_min_c: Option<Spanned<ScalarInput>>,
    /// Lowest at trimming.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub trim_min_c: Option<Spanned<ScalarInput>>,
    /// Highest at trimming.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ScalarInput>")]
    pub trim_max_c: Option<Spanned<ScalarInput>>,
}

/// Magnetic law µ_r = 1 + J_s/(µ0 (H + a)) [1 − (θ/θ_C)²].
#[derive(Debug, Clone, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MagneticInput {
    /// Saturation polarisation J_s in T.
    pub saturation_t: f64,
    /// Knee field a in A/m.
    pub knee_a_m: f64,
    /// Curie temperature in degC.
    pub curie_c: f64,
    /// Source.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// A flow stress law; which keys count depends on `law`.
#[derive(Debug, Clone, Default, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct FlowStressInput {
    /// constant, shida, misaka, medina, hensel-spittel or hyperbolic-sine.
    #[schemars(with = "String")]
    pub law: Option<Spanned<String>>,
    /// Stress in MPa (constant).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stress_mpa: Option<f64>,
    /// Carbon or carbon equivalent in wt-% (shida, misaka, medina).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carbon_pct: Option<f64>,
    /// A in MPa (hensel-spittel).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub a_mpa: Option<f64>,
    /// Coefficient m1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m1: Option<f64>,
    /// Coefficient m2.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m2: Option<f64>,
    /// Coefficient m3.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m3: Option<f64>,
    /// Coefficient m4.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m4: Option<f64>,
    /// Coefficient m5.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m5: Option<f64>,
    /// Coefficient m6.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m6: Option<f64>,
    /// Coefficient m7.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m7: Option<f64>,
    /// Coefficient m8.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m8: Option<f64>,
    /// Coefficient m9.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub m9: Option<f64>,
    /// Natural logarithm of A in 1/s (hyperbolic-sine, medina).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ln_a: Option<f64>,
    /// α in 1/MPa (hyperbolic-sine).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub alpha_per_mpa: Option<f64>,
    /// Stress exponent (hyperbolic-sine).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub n: Option<f64>,
    /// Activation energy in kJ/mol (hyperbolic-sine, medina).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub activation_kj_mol: Option<f64>,
    /// Temperature range in degC.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub temp_range_c: Option<[f64; 2]>,
    /// True strain range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub strain_range: Option<[f64; 2]>,
    /// Strain rate range in 1/s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_range_per_s: Option<[f64; 2]>,
    /// Source.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

/// A property against temperature: a plain number, or a table with exactly one of `constant`,
/// `temp_c` and `values`, or `formula`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PropertyInput {
    /// The value at every temperature.
    pub constant: Option<f64>,
    /// Temperatures of a table, degC, ascending.
    pub temp_c: Option<Spanned<Vec<f64>>>,
    /// Values of a table.
    pub values: Option<Spanned<Vec<f64>>>,
    /// Name of a formula.
    pub formula: Option<Spanned<String>>,
    /// Value at 20 degC of a formula that is then faded back to itself at 800 degC.
    pub value_at_20_c: Option<f64>,
    /// Shift of the formula's transformation peak, K.
    pub peak_shift_k: Option<f64>,
    /// Range in which the source supports the values, degC.
    pub range_c: Option<Spanned<[f64; 2]>>,
    /// Source.
    pub source: Option<String>,
}

/// A number: plain, or `{ value = ..., source = "..." }`.
#[derive(Debug, Clone, PartialEq)]
pub struct ScalarInput {
    /// The value.
    pub value: f64,
    /// Source.
    pub source: Option<String>,
}

/// The table forms, which serde derives.
mod table {
    use super::*;

    #[derive(Deserialize, Serialize, JsonSchema, Default)]
    #[serde(deny_unknown_fields, default)]
    pub struct PropertyTable {
        #[serde(skip_serializing_if = "Option::is_none")]
        pub constant: Option<f64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<Vec<f64>>")]
        pub temp_c: Option<Spanned<Vec<f64>>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<Vec<f64>>")]
        pub values: Option<Spanned<Vec<f64>>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<String>")]
        pub formula: Option<Spanned<String>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        pub value_at_20_c: Option<f64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        pub peak_shift_k: Option<f64>,
        #[serde(skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<[f64; 2]>")]
        pub range_c: Option<Spanned<[f64; 2]>>,
        #[serde(skip_serializing_if = "Option::is_none")]
        pub source: Option<String>,
    }

    #[derive(Deserialize, Serialize, JsonSchema)]
    #[serde(deny_unknown_fields)]
    pub struct ScalarTable {
        pub value: f64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub source: Option<String>,
    }

    /// Only for the schema.
    #[derive(JsonSchema)]
    #[serde(untagged)]
    #[allow(dead_code)]
    pub enum NumberOr<T> {
        Number(f64),
        Table(T),
    }
}

use table::{NumberOr, PropertyTable, ScalarTable};

impl From<PropertyTable> for PropertyInput {
    fn from(t: PropertyTable) -> Self {
        PropertyInput {
            constant: t.constant,
            temp_c: t.temp_c,
            values: t.values,
            formula: t.formula,
            value_at_20_c: t.value_at_20_c,
            peak_shift_k: t.peak_shift_k,
            range_c: t.range_c,
            source: t.source,
        }
    }
}

/// Reads a number or a table without losing positions, which serde's untagged enums would.
struct NumberOrTable<T>(std::marker::PhantomData<T>);

trait FromNumber: Sized {
    type Table: for<'de> Deserialize<'de>;
    fn number(value: f64) -> Self;
    fn table(table: Self::Table) -> Self;
}

impl FromNumber for PropertyInput {
    type Table = PropertyTable;
    fn number(value: f64) -> Self {
        PropertyInput {
            constant: Some(value),
            ..PropertyInput::default()
        }
    }
    fn table(table: PropertyTable) -> Self {
        table.into()
    }
}

impl FromNumber for ScalarInput {
    type Table = ScalarTable;
    fn number(value: f64) -> Self {
        ScalarInput { value, source: None }
    }
    fn table(table: ScalarTable) -> Self {
        ScalarInput {
            value: table.value,
            source: table.source,
        }
    }
}

impl<'de, T: FromNumber> Visitor<'de> for NumberOrTable<T> {
    type Value = T;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a number or a table")
    }

    fn visit_f64<E: de::Error>(self, v: f64) -> Result<T, E> {
        Ok(T::number(v))
    }

    fn visit_i64<E: de::Error>(self, v: i64) -> Result<T, E> {
        Ok(T::number(v as f64))
    }

    fn visit_u64<E: de::Error>(self, v: u64) -> Result<T, E> {
        Ok(T::number(v as f64))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<T, A::Error> {
        T::Table::deserialize(MapAccessDeserializer::new(map)).map(T::table)
    }
}

impl<'de> Deserialize<'de> for PropertyInput {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NumberOrTable(std::marker::PhantomData))
    }
}

impl<'de> Deserialize<'de> for ScalarInput {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NumberOrTable(std::marker::PhantomData))
    }
}

impl Serialize for PropertyInput {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let p = self.clone();
        match (p.constant, &p) {
            (Some(v), _) if p == PropertyInput::number(v) => serializer.serialize_f64(v),
            _ => PropertyTable {
                constant: p.constant,
                temp_c: p.temp_c,
                values: p.values,
                formula: p.formula,
                value_at_20_c: p.value_at_20_c,
                peak_shift_k: p.peak_shift_k,
                range_c: p.range_c,
                source: p.source,
            }
            .serialize(serializer),
        }
    }
}

impl Serialize for ScalarInput {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match &self.source {
            None => serializer.serialize_f64(self.value),
            Some(_) => ScalarTable {
                value: self.value,
                source: self.source.clone(),
            }
            .serialize(serializer),
        }
    }
}

impl JsonSchema for PropertyInput {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "PropertyInput".into()
    }
    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        NumberOr::<PropertyTable>::json_schema(generator)
    }
}

impl JsonSchema for ScalarInput {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "ScalarInput".into()
    }
    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        NumberOr::<ScalarTable>::json_schema(generator)
    }
}
