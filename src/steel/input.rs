//! The tables of a steel file, each key declared once; the same tables may stand in a line file.

use toml::Spanned;
use toml::de::DeValue;

use super::composition::Composition;
use crate::text::{Form, Given, Key, Reader, Table, Value, any, number, read_into, table, text};

/// Temperatures a file may name, degC.
pub(super) const TEMPERATURES_C: (f64, f64) = (-273.15, 4000.0);

/// Content of an element, wt-%.
const PERCENT: (f64, f64) = (0.0, 100.0);

/// Exponents and factors in exponents of a flow stress law: published sets stay below 5 in amount (from memory).
const EXPONENT: (f64, f64) = (-20.0, 20.0);

/// A table that may also be written as one number.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct NumberOr<T>(pub T);

/// A table with the key that a plain number stands for.
pub(crate) trait Short: Table {
    /// That key.
    fn short(&mut self) -> &mut Given<f64>;
}

impl<T: Short> Value for NumberOr<T> {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<Self> {
        match value.get_ref() {
            DeValue::Table(entries) => {
                let table = reader.inside(|inner| read_into(entries, value.span(), inner));
                Some(NumberOr(table))
            }
            DeValue::Float(_) | DeValue::Integer(_) => {
                let mut table = T::blank();
                table.short().at = f64::read(value, key, reader).map(|number| Spanned::new(value.span(), number));
                Some(NumberOr(table))
            }
            _ => reader.or_wrong(None, value, "a number or a table"),
        }
    }

    fn form() -> Form {
        Form::OneOf(vec![Form::Number, T::form()])
    }
}

table! {
    /// A steel file, or a steel given inline. Only conductivity, specific heat and density are needed.
    pub(crate) struct SteelInput = "Steel";

    /// Name of the grade.
    name: String = text(200.0);
    /// Other names.
    aliases: Vec<Spanned<String>> = any();
    /// Kind of metal, e.g. "quenched and tempered".
    family: String = text(200.0);
    /// Remarks.
    note: String = text(10_000.0);
    /// Analysis in wt-%.
    composition: CompositionInput = any();
    /// Thermal conductivity in W/mK.
    conductivity_w_mk: NumberOr<PropertyInput> = any().required();
    /// Specific heat on heating in J/kgK.
    specific_heat_j_kgk: NumberOr<PropertyInput> = any().required();
    /// Specific heat on cooling in J/kgK, where it differs.
    specific_heat_cooling_j_kgk: NumberOr<PropertyInput> = any();
    /// How much lower the transformation peak lies on cooling, in K (equal area).
    cooling_peak_shift_k: NumberOr<ScalarInput> = any();
    /// Density at 20 degC in kg/m³.
    density_kg_m3: NumberOr<ScalarInput> = any().required();
    /// Emissivity; 0.85 (scaled steel) if not given.
    emissivity: NumberOr<PropertyInput> = any();
    /// Electrical resistivity in µΩm.
    resistivity_uohm_m: NumberOr<PropertyInput> = any();
    /// Magnetic saturation law.
    magnetic: MagneticInput = any();
    /// Temperature above which nothing of the transformation is left, degC; only with
    /// specific_heat_cooling_j_kgk.
    austenite_c: NumberOr<ScalarInput> = any();
    /// Solidus estimate in degC.
    solidus_c: NumberOr<ScalarInput> = any();
    /// Tempering temperature of a die steel in degC.
    tempering_c: NumberOr<ScalarInput> = any();
    /// Process temperatures.
    limits: LimitsInput = any();
    /// Flow stress law.
    flow_stress: FlowStressInput = any();
}

table! {
    /// Process temperatures in degC, each a number or `{ value = ..., source = "..." }`.
    pub(crate) struct LimitsInput = "SteelLimits";

    /// No point may ever be hotter.
    never_exceed_c: NumberOr<ScalarInput> = any();
    /// Highest at heater exit.
    start_max_c: NumberOr<ScalarInput> = any();
    /// Lowest at a blow.
    forging_min_c: NumberOr<ScalarInput> = any();
    /// Lowest at trimming.
    trim_min_c: NumberOr<ScalarInput> = any();
    /// Highest at trimming.
    trim_max_c: NumberOr<ScalarInput> = any();
}

table! {
    /// Magnetic law µ_r = 1 + J_s/(µ0 (H + a)) M_s(θ)/M_s(20 °C), the magnetisation falling as that of iron.
    pub(crate) struct MagneticInput = "Magnetic";

    /// Saturation polarisation J_s.
    saturation_t: f64 = number("T", (0.01, 3.0)).required();
    /// Knee field a.
    knee_a_m: f64 = number("A/m", (1.0, 1e6)).required();
    /// Curie temperature.
    curie_c: f64 = number("degC", (1.0, 1500.0)).required();
    /// Source.
    source: String = text(1000.0);
}

