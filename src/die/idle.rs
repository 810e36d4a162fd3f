//! The time from one part to the next: spray, blow-off, air.

use crate::conduction::{Exchange, OfSurface};
use crate::surface::spray::die_spray;

/// Water or lubricant sprayed on a die face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spray {
    /// Length, s.
    pub seconds: f64,
    /// Coefficient in W/m²K; `None` takes [`die_spray`], which falls when the face is too hot to wet.
    pub film_w_m2k: Option<f64>,
    /// Temperature of the fluid, degC.
    pub water_c: f64,
}

/// Compressed air blown over a die face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlowOff {
    /// Length, s.
    pub seconds: f64,
    /// Coefficient in W/m²K.
    pub film_w_m2k: f64,
}

/// One piece of the idle time.
#[derive(Debug, Clone)]
pub struct Phase {
    /// What happens: `spray`, `blow-off`, `air`.
    pub what: &'static str,
    /// Length, s.
    pub seconds: f64,
    /// Law of the open face.
    pub exchange: Exchange,
}

/// What happens to a face in `idle_s` without a part: spray, then blow-off, then the shop's air.
/// The first two are cut where the time is too short for them; the caller refuses that beforehand.
pub fn phases(spray: Option<&Spray>, blow_off: Option<&BlowOff>, air: &Exchange, idle_s: f64) -> Vec<Phase> {
    let mut left = idle_s;
    let mut out = Vec::new();
    let mut take = |what, seconds: f64, exchange| {
        let seconds = seconds.min(left);
        if seconds > 0.0 {
            left -= seconds;
            out.push(Phase {
                what,
                seconds,
                exchange,
            });
        }
    };
    if let Some(spray) = spray {
        let film = match spray.film_w_m2k {
            Some(h) => OfSurface::Constant(h),
            // The law refuses only what is not a temperature.
            None => OfSurface::sampled(0.0, 1500.0, 300, |t| die_spray(t).unwrap_or(0.0)),
        };
        let exchange = Exchange {
            film,
            fluid_c: spray.water_c.into(),
            ..air.clone()
        };
        take("spray", spray.seconds, exchange);
    }
    if let Some(blow_off) = blow_off {
        let exchange = Exchange {
            film: blow_off.film_w_m2k.into(),
            ..air.clone()
        };
        take("blow-off", blow_off.seconds, exchange);
    }
    take("air", f64::INFINITY, air.clone());
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phases_fill_the_time() {
        let spray = Spray {
            seconds: 1.2,
            film_w_m2k: None,
            water_c: 25.0,
        };
        let blow_off = BlowOff {
            seconds: 0.6,
            film_w_m2k: 100.0,
        };
        let air = Exchange::air(10.0, 0.8, 25.0);
        let list = phases(Some(&spray), Some(&blow_off), &air, 11.0);
        let words: Vec<_> = list.iter().map(|p| p.what).collect();
        assert_eq!(words, ["spray", "blow-off", "air"]);
        assert!((list.iter().map(|p| p.seconds).sum::<f64>() - 11.0).abs() < 1e-12);
        assert_eq!(phases(Some(&spray), None, &air, 1.0).len(), 1);
        assert!(phases(None, None, &air, 0.0).is_empty());
    }
}
