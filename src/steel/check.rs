//! Checks of what a material file says, one problem per wrong value.

use std::ops::Range;

use toml::Spanned;

use super::curve::{Curve, Law, Provenance};
use super::formula::{Formula, Property};
use super::grade::{Steel, TableCache};
use super::input::{LimitsInput, MagneticInput, NumberOr, PropertyInput, ScalarInput, SteelInput, TEMPERATURES_C};
use super::limits::{ProcessLimits, Sourced};
use super::magnetic::Magnetic;
use crate::text::{Allowed, Found, Given, ProblemKind, Source};

/// Emissivity of a steel whose file gives none: scaled steel from 800 degC.
const DEFAULT_EMISSIVITY: f64 = 0.85;

/// Largest ratio of two values of one table; beyond it sums over the table lose their digits.
const LARGEST_RATIO: f64 = 1e4;

/// Range of a constant without a range of its own, degC: everything.
const EVERYWHERE_C: (f64, f64) = (-273.15, f64::INFINITY);

/// The ways to give a property.
const WAYS: &str = "a number, `constant`, `temp_c` with `values`, or `formula`";

/// A property of the file, where given.
pub(super) type PropertyAt = Given<NumberOr<PropertyInput>>;

/// A number of the file with its source, where given.
pub(super) type ScalarAt = Given<NumberOr<ScalarInput>>;

/// Collects problems while it turns input into a steel.
pub(super) struct Checker<'a> {
    pub(super) found: Found<'a>,
    at: Range<usize>,
    rules: Provenance,
}

impl<'a> Checker<'a> {
    pub(super) fn new(source: &'a Source<'a>, at: Range<usize>, rules: Provenance) -> Self {
        Checker {
            found: Found::new(source),
            at,
            rules,
        }
    }

    pub(super) fn rule(&mut self, code: &'static str, span: Range<usize>, detail: String) {
        self.found.problem(ProblemKind::rule(code, detail, ""), span);
    }

    /// A key that has no meaning with another choice.
    pub(super) fn not_with(&mut self, key: &str, span: Range<usize>, with: &str) {
        self.found.not_here(key, span, &format!("with {with}"), "");
    }

    pub(super) fn missing(&mut self, key: &str, at: Range<usize>) {
        self.found.missing(at, &format!("`{key}`"), "");
    }

    fn missing_here(&mut self, key: &str) {
        self.missing(key, self.at.clone());
    }

    fn strict(&self) -> bool {
        self.rules == Provenance::Library
    }

    pub(super) fn provenance(&self) -> Provenance {
        self.rules
    }

    /// The source text; the library must have one.
    pub(super) fn source(&mut self, key: &str, span: &Range<usize>, source: &Given<String>) -> String {
        if let Some(at) = source.as_ref() {
            self.found.plain(source.key.name, at.get_ref(), at.span());
        }
        match source.value() {
            Some(s) if !s.trim().is_empty() => s.clone(),
            _ => {
                if self.strict() {
                    let what = format!("the source of `{key}`");
                    let hint = "every value of a library grade needs one";
                    self.found.missing(span.clone(), &what, hint);
                }
                "given".to_string()
            }
        }
    }

    /// Whether a value is finite and within bounds; tells it if not.
    pub(super) fn within(
        &mut self,
        key: &'static str,
        span: &Range<usize>,
        value: f64,
        unit: &'static str,
        (low, high): (f64, f64),
    ) -> bool {
        let allowed = Allowed {
            low,
            high,
            low_open: false,
        };
        let fine = allowed.contains(value);
        if !fine {
            let unit = if unit == "1" { "" } else { unit };
            let kind = ProblemKind::OutOfRange {
                key,
                value,
                unit,
                allowed,
            };
            self.found.problem(kind, span.clone());
        }
        fine
    }

