//! Checks of a flow stress law.

use toml::Spanned;

use super::check::Checker;
use super::error::{FaultKind, nearest};
use super::flow_stress::{FlowLaw, FlowRange, FlowStress, HenselSpittel};
use super::input::FlowStressInput;

/// Names of the laws.
const LAWS: [&str; 6] = [
    "constant",
    "shida",
    "misaka",
    "medina",
    "hensel-spittel",
    "hyperbolic-sine",
];

/// A key of the input with the law that uses it and its value.
type Key = (&'static str, &'static str, Option<f64>);

fn keys(f: &FlowStressInput) -> [Key; 16] {
    let hs = "hensel-spittel";
    let sinh = "hyperbolic-sine";
    let sinh_or_medina = "hyperbolic-sine or medina";
    [
        ("stress_mpa", "constant", f.stress_mpa),
        ("carbon_pct", "shida, misaka or medina", f.carbon_pct),
        ("a_mpa", hs, f.a_mpa),
        ("m1", hs, f.m1),
        ("m2", hs, f.m2),
        ("m3", hs, f.m3),
        ("m4", hs, f.m4),
        ("m5", hs, f.m5),
        ("m6", hs, f.m6),
        ("m7", hs, f.m7),
        ("m8", hs, f.m8),
        ("m9", hs, f.m9),
        ("ln_a", sinh_or_medina, f.ln_a),
        ("alpha_per_mpa", sinh, f.alpha_per_mpa),
        ("n", sinh, f.n),
        ("activation_kj_mol", sinh_or_medina, f.activation_kj_mol),
    ]
}

impl Checker<'_> {
    /// The checked law.
    pub(super) fn flow_stress(&mut self, input: &Spanned<FlowStressInput>) -> Option<FlowStress> {
        let span = input.span();
        let f = input.get_ref();
        let source = self.source("flow_stress", &span, &f.source);
        let Some(name) = &f.law else {
            let kind = FaultKind::MissingKey {
                key: "flow_stress.law".into(),
            };
            self.fault(span, kind);
            return None;
        };
        let before = self.faults.len();
        let law = name.get_ref().as_str();
        if !LAWS.contains(&law) {
            let kind = FaultKind::UnknownName {
                key: "law".into(),
                value: law.into(),
                near: nearest(law, LAWS),
                allowed: LAWS.map(str::to_string).to_vec(),
            };
            self.fault(name.span(), kind);
            return None;
        }
        for (key, user, value) in keys(f) {
            if let Some(v) = value {
                if !user.contains(law) {
                    let kind = FaultKind::NotWith {
                        key: key.into(),
                        with: format!("the law `{law}` (it belongs to {user})"),
                    };
                    self.fault(span.clone(), kind);
                } else if !v.is_finite() {
                    let kind = FaultKind::NotFinite {
                        key: key.into(),
                        value: v,
                    };
                    self.fault(span.clone(), kind);
                }
            }
        }
        let law = match law {
            "constant" => FlowLaw::Constant {
                stress_pa: 1e6 * self.needed(&span, "stress_mpa", f.stress_mpa, (1e-9, 1e5)),
            },
            "shida" => FlowLaw::Shida {
                carbon: self.needed(&span, "carbon_pct", f.carbon_pct, (0.0, 1.2)),
            },
            "misaka" => FlowLaw::Misaka {
                carbon: self.needed(&span, "carbon_pct", f.carbon_pct, (0.0, 1.2)),
            },
            "medina" => FlowLaw::Medina {
                carbon: self.needed(&span, "carbon_pct", f.carbon_pct, (0.0, 1.2)),
                ln_a: self.needed(&span, "ln_a", f.ln_a, (-100.0, 200.0)),
                activation_j_mol: 1e3 * self.needed(&span, "activation_kj_mol", f.activation_kj_mol, (1.0, 2000.0)),
            },
            "hyperbolic-sine" => FlowLaw::HyperbolicSine {
                ln_a: self.needed(&span, "ln_a", f.ln_a, (-100.0, 200.0)),
                alpha_per_mpa: self.needed(&span, "alpha_per_mpa", f.alpha_per_mpa, (1e-5, 1.0)),
                n: self.needed(&span, "n", f.n, (0.5, 50.0)),
                activation_j_mol: 1e3 * self.needed(&span, "activation_kj_mol", f.activation_kj_mol, (1.0, 2000.0)),
            },
            _ => FlowLaw::HenselSpittel(HenselSpittel {
                a: self.needed(&span, "a_mpa", f.a_mpa, (1e-6, 1e9)),
                m1: f.m1.unwrap_or(0.0),
                m2: f.m2.unwrap_or(0.0),
                m3: f.m3.unwrap_or(0.0),
                m4: f.m4.unwrap_or(0.0),
                m5: f.m5.unwrap_or(0.0),
                m6: f.m6.unwrap_or(0.0),
                m7: f.m7.unwrap_or(0.0),
                m8: f.m8.unwrap_or(0.0),
                m9: f.m9.unwrap_or(0.0),
            }),
        };
        let own = law.range();
        let mut pair = |key: &str, given: Option<[f64; 2]>, unit, allowed, own| match given {
            Some(r) => self.range(key, span.clone(), r, unit, allowed).unwrap_or(own),
            None => own,
        };
        let range = FlowRange {
            temp_c: pair("temp_range_c", f.temp_range_c, "degC", (-273.15, 4000.0), own.temp_c),
            strain: pair("strain_range", f.strain_range, "", (0.0, 100.0), own.strain),
            rate_per_s: pair(
                "rate_range_per_s",
                f.rate_range_per_s,
                "1/s",
                (0.0, 1e6),
                own.rate_per_s,
            ),
        };
        (self.faults.len() == before).then(|| FlowStress {
            law,
            range,
            source,
            provenance: self.provenance(),
        })
    }

    /// A value that the law needs; a fault and zero when it is missing or impossible.
    fn needed(&mut self, span: &std::ops::Range<usize>, key: &str, value: Option<f64>, allowed: (f64, f64)) -> f64 {
        match value {
            Some(v) if !v.is_finite() => 0.0,
            Some(v) => {
                self.within(key, span, v, "", allowed);
                v
            }
            None => {
                let kind = FaultKind::MissingKey {
                    key: format!("flow_stress.{key}"),
                };
                self.fault(span.clone(), kind);
                0.0
            }
        }
    }
}