table! {
    /// A flow stress law; which keys count depends on `law`.
    pub(crate) struct FlowStressInput = "FlowStress";

    /// The law.
    law: String = any().required().words(&[
        "constant",
        "shida",
        "misaka",
        "medina",
        "hensel-spittel",
        "hyperbolic-sine",
    ]);
    /// Stress.
    stress_mpa: f64 = number("MPa", (1e-9, 1e5)).required().of(&["constant"]);
    /// Carbon or carbon equivalent in wt-%.
    carbon_pct: f64 = number("%", (0.0, 1.2)).required().of(&["shida", "misaka", "medina"]);
    /// Coefficient A.
    a_mpa: f64 = number("MPa", (1e-6, 1e9)).required().of(&["hensel-spittel"]);
    /// Coefficient m1.
    m1: f64 = number("1/degC", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m2.
    m2: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m3.
    m3: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m4.
    m4: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m5.
    m5: f64 = number("1/degC", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m6.
    m6: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m7.
    m7: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m8.
    m8: f64 = number("1/degC", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Coefficient m9.
    m9: f64 = number("", EXPONENT).or(0.0, "no such term").of(&["hensel-spittel"]);
    /// Natural logarithm of A in 1/s.
    ln_a: f64 = number("", (-100.0, 200.0)).required().of(&["hyperbolic-sine", "medina"]);
    /// α.
    alpha_per_mpa: f64 = number("1/MPa", (1e-5, 1.0)).required().of(&["hyperbolic-sine"]);
    /// Stress exponent.
    n: f64 = number("", (0.5, 50.0)).required().of(&["hyperbolic-sine"]);
    /// Activation energy.
    activation_kj_mol: f64 = number("kJ/mol", (1.0, 2000.0)).required().of(&["hyperbolic-sine", "medina"]);
    /// Temperature range, two numbers.
    temp_range_c: Vec<Spanned<f64>> = number("degC", TEMPERATURES_C).follows("that of the law");
    /// True strain range, two numbers.
    strain_range: Vec<Spanned<f64>> = number("", (0.0, 100.0)).follows("that of the law");
    /// Strain rate range, two numbers.
    rate_range_per_s: Vec<Spanned<f64>> = number("1/s", (0.0, 1e6)).follows("that of the law");
    /// Source.
    source: String = text(1000.0);
}

table! {
    /// A property against temperature: a plain number, or a table with exactly one of `constant`,
    /// `temp_c` and `values`, or `formula`.
    pub(crate) struct PropertyInput = "Property";

    /// The value at every temperature.
    constant: f64 = any();
    /// Temperatures of a table in degC, ascending.
    temp_c: Vec<Spanned<f64>> = number("degC", TEMPERATURES_C);
    /// Values of a table.
    values: Vec<Spanned<f64>> = any();
    /// Name of a formula.
    formula: String = any();
    /// Value at 20 degC of a formula that is then faded back to itself at 800 degC.
    value_at_20_c: f64 = any();
    /// Shift of the formula's transformation peak; it stays between 20 and 1200 degC.
    peak_shift_k: f64 = number("K", PEAK_SHIFT_K);
    /// Range in which the source supports the values, two numbers.
    range_c: Vec<Spanned<f64>> = number("degC", TEMPERATURES_C);
    /// Source.
    source: String = text(1000.0);
}

table! {
    /// A number: plain, or with its source.
    pub(crate) struct ScalarInput = "Scalar";

    /// The value.
    value: f64 = any().required();
    /// Source.
    source: String = text(1000.0);
}

table! {
    /// Composition in weight per cent; an element that is not given counts as zero.
    pub(crate) struct CompositionInput = "Composition";

    /// Carbon.
    c: f64 = number("%", PERCENT).called("C");
    /// Silicon.
    si: f64 = number("%", PERCENT).called("Si");
    /// Manganese.
    mn: f64 = number("%", PERCENT).called("Mn");
    /// Phosphorus.
    p: f64 = number("%", PERCENT).called("P");
    /// Sulphur.
    s: f64 = number("%", PERCENT).called("S");
    /// Chromium.
    cr: f64 = number("%", PERCENT).called("Cr");
    /// Molybdenum.
    mo: f64 = number("%", PERCENT).called("Mo");
    /// Nickel.
    ni: f64 = number("%", PERCENT).called("Ni");
    /// Vanadium.
    v: f64 = number("%", PERCENT).called("V");
    /// Niobium.
    nb: f64 = number("%", PERCENT).called("Nb");
    /// Titanium.
    ti: f64 = number("%", PERCENT).called("Ti");
    /// Aluminium.
    al: f64 = number("%", PERCENT).called("Al");
    /// Copper.
    cu: f64 = number("%", PERCENT).called("Cu");
    /// Nitrogen.
    n: f64 = number("%", PERCENT).called("N");
    /// Tungsten.
    w: f64 = number("%", PERCENT).called("W");
    /// Arsenic.
    arsenic: f64 = number("%", PERCENT).called("As");
    /// Magnesium.
    mg: f64 = number("%", PERCENT).called("Mg");
    /// Iron, where it is not the balance.
    fe: f64 = number("%", PERCENT).called("Fe");
    /// Where the analysis comes from.
    source: String = text(1000.0);
}

impl Short for PropertyInput {
    fn short(&mut self) -> &mut Given<f64> {
        &mut self.constant
    }
}

impl Short for ScalarInput {
    fn short(&mut self) -> &mut Given<f64> {
        &mut self.value
    }
}

impl CompositionInput {
    /// The composition as given.
    pub fn composition(&self) -> Composition {
        let of = |given: &Given<f64>| given.value().copied().unwrap_or(0.0);
        Composition {
            c: of(&self.c),
            si: of(&self.si),
            mn: of(&self.mn),
            p: of(&self.p),
            s: of(&self.s),
            cr: of(&self.cr),
            mo: of(&self.mo),
            ni: of(&self.ni),
            v: of(&self.v),
            nb: of(&self.nb),
            ti: of(&self.ti),
            al: of(&self.al),
            cu: of(&self.cu),
            n: of(&self.n),
            w: of(&self.w),
            r#as: of(&self.arsenic),
            mg: of(&self.mg),
            fe: of(&self.fe),
            source: self.source.value().cloned(),
        }
    }
}

/// Shifts of a transformation peak that keep it between 20 and 1200 degC, K.
pub(super) const PEAK_SHIFT_K: (f64, f64) = (-580.0, 300.0);