    pub(super) fn steel(&mut self, input: &SteelInput, origin: &str) -> Option<Steel> {
        let named = self.named(input);
        let composition = input.composition.as_ref().map(|at| {
            let c = at.get_ref();
            self.source("composition", &at.span(), &c.source);
            let elements = [
                &c.c, &c.si, &c.mn, &c.p, &c.s, &c.cr, &c.mo, &c.ni, &c.v, &c.nb, &c.ti, &c.al, &c.cu, &c.n, &c.w,
                &c.arsenic, &c.mg, &c.fe,
            ];
            elements.iter().for_each(|element| {
                self.found.number(element);
            });
            c.composition()
        });
        let conductivity = self.required(&input.conductivity_w_mk, Property::Conductivity);
        let specific_heat = self.required(&input.specific_heat_j_kgk, Property::SpecificHeat);
        if input.density_kg_m3.is_none() {
            self.missing_here("density_kg_m3");
        }
        let density = self.scalar(&input.density_kg_m3, "kg/m³", Property::Density.allowed());
        let emissivity = match input.emissivity.is_some() {
            true => self.property(&input.emissivity, Property::Emissivity),
            false => Some(Curve::new(
                Property::Emissivity,
                Law::Constant(DEFAULT_EMISSIVITY),
                EVERYWHERE_C,
                "default: scaled steel from 800 degC, 0.82 to 0.89 by the sources of scaled-steel-emissivity",
                Provenance::Default,
            )),
        };
        let resistivity_ohm_m = self.property(&input.resistivity_uohm_m, Property::Resistivity);
        let magnetic = input.magnetic.as_ref().and_then(|m| self.magnetic(m));
        let solidus_c = self.scalar(&input.solidus_c, "degC", TEMPERATURES_C);
        let tempering_c = self.scalar(&input.tempering_c, "degC", TEMPERATURES_C);
        let limits = match input.limits.value() {
            Some(limits) => self.limits(limits, &input.solidus_c),
            None => ProcessLimits::default(),
        };
        let flow_stress = input.flow_stress.as_ref().and_then(|f| self.flow_stress(f));
        let (conductivity, specific_heat) = (conductivity?, specific_heat?);
        let (specific_heat_cooling, austenite_c) = self.cooling(input, &specific_heat);
        Some(Steel {
            name: named.unwrap_or_else(|| "given steel".into()),
            aliases: input
                .aliases
                .items()
                .iter()
                .map(|alias| alias.get_ref().clone())
                .collect(),
            family: input.family.value().cloned().unwrap_or_else(|| "given".into()),
            note: input.note.value().cloned().unwrap_or_default(),
            composition,
            conductivity,
            specific_heat,
            specific_heat_cooling,
            austenite_c,
            density_kg_m3: density?,
            emissivity: emissivity?,
            resistivity_ohm_m,
            magnetic,
            solidus_c,
            tempering_c,
            limits,
            flow_stress,
            origin: origin.to_string(),
            table: TableCache::default(),
        })
    }

    /// The name; what the library must have besides is told where it is missing.
    fn named(&mut self, input: &SteelInput) -> Option<String> {
        for given in [&input.name, &input.family, &input.note] {
            if let Some(at) = given.as_ref() {
                self.found.plain(given.key.name, at.get_ref(), at.span());
            }
        }
        for alias in input.aliases.items() {
            self.found.plain("aliases", alias.get_ref(), alias.span());
        }
        let named = input.name.value().filter(|name| !name.trim().is_empty());
        if self.strict() {
            if named.is_none() {
                self.missing_here("name");
            }
            if input.family.is_none() {
                self.missing_here("family");
            }
            if input.emissivity.is_none() {
                self.missing_here("emissivity");
            }
        }
        named.cloned()
    }

    fn required(&mut self, input: &PropertyAt, property: Property) -> Option<Curve> {
        if input.is_none() {
            self.missing_here(input.key.name);
        }
        self.property(input, property)
    }

