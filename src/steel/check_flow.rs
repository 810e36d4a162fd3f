//! Checks of a flow stress law.

use toml::Spanned;

use super::check::Checker;
use super::flow_stress::{FlowLaw, FlowRange, FlowStress, HenselSpittel};
use super::input::FlowStressInput;
use crate::text::Given;

impl Checker<'_> {
    /// The checked law.
    pub(super) fn flow_stress(&mut self, input: &Spanned<FlowStressInput>) -> Option<FlowStress> {
        let (span, f) = (input.span(), input.get_ref());
        let source = self.source("flow_stress", &span, &f.source);
        if f.law.is_none() {
            self.missing("flow_stress.law", span);
            return None;
        }
        let before = self.found.problems.len();
        let name = self.found.one_of(&f.law)?;
        self.found.only(f, name, &format!("with the law `{name}`"), |key| {
            format!("it belongs to {}", key.kinds.join(" or "))
        });
        let mut needed = |given: &Given<f64>| self.found.required(given, span.clone(), "");
        let law = match name {
            "constant" => FlowLaw::Constant {
                stress_pa: 1e6 * needed(&f.stress_mpa),
            },
            "shida" => FlowLaw::Shida {
                carbon: needed(&f.carbon_pct),
            },
            "misaka" => FlowLaw::Misaka {
                carbon: needed(&f.carbon_pct),
            },
            "medina" => FlowLaw::Medina {
                carbon: needed(&f.carbon_pct),
                ln_a: needed(&f.ln_a),
                activation_j_mol: 1e3 * needed(&f.activation_kj_mol),
            },
            "hyperbolic-sine" => FlowLaw::HyperbolicSine {
                ln_a: needed(&f.ln_a),
                alpha_per_mpa: needed(&f.alpha_per_mpa),
                n: needed(&f.n),
                activation_j_mol: 1e3 * needed(&f.activation_kj_mol),
            },
            _ => {
                let a = needed(&f.a_mpa);
                let mut term = |given: &Given<f64>| self.found.number(given).unwrap_or(0.0);
                FlowLaw::HenselSpittel(HenselSpittel {
                    a,
                    m1: term(&f.m1),
                    m2: term(&f.m2),
                    m3: term(&f.m3),
                    m4: term(&f.m4),
                    m5: term(&f.m5),
                    m6: term(&f.m6),
                    m7: term(&f.m7),
                    m8: term(&f.m8),
                    m9: term(&f.m9),
                })
            }
        };
        let own = law.range();
        let mut pair = |given, own| self.range(given).unwrap_or(own);
        let range = FlowRange {
            temp_c: pair(&f.temp_range_c, own.temp_c),
            strain: pair(&f.strain_range, own.strain),
            rate_per_s: pair(&f.rate_range_per_s, own.rate_per_s),
        };
        (self.found.problems.len() == before).then(|| FlowStress {
            law,
            range,
            source,
            provenance: self.provenance(),
        })
    }
}
