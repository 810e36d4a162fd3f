//! Checks of what a material file says, one fault per wrong value.

use std::ops::Range;

use toml::Spanned;

use super::curve::{Curve, Law, Provenance};
use super::error::{Fault, FaultKind, nearest};
use super::formula::{Formula, Property};
use super::grade::{Steel, TableCache};
use super::input::{LimitsInput, MagneticInput, PropertyInput, ScalarInput, SteelInput};
use super::limits::{ProcessLimits, Sourced};
use super::magnetic::Magnetic;

/// Emissivity of a steel whose file gives none: scaled steel from 800 degC.
const DEFAULT_EMISSIVITY: f64 = 0.85;

/// Temperatures a file may name, degC.
const TEMPERATURES_C: (f64, f64) = (-273.15, 4000.0);

/// Shifts of a transformation peak that keep it between 20 and 1200 degC, K.
pub(super) const PEAK_SHIFT_K: (f64, f64) = (-580.0, 300.0);

/// Largest ratio of two values of one table; beyond it sums over the table lose their digits.
const LARGEST_RATIO: f64 = 1e4;

/// Range of a constant without a range of its own, degC: everything.
const EVERYWHERE_C: (f64, f64) = (-273.15, f64::INFINITY);

/// The ways to give a property.
const WAYS: &str = "a number, `constant`, `temp_c` with `values`, or `formula`";

/// Collects faults while it turns input into a steel.
pub(super) struct Checker<'a> {
    text: &'a str,
    at: Range<usize>,
    rules: Provenance,
    pub(super) faults: Vec<Fault>,
}

impl<'a> Checker<'a> {
    pub(super) fn new(text: &'a str, at: Range<usize>, rules: Provenance) -> Self {
        Checker {
            text,
            at,
            rules,
            faults: Vec::new(),
        }
    }

    pub(super) fn fault(&mut self, span: Range<usize>, kind: FaultKind) {
        self.faults.push(Fault::at(self.text, span, kind));
    }

    fn missing(&mut self, key: &str) {
        let at = self.at.clone();
        self.fault(at, FaultKind::MissingKey { key: key.into() });
    }

    fn strict(&self) -> bool {
        self.rules == Provenance::Library
    }

    pub(super) fn provenance(&self) -> Provenance {
        self.rules
    }

    /// The source text; the library must have one.
    pub(super) fn source(&mut self, key: &str, span: &Range<usize>, source: &Option<String>) -> String {
        match source {
            Some(s) if !s.trim().is_empty() => s.clone(),
            _ => {
                if self.strict() {
                    let key = key.to_string();
                    self.fault(span.clone(), FaultKind::MissingSource { key });
                }
                "given".to_string()
            }
        }
    }

    /// Whether a value is finite and within bounds; a fault if not.
    pub(super) fn within(
        &mut self,
        key: &str,
        span: &Range<usize>,
        value: f64,
        unit: &'static str,
        (low, high): (f64, f64),
    ) -> bool {
        let key = key.to_string();
        if !value.is_finite() {
            self.fault(span.clone(), FaultKind::NotFinite { key, value });
            return false;
        }
        if value < low || value > high {
            let kind = FaultKind::OutOfRange {
                key,
                value,
                unit,
                low,
                high,
            };
            self.fault(span.clone(), kind);
            return false;
        }
        true
    }