    /// A property, where given and right.
    pub(super) fn property(&mut self, input: &PropertyAt, property: Property) -> Option<Curve> {
        let (key, at) = (input.key.name, input.as_ref()?);
        let (span, p) = (at.span(), &at.get_ref().0);
        let source = self.source(key, &span, &p.source);
        let before = self.found.problems.len();
        let (law, own_range) = match (p.constant.value(), &p.temp_c.at, &p.values.at, &p.formula.at) {
            (Some(v), None, None, None) => {
                self.within(key, &span, *v, property.file_unit(), property.allowed());
                (Law::Constant(*v), EVERYWHERE_C)
            }
            (None, Some(temps), Some(values), None) => self.table(key, temps, values, property)?,
            (None, None, None, Some(name)) => self.formula(key, name, p, property)?,
            _ => {
                let detail = format!("`{key}` must be given in exactly one way: {WAYS}");
                self.rule("one-way", span, detail);
                return None;
            }
        };
        if p.formula.is_none() && (p.value_at_20_c.is_some() || p.peak_shift_k.is_some()) {
            self.not_with("value_at_20_c and peak_shift_k", span, "a constant or a table");
        }
        let range_c = match p.range_c.is_some() {
            true => self.range(&p.range_c)?,
            false => own_range,
        };
        (self.found.problems.len() == before).then(|| Curve::new(property, law, range_c, source, self.rules))
    }

    /// A pair of ascending numbers, where given and right.
    pub(super) fn range(&mut self, given: &Given<Vec<Spanned<f64>>>) -> Option<(f64, f64)> {
        let (key, span) = (given.key.name, given.span()?);
        let [low, high] = given.items() else {
            let detail = format!("`{key}` has {} numbers, not 2: lowest and highest", given.items().len());
            self.rule("two-numbers", span, detail);
            return None;
        };
        let (low, high) = (
            self.found.in_range(given, *low.get_ref(), low.span()),
            self.found.in_range(given, *high.get_ref(), high.span()),
        );
        if low >= high {
            let names = (format!("first of {key}"), "second".to_owned());
            self.wrong_order(names, (low, high), span);
            return None;
        }
        (low < high).then_some((low, high))
    }

    /// Two values in the wrong order.
    fn wrong_order(&mut self, (lower_key, upper_key): (String, String), (lower, upper): (f64, f64), at: Range<usize>) {
        let detail = format!("`{lower_key}` ({lower}) must be below `{upper_key}` ({upper})");
        self.rule("wrong-order", at, detail);
    }

