//! Boundary laws: what leaves through a face at a given face temperature.

use super::signal::{OfSurface, Signal};
use crate::units::{STEFAN_BOLTZMANN, kelvin};

/// Exchange with surroundings: prescribed flux, film and grey radiation together.
///
/// Flux out of the body in W/m²:
/// `q = h(T)·(T − T_fluid(t)) + ε(T)·F·σ·(T⁴ − T_radiant(t)⁴) − q_in(t)`, temperatures in kelvin
/// in the radiation term. Where a layer covers the face, T is the temperature of its outside: that of
/// the face less q times the resistance of the layer.
#[derive(Debug, Clone)]
pub struct Exchange {
    /// Prescribed heat flux into the body, W/m².
    pub flux_in: Signal,
    /// Film coefficient, W/m²K.
    pub film: OfSurface,
    /// Temperature of the fluid, degC.
    pub fluid_c: Signal,
    /// Total emissivity of the surface.
    pub emissivity: OfSurface,
    /// View factor to the radiating surroundings.
    pub view: f64,
    /// Temperature of the radiating surroundings, degC.
    pub radiant_c: Signal,
    /// Resistance of a layer on the face without heat of its own, m²K/W; zero for a bare face.
    pub layer_m2k_w: f64,
}

impl Exchange {
    /// No exchange at all: an insulated face.
    pub fn none() -> Exchange {
        Exchange {
            flux_in: 0.0.into(),
            film: 0.0.into(),
            fluid_c: 0.0.into(),
            emissivity: 0.0.into(),
            view: 1.0,
            radiant_c: 0.0.into(),
            layer_m2k_w: 0.0,
        }
    }

    /// A film coefficient (W/m²K) to a fluid (degC).
    pub fn film(coefficient: impl Into<OfSurface>, fluid_c: impl Into<Signal>) -> Exchange {
        Exchange {
            film: coefficient.into(),
            fluid_c: fluid_c.into(),
            ..Exchange::none()
        }
    }

    /// A prescribed flux into the body [W/m²].
    pub fn flux(flux_in: impl Into<Signal>) -> Exchange {
        Exchange {
            flux_in: flux_in.into(),
            ..Exchange::none()
        }
    }

    /// Film and radiation to surroundings at one temperature (degC).
    pub fn air(film: impl Into<OfSurface>, emissivity: impl Into<OfSurface>, ambient_c: f64) -> Exchange {
        Exchange {
            film: film.into(),
            fluid_c: ambient_c.into(),
            emissivity: emissivity.into(),
            radiant_c: ambient_c.into(),
            ..Exchange::none()
        }
    }

    /// The first time after `after` at which one of the signals breaks.
    pub(super) fn next_break(&self, after: f64) -> Option<f64> {
        let signals = [&self.flux_in, &self.fluid_c, &self.radiant_c];
        signals
            .into_iter()
            .filter_map(|s| s.next_break(after))
            .min_by(f64::total_cmp)
    }

    /// The law at one time.
    pub fn now(&self, t: f64) -> ExchangeNow<'_> {
        let k = kelvin(self.radiant_c.at(t));
        ExchangeNow {
            law: self,
            flux_in: self.flux_in.at(t),
            fluid_c: self.fluid_c.at(t),
            black: self.view * STEFAN_BOLTZMANN,
            radiant_k4: k * k * k * k,
            open: 1.0,
        }
    }
}

/// An [`Exchange`] with its signals taken at one time.
#[derive(Debug, Clone, Copy)]
pub struct ExchangeNow<'a> {
    law: &'a Exchange,
    flux_in: f64,
    fluid_c: f64,
    black: f64,
    radiant_k4: f64,
    /// Share of the view in which the face does not see its own body.
    open: f64,
}

impl ExchangeNow<'_> {
    /// The same for a face that sees its own body, as hot as itself, with all but `open` of its view. The two are a
    /// grey enclosure: 1/(1/ε + 1/F - 1) of a black face's exchange with the outside.
    #[inline]
    pub(super) fn past_itself(&self, open: f64) -> Self {
        ExchangeNow { open, ..*self }
    }

    /// Flux out (W/m²) and its slope (W/m²K) at a face temperature (degC).
    #[inline]
    pub fn at(&self, temp_c: f64) -> (f64, f64) {
        if self.law.layer_m2k_w > 0.0 {
            return self.through_layer(temp_c);
        }
        self.outside(temp_c)
    }

    /// Flux and slope at the face under a layer: drop = R q(T - drop), by Newton's method.
    fn through_layer(&self, temp_c: f64) -> (f64, f64) {
        let resistance = self.law.layer_m2k_w;
        let mut drop_k = 0.0;
        let mut slope = 0.0;
        for _ in 0..LAYER_ITERATIONS {
            let (q, dq) = self.outside(temp_c - drop_k);
            let change = (resistance * q - drop_k) / (1.0 + resistance * dq);
            drop_k += change;
            slope = dq;
            if change.abs() < LAYER_CHANGE_K {
                break;
            }
        }
        (drop_k / resistance, slope / (1.0 + resistance * slope))
    }

    /// Flux and slope at the temperature of the outside.
    #[inline]
    fn outside(&self, temp_c: f64) -> (f64, f64) {
        let (h, dh) = self.law.film.at(temp_c);
        let (mut e, mut de) = self.law.emissivity.at(temp_c);
        if self.open < 1.0 {
            let share = self.open / (self.open + e * (1.0 - self.open)).max(f64::MIN_POSITIVE);
            e *= share;
            de *= share * share;
        }
        let k = kelvin(temp_c);
        let k3 = k * k * k;
        let net = k3 * k - self.radiant_k4;
        let over = temp_c - self.fluid_c;
        let q = h * over + e * self.black * net - self.flux_in;
        let slope = h + dh * over + self.black * (4.0 * e * k3 + de * net);
        (q, slope)
    }
}

/// Iterations for the outside of a layer; two or three settle it, for the flux is smooth.
const LAYER_ITERATIONS: usize = 20;

/// Change of the outside at which it has settled, K; the next one would be its square by some 1e-3/K.
const LAYER_CHANGE_K: f64 = 1e-3;

/// The law of one face group.
#[derive(Debug, Clone)]
pub enum Law {
    /// No heat passes.
    Insulated,
    /// The face is held at a temperature (degC).
    Fixed {
        /// Face temperature, degC.
        temp_c: Signal,
        /// Ledger account.
        account: usize,
    },
    /// Exchange with surroundings over a share of the area (the rest may be in contact).
    Exchange {
        /// The law.
        exchange: Exchange,
        /// Share of the face area it acts on, 0 to 1.
        share: f64,
        /// Ledger account.
        account: usize,
    },
}

impl Law {
    /// The first time after `after` at which a signal of the law breaks.
    pub(super) fn next_break(&self, after: f64) -> Option<f64> {
        match self {
            Law::Insulated => None,
            Law::Fixed { temp_c, .. } => temp_c.next_break(after),
            Law::Exchange { exchange, .. } => exchange.next_break(after),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn radiation_of_a_black_body() {
        let law = Exchange::air(0.0, 1.0, -273.15);
        let (q, slope) = law.now(0.0).at(1250.0);
        assert!((q / 1e3 - 305.0).abs() < 0.5, "305 kW/m2 at 1250 degC, got {q}");
        assert!((slope - 4.0 * q / 1523.15).abs() < 1e-6);
    }
}
