//! Linear thermal expansion of steels: what a hot part is larger than its cold drawing.

use super::composition::Composition;

impl Composition {
    /// Length at a temperature (degC) over length at 20 degC, less one.
    ///
    /// Steels of less than 11 % Cr and martensitic stainless steels by EN 1993-1-2:2005 3.4.1.1, carbon steel
    /// (13 Cr steels lie up to 10 % below), with its contraction between 750 and 860 degC; austenitic steels by
    /// annex C. Above 1200 degC both are continued: the densities of austenite of Jablonka, Harste and
    /// Schwerdtfeger, Steel Res. 62 (1991) 24 (from memory) agree within 0.2 % to 1250 degC. Zero for metals
    /// that are no steels: their formulas are not held here.
    ///
    /// ```
    /// use billet_thermal::steel::Composition;
    /// let steel = Composition { c: 0.45, mn: 0.7, ..Default::default() };
    /// assert!((steel.linear_expansion(1200.0) - 17.8e-3).abs() < 1e-9);
    /// assert_eq!(steel.linear_expansion(800.0), 11.0e-3);
    /// ```
    pub fn linear_expansion(&self, temp_c: f64) -> f64 {
        let austenitic = self.cr >= 11.0 && self.ni >= 6.0;
        if self.c <= 0.0 || self.ni > 40.0 {
            0.0
        } else if austenitic {
            (16.0 + 4.79e-3 * temp_c - 1.243e-6 * temp_c * temp_c) * (temp_c - 20.0) * 1e-6
        } else if temp_c < 750.0 {
            1.2e-5 * temp_c + 0.4e-8 * temp_c * temp_c - 2.416e-4
        } else if temp_c <= 860.0 {
            1.1e-2
        } else {
            2e-5 * temp_c - 6.2e-3
        }
    }
}
