//! Chemical composition and what follows from it: solidus, liquidus, critical temperatures.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Composition in weight per cent; an element that is not given counts as zero.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields, default, rename_all = "PascalCase")]
pub struct Composition {
    /// Carbon.
    pub c: f64,
    /// Silicon.
    pub si: f64,
    /// Manganese.
    pub mn: f64,
    /// Phosphorus.
    pub p: f64,
    /// Sulphur.
    pub s: f64,
    /// Chromium.
    pub cr: f64,
    /// Molybdenum.
    pub mo: f64,
    /// Nickel.
    pub ni: f64,
    /// Vanadium.
    pub v: f64,
    /// Niobium.
    pub nb: f64,
    /// Titanium.
    pub ti: f64,
    /// Aluminium.
    pub al: f64,
    /// Copper.
    pub cu: f64,
    /// Nitrogen.
    pub n: f64,
    /// Tungsten.
    pub w: f64,
    /// Arsenic.
    pub r#as: f64,
    /// Magnesium.
    pub mg: f64,
    /// Iron, where it is not the balance.
    pub fe: f64,
    /// Where the analysis comes from.
    #[serde(rename = "source", skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

impl Composition {
    /// Whether the metal is iron or a steel of so little chromium and nickel that it scales like iron.
    pub fn scales_like_iron(&self) -> bool {
        self.fe > 50.0 || (self.c > 0.0 && self.cr < 11.0 && self.ni < 8.0)
    }