    pub(super) fn steel(&mut self, input: &SteelInput, origin: &str) -> Option<Steel> {
        let named = input.name.as_ref().filter(|n| !n.trim().is_empty());
        if self.strict() {
            if named.is_none() {
                self.missing("name");
            }
            if input.family.is_none() {
                self.missing("family");
            }
            if input.emissivity.is_none() {
                self.missing("emissivity");
            }
        }
        let composition = input.composition.as_ref().map(|c| {
            let span = c.span();
            self.source("composition", &span, &c.get_ref().source);
            for (element, percent) in c.get_ref().elements() {
                self.within(element, &span, percent, "%", (0.0, 100.0));
            }
            c.get_ref().clone()
        });
        let conductivity = self.required("conductivity_w_mk", &input.conductivity_w_mk, Property::Conductivity);
        let specific_heat = self.required(
            "specific_heat_j_kgk",
            &input.specific_heat_j_kgk,
            Property::SpecificHeat,
        );
        if input.density_kg_m3.is_none() {
            self.missing("density_kg_m3");
        }
        let density = self.scalar(
            "density_kg_m3",
            &input.density_kg_m3,
            "kg/m³",
            Property::Density.allowed(),
        );
        let emissivity = match &input.emissivity {
            Some(e) => self.property("emissivity", e, Property::Emissivity),
            None => Some(Curve::new(
                Property::Emissivity,
                Law::Constant(DEFAULT_EMISSIVITY),
                EVERYWHERE_C,
                "default: scaled steel from 800 degC, 0.82 to 0.89 by the sources of scaled-steel-emissivity",
                Provenance::Default,
            )),
        };
        let resistivity_ohm_m = input
            .resistivity_uohm_m
            .as_ref()
            .and_then(|r| self.property("resistivity_uohm_m", r, Property::Resistivity));
        let magnetic = input.magnetic.as_ref().and_then(|m| self.magnetic(m));
        let temperature = TEMPERATURES_C;
        let solidus_c = self.scalar("solidus_c", &input.solidus_c, "degC", temperature);
        let tempering_c = self.scalar("tempering_c", &input.tempering_c, "degC", temperature);
        let limits = match &input.limits {
            Some(l) => self.limits(l, &input.solidus_c),
            None => ProcessLimits::default(),
        };
        let flow_stress = input.flow_stress.as_ref().and_then(|f| self.flow_stress(f));
        let (conductivity, specific_heat) = (conductivity?, specific_heat?);
        let (specific_heat_cooling, austenite_c) = self.cooling(input, &specific_heat);
        Some(Steel {
            name: named.cloned().unwrap_or_else(|| "given steel".into()),
            aliases: input.aliases.clone(),
            family: input.family.clone().unwrap_or_else(|| "given".into()),
            note: input.note.clone().unwrap_or_default(),
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

    fn required(&mut self, key: &str, input: &Option<Spanned<PropertyInput>>, property: Property) -> Option<Curve> {
        match input {
            Some(p) => self.property(key, p, property),
            None => {
                self.missing(key);
                None
            }
        }
    }

    pub(super) fn property(&mut self, key: &str, input: &Spanned<PropertyInput>, property: Property) -> Option<Curve> {
        let span = input.span();
        let p = input.get_ref();
        let source = self.source(key, &span, &p.source);
        let before = self.faults.len();
        let one_way = FaultKind::OneWay {
            key: key.to_string(),
            ways: WAYS,
        };
        let (law, own_range) = match (p.constant, &p.temp_c, &p.values, &p.formula) {
            (Some(v), None, None, None) => {
                self.within(key, &span, v, property.file_unit(), property.allowed());
                (Law::Constant(v), EVERYWHERE_C)
            }
            (None, Some(temps), Some(values), None) => self.table(key, temps, values, property)?,
            (None, None, None, Some(name)) => self.formula(key, name, p, property)?,
            _ => {
                self.fault(span, one_way);
                return None;
            }
        };
        if p.formula.is_none() && (p.value_at_20_c.is_some() || p.peak_shift_k.is_some()) {
            let kind = FaultKind::NotWith {
                key: "value_at_20_c and peak_shift_k".into(),
                with: "a constant or a table".into(),
            };
            self.fault(span, kind);
        }
        let range_c = match &p.range_c {
            Some(r) => self.range("range_c", r.span(), *r.get_ref(), "degC", TEMPERATURES_C)?,
            None => own_range,
        };
        (self.faults.len() == before).then(|| Curve::new(property, law, range_c, source, self.rules))
    }

    /// A pair of ascending numbers.
    pub(super) fn range(
        &mut self,
        key: &str,
        span: Range<usize>,
        [low, high]: [f64; 2],
        unit: &'static str,
        allowed: (f64, f64),
    ) -> Option<(f64, f64)> {
        let fine = self.within(key, &span, low, unit, allowed) && self.within(key, &span, high, unit, allowed);
        if fine && low >= high {
            let kind = FaultKind::WrongOrder {
                lower_key: format!("first of {key}"),
                lower: low,
                upper_key: "second".into(),
                upper: high,
            };
            self.fault(span, kind);
            return None;
        }
        fine.then_some((low, high))
    }

    fn table(
        &mut self,
        key: &str,
        temps: &Spanned<Vec<f64>>,
        values: &Spanned<Vec<f64>>,
        property: Property,
    ) -> Option<(Law, (f64, f64))> {
        let (t, v) = (temps.get_ref(), values.get_ref());
        if t.len() != v.len() || t.len() < 2 {
            let kind = FaultKind::Lengths {
                key: key.into(),
                temps: t.len(),
                values: v.len(),
            };
            self.fault(values.span(), kind);
            return None;
        }
        let mut fine = true;
        for x in t {
            fine &= self.within("temp_c", &temps.span(), *x, "degC", TEMPERATURES_C);
        }
        for x in v {
            let (unit, allowed) = (property.file_unit(), property.allowed());
            fine &= self.within(key, &values.span(), *x, unit, allowed);
        }
        let (least, most) = v
            .iter()
            .fold((f64::INFINITY, 0.0_f64), |(a, b), x| (a.min(*x), b.max(*x)));
        if fine && property != Property::Emissivity && most > LARGEST_RATIO * least {
            let kind = FaultKind::Spread {
                key: key.into(),
                least,
                most,
                allowed: LARGEST_RATIO,
            };
            self.fault(values.span(), kind);
            fine = false;
        }
        if let Some(w) = t.windows(2).find(|w| w[0] >= w[1]) {
            let kind = FaultKind::NotAscending {
                key: key.into(),
                previous: w[0],
                value: w[1],
            };
            self.fault(temps.span(), kind);
            fine = false;
        }
        let points: Vec<(f64, f64)> = t.iter().copied().zip(v.iter().copied()).collect();
        let (first, last) = (t.first()?, t.last()?);
        fine.then_some((Law::Table(points), (*first, *last)))
    }

    fn formula(
        &mut self,
        key: &str,
        name: &Spanned<String>,
        p: &PropertyInput,
        property: Property,
    ) -> Option<(Law, (f64, f64))> {
        let allowed = Formula::names_for(property);
        let Some(formula) = Formula::find(name.get_ref()).filter(|f| f.property == property) else {
            let kind = FaultKind::UnknownName {
                key: "formula".into(),
                value: name.get_ref().clone(),
                near: nearest(name.get_ref(), allowed.iter().copied()),
                allowed: allowed.into_iter().map(str::to_string).collect(),
            };
            self.fault(name.span(), kind);
            return None;
        };
        let peak_shift_k = p.peak_shift_k.unwrap_or(0.0);
        if p.peak_shift_k.is_some() {
            self.within("peak_shift_k", &name.span(), peak_shift_k, "K", PEAK_SHIFT_K);
            if formula.peak_c.is_none() {
                let kind = FaultKind::NotWith {
                    key: "peak_shift_k".into(),
                    with: format!("`{}`, which has no peak", formula.name),
                };
                self.fault(name.span(), kind);
            }
        }
        let offset_at_20_c = match p.value_at_20_c {
            Some(v) => {
                let (unit, allowed) = (property.file_unit(), property.allowed());
                self.within(key, &name.span(), v, unit, allowed);
                v - (formula.eval)(20.0)
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

    pub(super) fn scalar(
        &mut self,
        key: &str,
        input: &Option<Spanned<ScalarInput>>,
        unit: &'static str,
        allowed: (f64, f64),
    ) -> Option<Sourced<f64>> {
        let input = input.as_ref()?;
        let span = input.span();
        let source = self.source(key, &span, &input.get_ref().source);
        let value = input.get_ref().value;
        self.within(key, &span, value, unit, allowed).then_some(Sourced {
            value,
            source,
            provenance: self.rules,
        })
    }

    fn magnetic(&mut self, input: &Spanned<MagneticInput>) -> Option<Magnetic> {
        let span = input.span();
        let m = input.get_ref();
        let source = self.source("magnetic", &span, &m.source);
        let fine = self.within("saturation_t", &span, m.saturation_t, "T", (0.01, 3.0))
            & self.within("knee_a_m", &span, m.knee_a_m, "A/m", (1.0, 1e6))
            & self.within("curie_c", &span, m.curie_c, "degC", (1.0, 1500.0));
        fine.then_some(Magnetic {
            saturation_t: m.saturation_t,
            knee_a_m: m.knee_a_m,
            curie_c: m.curie_c,
            source,
            provenance: self.rules,
        })
    }

    fn limits(&mut self, input: &LimitsInput, solidus: &Option<Spanned<ScalarInput>>) -> ProcessLimits {
        let mut get = |key, input| self.scalar(key, input, "degC", TEMPERATURES_C);
        let limits = ProcessLimits {
            never_exceed_c: get("never_exceed_c", &input.never_exceed_c),
            start_max_c: get("start_max_c", &input.start_max_c),
            forging_min_c: get("forging_min_c", &input.forging_min_c),
            trim_min_c: get("trim_min_c", &input.trim_min_c),
            trim_max_c: get("trim_max_c", &input.trim_max_c),
        };
        let pairs = [
            ("forging_min_c", &input.forging_min_c, "start_max_c", &input.start_max_c),
            (
                "start_max_c",
                &input.start_max_c,
                "never_exceed_c",
                &input.never_exceed_c,
            ),
            ("trim_min_c", &input.trim_min_c, "trim_max_c", &input.trim_max_c),
            ("never_exceed_c", &input.never_exceed_c, "solidus_c", solidus),
        ];
        for (lower_key, lower, upper_key, upper) in pairs {
            let (Some(l), Some(u)) = (lower, upper) else {
                continue;
            };
            let (low, high) = (l.get_ref().value, u.get_ref().value);
            if low > high {
                let kind = FaultKind::WrongOrder {
                    lower_key: lower_key.into(),
                    lower: low,
                    upper_key: upper_key.into(),
                    upper: high,
                };
                self.fault(l.span(), kind);
            }
        }
        limits
    }
}