    fn table(
        &mut self,
        key: &'static str,
        temps: &Spanned<Vec<Spanned<f64>>>,
        values: &Spanned<Vec<Spanned<f64>>>,
        property: Property,
    ) -> Option<(Law, (f64, f64))> {
        let plain = |list: &[Spanned<f64>]| list.iter().map(|x| *x.get_ref()).collect::<Vec<f64>>();
        let (t, v) = (plain(temps.get_ref()), plain(values.get_ref()));
        if t.len() != v.len() || t.len() < 2 {
            let (temps, count) = (t.len(), v.len());
            let detail =
                format!("`{key}` has {temps} temperatures and {count} values; allowed: as many of each, at least 2");
            self.rule("lengths", values.span(), detail);
            return None;
        }
        let mut fine = true;
        for x in temps.get_ref() {
            fine &= self.within("temp_c", &x.span(), *x.get_ref(), "degC", TEMPERATURES_C);
        }
        for x in values.get_ref() {
            let (unit, allowed) = (property.file_unit(), property.allowed());
            fine &= self.within(key, &x.span(), *x.get_ref(), unit, allowed);
        }
        let (least, most) = v
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(a, b), x| (a.min(*x), b.max(*x)));
        if fine && property != Property::Emissivity && most > LARGEST_RATIO * least {
            let detail = format!(
                "`{key}` goes from {least} to {most}; allowed: a ratio of at most {LARGEST_RATIO} in one table"
            );
            self.rule("spread", values.span(), detail);
            fine = false;
        }
        if let Some(w) = t.windows(2).find(|w| w[0] >= w[1]) {
            let detail = format!(
                "`{key}`: {} follows {}; allowed: temperatures in ascending order, each once",
                w[1], w[0]
            );
            self.rule("not-ascending", temps.span(), detail);
            fine = false;
        }
        let (first, last) = (*t.first()?, *t.last()?);
        fine.then(|| (Law::Table(t.into_iter().zip(v).collect()), (first, last)))
    }

    fn formula(
        &mut self,
        key: &'static str,
        name: &Spanned<String>,
        p: &PropertyInput,
        property: Property,
    ) -> Option<(Law, (f64, f64))> {
        let Some(formula) = Formula::find(name.get_ref()).filter(|f| f.property == property) else {
            let names = Formula::names_for(property).into_iter();
            self.found.unknown_word("formula", name.get_ref(), name.span(), names);
            return None;
        };
        let peak_shift_k = self.found.number(&p.peak_shift_k).unwrap_or(0.0);
        if p.peak_shift_k.is_some() && formula.peak_c.is_none() {
            let with = format!("`{}`, which has no peak", formula.name);
            self.not_with("peak_shift_k", name.span(), &with);
        }
        let offset_at_20_c = match p.value_at_20_c.as_ref() {
            Some(at) => {
                let (unit, allowed) = (property.file_unit(), property.allowed());
                self.within(key, &at.span(), *at.get_ref(), unit, allowed);
                *at.get_ref() - (formula.eval)(20.0)
            }
            None => 0.0,
        };
        let law = Law::Formula {
            formula,
            offset_at_20_c,
            peak_shift_k,
        };
        Some((law, formula.range_c))
    }

    /// A number with its source, where given and right.
    pub(super) fn scalar(&mut self, input: &ScalarAt, unit: &'static str, allowed: (f64, f64)) -> Option<Sourced<f64>> {
        let (key, at) = (input.key.name, input.as_ref()?);
        let (span, scalar) = (at.span(), &at.get_ref().0);
        let source = self.source(key, &span, &scalar.source);
        let Some(value) = scalar.value.as_ref() else {
            self.missing(&format!("{key}.value"), span);
            return None;
        };
        let number = *value.get_ref();
        self.within(key, &value.span(), number, unit, allowed)
            .then_some(Sourced {
                value: number,
                source,
                provenance: self.rules,
            })
    }

    fn magnetic(&mut self, input: &Spanned<MagneticInput>) -> Option<Magnetic> {
        let (span, m) = (input.span(), input.get_ref());
        let source = self.source("magnetic", &span, &m.source);
        let before = self.found.problems.len();
        let mut needed = |given: &Given<f64>| self.found.required(given, span.clone(), "");
        let magnetic = Magnetic {
            saturation_t: needed(&m.saturation_t),
            knee_a_m: needed(&m.knee_a_m),
            curie_c: needed(&m.curie_c),
            source,
            provenance: self.rules,
        };
        (self.found.problems.len() == before).then_some(magnetic)
    }

    fn limits(&mut self, input: &LimitsInput, solidus: &ScalarAt) -> ProcessLimits {
        let mut get = |given| self.scalar(given, "degC", TEMPERATURES_C);
        let limits = ProcessLimits {
            never_exceed_c: get(&input.never_exceed_c),
            start_max_c: get(&input.start_max_c),
            forging_min_c: get(&input.forging_min_c),
            trim_min_c: get(&input.trim_min_c),
            trim_max_c: get(&input.trim_max_c),
        };
        let pairs = [
            (&input.forging_min_c, &input.start_max_c),
            (&input.start_max_c, &input.never_exceed_c),
            (&input.trim_min_c, &input.trim_max_c),
            (&input.never_exceed_c, solidus),
        ];
        let value = |given: &ScalarAt| given.value().and_then(|scalar| scalar.0.value.value().copied());
        for (lower, upper) in pairs {
            if let (Some(low), Some(high), Some(at)) = (value(lower), value(upper), lower.span())
                && low > high
            {
                let names = (lower.key.name.to_owned(), upper.key.name.to_owned());
                self.wrong_order(names, (low, high), at);
            }
        }
        limits
    }
}