    /// Elements with their content in wt-%, in the order of the struct, without zeros.
    pub fn elements(&self) -> Vec<(&'static str, f64)> {
        [
            ("C", self.c),
            ("Si", self.si),
            ("Mn", self.mn),
            ("P", self.p),
            ("S", self.s),
            ("Cr", self.cr),
            ("Mo", self.mo),
            ("Ni", self.ni),
            ("V", self.v),
            ("Nb", self.nb),
            ("Ti", self.ti),
            ("Al", self.al),
            ("Cu", self.cu),
            ("N", self.n),
            ("W", self.w),
            ("As", self.r#as),
            ("Mg", self.mg),
            ("Fe", self.fe),
        ]
        .into_iter()
        .filter(|(_, x)| *x != 0.0)
        .collect()
    }

    /// Solidus after Hirai (degC), from casting handbooks; agrees within 20 K with a linear form.
    ///
    /// ```
    /// use billet_thermal::steel::Composition;
    /// let c45 = Composition { c: 0.45, si: 0.25, mn: 0.7, p: 0.015, s: 0.02, ..Default::default() };
    /// assert!((c45.solidus_hirai_c() - 1411.0).abs() < 3.0);
    /// ```
    pub fn solidus_hirai_c(&self) -> f64 {
        let base = 20.5 * self.si
            + 6.5 * self.mn
            + 2.0 * self.cr
            + 11.5 * self.ni
            + 5.5 * self.al
            + 500.0 * self.p
            + 700.0 * self.s;
        if self.c <= 0.09 {
            1538.0 - (478.0 * self.c + base)
        } else if self.c <= 0.17 {
            1495.0 - base
        } else {
            1527.0 - (187.5 * self.c + base)
        }
    }

    /// Solidus by the linear form of Iron and Steel 2012 no. 10 p. 28 (degC).
    pub fn solidus_linear_c(&self) -> f64 {
        1536.0
            - (175.0 * self.c
                + 20.0 * self.si
                + 30.0 * self.mn
                + 280.0 * self.p
                + 575.0 * self.s
                + 6.5 * self.cr
                + 4.0 * self.v
                + 4.75 * self.ni
                + 7.5 * self.al
                + 40.0 * self.ti
                + 5.0 * self.mo
                + 60.0 * self.nb)
    }

    /// Liquidus after Hirai (degC), from a 1997 steelmaking journal (no. 3 p. 20).
    pub fn liquidus_hirai_c(&self) -> f64 {
        1538.0
            - (55.0 * self.c
                + 80.0 * self.c * self.c
                + 13.0 * self.si
                + 4.8 * self.mn
                + 1.5 * self.cr
                + 4.3 * self.ni
                + 30.0 * self.p
                + 30.0 * self.s)
    }

    /// Ac1 after Andrews, JISI 203 (1965) 721 (degC), about ±16 K, for C up to 0.6 %.
    pub fn ac1_andrews_c(&self) -> f64 {
        723.0 - 10.7 * self.mn - 16.9 * self.ni + 29.1 * self.si + 16.9 * self.cr + 290.0 * self.r#as + 6.38 * self.w
    }

    /// Ac3 after Andrews, JISI 203 (1965) 721 (degC), about ±16 K, for C up to 0.6 %.
    pub fn ac3_andrews_c(&self) -> f64 {
        910.0 - 203.0 * self.c.max(0.0).sqrt() - 15.2 * self.ni
            + 44.7 * self.si
            + 104.0 * self.v
            + 31.5 * self.mo
            + 13.1 * self.w
            - (30.0 * self.mn + 11.0 * self.cr + 20.0 * self.cu
                - 700.0 * self.p
                - 400.0 * self.al
                - 120.0 * self.r#as
                - 400.0 * self.ti)
    }

    /// Ac1 after Hougardy 1984 (degC) (coefficients from memory).
    pub fn ac1_hougardy_c(&self) -> f64 {
        739.0 - 22.0 * self.c - 7.0 * self.mn + 2.0 * self.si + 14.0 * self.cr + 13.0 * self.mo - 13.0 * self.ni
    }

    /// Ac3 after Hougardy 1984 (degC) (coefficients from memory).
    pub fn ac3_hougardy_c(&self) -> f64 {
        902.0 - 255.0 * self.c - 11.0 * self.mn + 19.0 * self.si - 5.0 * self.cr + 13.0 * self.mo - 20.0 * self.ni
            + 55.0 * self.v
    }

    /// Martensite start (degC), 539 − 423 C − 30.4 Mn − 17.7 Ni − 12.1 Cr − 7.5 Mo (Andrews 1965).
    pub fn martensite_start_c(&self) -> f64 {
        539.0 - 423.0 * self.c - 30.4 * self.mn - 17.7 * self.ni - 12.1 * self.cr - 7.5 * self.mo
    }

    /// Start of bainite (degC), 830 − 270 C − 90 Mn − 37 Ni − 70 Cr − 83 Mo: Steven and Haynes, JISI 183
    /// (1956) 349, low-alloy steel with up to 0.55 % C. Bainite ends some 120 K lower.
    ///
    /// ```
    /// use billet_thermal::steel::Composition;
    /// let steel = Composition { c: 0.42, mn: 0.85, ni: 0.2, cr: 1.05, mo: 0.22, ..Default::default() };
    /// assert!((steel.bainite_start_c() - 541.0).abs() < 0.5);
    /// ```
    pub fn bainite_start_c(&self) -> f64 {
        830.0 - 270.0 * self.c - 90.0 * self.mn - 37.0 * self.ni - 70.0 * self.cr - 83.0 * self.mo
    }

    /// Activation energy of hot deformation (J/mol) of low-alloy steel: Medina and Hernández, Acta Mater.
    /// 44 (1996) 137. Chromium and nickel do not count.
    pub fn flow_activation_j_mol(&self) -> f64 {
        267_000.0 - 2535.52 * self.c
            + 1010.0 * self.mn
            + 33_620.76 * self.si
            + 35_651.28 * self.mo
            + 93_680.52 * self.ti.powf(0.5919)
            + 70_729.85 * self.nb.powf(0.5649)
            + 31_673.46 * self.v
    }

    /// Natural logarithm of the factor A (1/s) that belongs to [`Composition::flow_activation_j_mol`]:
    /// A = (12.197 + 65.590 C − 49.052 Nb) exp(7.076e-5 Q).
    pub fn flow_ln_a(&self) -> f64 {
        (12.197 + 65.590 * self.c - 49.052 * self.nb).ln() + 7.076e-5 * self.flow_activation_j_mol()
    }
}
