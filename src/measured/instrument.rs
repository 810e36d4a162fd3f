//! What an instrument shows of a surface whose temperature is known.
//!
//! Spectral radiance by Planck's law, L ∝ 1/(exp(c₂/λT) − 1) with c₂ = 1.438776877e-2 m K (CODATA 2018). An instrument of one
//! band takes what it receives for radiation of a surface with the emissivity that it is set to; one of two bands
//! compares them. A spot that lies partly beside the part, windows and smoke take from what it receives.

use serde::Serialize;

/// Second radiation constant, m K.
pub const C2: f64 = 1.438_776_877e-2;
const ZERO_C: f64 = 273.15;

/// Scatter of single readings of an instrument of which nothing is said, K (common practice).
pub(super) const USUAL_SD_K: f64 = 5.0;
/// The same of the one at the exit, which is fixed and sees every part alike, K (common practice).
pub(super) const EXIT_SD_K: f64 = 3.0;
/// The same of a meter, in parts of the reading (common practice).
const USUAL_SD_OF_METER: f64 = 0.02;

/// What an instrument is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Principle {
    /// One band: pyrometer or camera.
    OneBand {
        /// Wavelength, m.
        wavelength_m: f64,
        /// Emissivity it is set to; `None` follows that of the surface.
        set_emissivity: Option<f64>,
        /// Whether it counts what the surface reflects of its background, as cameras do.
        counts_background: bool,
    },
    /// The ratio of two bands.
    TwoBands {
        /// Wavelengths, m, shorter first.
        wavelengths_m: (f64, f64),
        /// Ratio of emissivities it is set to, shorter over longer.
        set_ratio: f64,
        /// That of the surface.
        ratio: f64,
    },
    /// A couple: the temperature itself, some seconds late.
    Couple {
        /// Time constant, s.
        time_constant_s: f64,
    },
    /// A meter: the value itself.
    Meter,
}

/// What stands between surface and reading, and what is known of the reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Instrument {
    /// Name.
    pub name: String,
    /// How it works.
    pub principle: Principle,
    /// Emissivity of the surface in its band.
    pub emissivity: f64,
    /// Standard deviation of what is known of it.
    pub emissivity_sd: f64,
    /// Share of the radiation that reaches it.
    pub transmission: f64,
    /// Share of the spot that the part fills.
    pub spot_share: f64,
    /// Temperature around the part, degC.
    pub background_c: f64,
    /// How much colder the outside of loose scale is, K.
    pub loose_scale_k: f64,
    /// What it shows too much.
    pub bias: f64,
    /// Standard deviation of what is known of that.
    pub bias_sd: f64,
    /// Largest error of a meter in parts of the reading.
    pub class: f64,
    /// Standard deviation of single readings; `None` is found from the readings.
    pub sd: Option<f64>,
    /// Lowest and highest reading.
    pub reads: (f64, f64),
}

/// Spectral radiance at a wavelength over that of infinite temperature's leading factor.
fn radiance(wavelength_m: f64, temp_c: f64) -> f64 {
    1.0 / (C2 / (wavelength_m * (temp_c + ZERO_C).max(1.0))).exp_m1()
}

/// The temperature of a black body with a radiance, degC.
fn black(wavelength_m: f64, radiance: f64) -> f64 {
    C2 / (wavelength_m * (1.0 / radiance).ln_1p()) - ZERO_C
}

impl Instrument {
    /// A meter or couple that shows the truth.
    #[must_use]
    pub fn plain(name: &str, principle: Principle) -> Instrument {
        Instrument {
            name: name.to_owned(),
            principle,
            emissivity: 1.0,
            emissivity_sd: 0.0,
            transmission: 1.0,
            spot_share: 1.0,
            background_c: 25.0,
            loose_scale_k: 0.0,
            bias: 0.0,
            bias_sd: 0.0,
            class: 0.0,
            sd: None,
            reads: (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// Whether it sees the outside of the part.
    #[must_use]
    pub fn is_optical(&self) -> bool {
        matches!(self.principle, Principle::OneBand { .. } | Principle::TwoBands { .. })
    }

    /// Seconds by which it is late.
    #[must_use]
    pub fn late_s(&self) -> f64 {
        match self.principle {
            Principle::Couple { time_constant_s } => time_constant_s,
            _ => 0.0,
        }
    }

    /// What is received in a band: the part, what it reflects, and what lies beside it.
    fn received(&self, wavelength_m: f64, emissivity: f64, temp_c: f64) -> f64 {
        let (of, around) = (
            radiance(wavelength_m, temp_c),
            radiance(wavelength_m, self.background_c),
        );
        let part = emissivity * of + (1.0 - emissivity) * around;
        self.transmission * (self.spot_share * part + (1.0 - self.spot_share) * around)
    }

    /// What it shows of a surface at `temp_c`; of a meter, of a value. `None` where it shows no temperature at all.
    #[must_use]
    pub fn shows(&self, temp_c: f64) -> Option<f64> {
        let outside = temp_c - self.loose_scale_k;
        let shown = match self.principle {
            Principle::OneBand {
                wavelength_m,
                set_emissivity,
                counts_background,
            } => {
                let set = set_emissivity.unwrap_or(self.emissivity);
                let got = self.received(wavelength_m, self.emissivity, outside);
                let around = match counts_background {
                    true => (1.0 - set) * radiance(wavelength_m, self.background_c),
                    false => 0.0,
                };
                black(wavelength_m, (got - around) / set)
            }
            Principle::TwoBands {
                wavelengths_m: (short, long),
                set_ratio,
                ratio,
            } => {
                let of = |wavelength, emissivity| self.received(wavelength, emissivity, outside);
                let got = of(short, self.emissivity) / of(long, (self.emissivity / ratio).min(1.0));
                ratio_temperature((short, long), got / set_ratio)?
            }
            Principle::Couple { .. } | Principle::Meter => temp_c,
        };
        Some(shown + self.bias).filter(|shown| shown.is_finite())
    }

    /// The temperature of a surface of which it shows `reading`; `None` where there is none.
    #[must_use]
    pub fn temperature(&self, reading: f64) -> Option<f64> {
        let mut temp = reading - self.bias;
        if matches!(self.principle, Principle::Couple { .. } | Principle::Meter) {
            return Some(temp);
        }
        for _ in 0..50 {
            let (here, next) = (self.shows(temp)?, self.shows(temp + 0.01)?);
            let slope = (next - here) / 0.01;
            if slope <= 0.0 || !slope.is_finite() {
                return None;
            }
            let step = ((reading - here) / slope).clamp(-200.0, 200.0);
            temp += step;
            if step.abs() < 1e-9 * (1.0 + temp.abs()) {
                break;
            }
        }
        (self.shows(temp)? - reading).abs().le(&1e-6).then_some(temp)
    }

    /// Scatter of single readings: as stated, or what is common practice where nothing is.
    #[must_use]
    pub fn scatter(&self, reading: f64) -> f64 {
        self.sd.unwrap_or(match self.principle {
            Principle::Meter => USUAL_SD_OF_METER * reading.abs(),
            _ => USUAL_SD_K,
        })
    }

    /// What is known of its bias at a temperature: its own and that of the emissivity. The class of a meter is the end of a
    /// uniform distribution (JCGM 100:2008, 4.3.7).
    #[must_use]
    pub fn whole_bias_sd(&self, temp_c: f64) -> f64 {
        let moved = |by: f64| {
            let emissivity = (self.emissivity + by).clamp(0.01, 1.0);
            Instrument {
                emissivity,
                ..self.clone()
            }
            .shows(temp_c)
        };
        let fixed = matches!(
            self.principle,
            Principle::OneBand {
                set_emissivity: Some(_),
                ..
            }
        );
        let of_emissivity = match (moved(0.5 * self.emissivity_sd), moved(-0.5 * self.emissivity_sd)) {
            (Some(high), Some(low)) if fixed => (high - low).abs(),
            _ => 0.0,
        };
        let of_class = self.class * temp_c.abs() / 3_f64.sqrt();
        self.bias_sd.hypot(of_emissivity).hypot(of_class)
    }

    /// Standard uncertainty of a temperature that it reads at the exit, K: scatter, and what is known of the bias. `None` of
    /// a couple of which nothing is said.
    #[must_use]
    pub fn exit_error_k(&self, temp_c: f64) -> Option<f64> {
        let bias_sd = self.whole_bias_sd(temp_c);
        let is_said = self.is_optical() || self.sd.is_some() || bias_sd > 0.0;
        let slope = self.shows(temp_c + 1.0)? - self.shows(temp_c)?;
        (is_said && slope > 0.0).then(|| self.sd.unwrap_or(EXIT_SD_K).hypot(bias_sd) / slope)
    }

    /// The setting of the emissivity with which it would show the temperature of the surface; `None` where it has none
    /// or none does.
    #[must_use]
    pub fn best_setting(&self, temp_c: f64) -> Option<f64> {
        let Principle::OneBand { wavelength_m, .. } = self.principle else {
            return None;
        };
        let got = self.received(wavelength_m, self.emissivity, temp_c - self.loose_scale_k);
        let setting = got / radiance(wavelength_m, temp_c - self.bias);
        (setting > 0.0 && setting <= 1.2).then_some(setting)
    }
}

/// The temperature at which the ratio of the black radiances of two bands is `ratio`, degC, by halving: the ratio rises
/// with the temperature.
fn ratio_temperature((short, long): (f64, f64), ratio: f64) -> Option<f64> {
    let of = |temp_c: f64| radiance(short, temp_c) / radiance(long, temp_c);
    let (mut low, mut high) = (0.0, 4000.0);
    if !(of(low)..of(high)).contains(&ratio) {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if of(middle) < ratio {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pyrometer(wavelength_um: f64, set: f64, emissivity: f64) -> Instrument {
        Instrument {
            emissivity,
            ..Instrument::plain(
                "p",
                Principle::OneBand {
                    wavelength_m: wavelength_um * 1e-6,
                    set_emissivity: Some(set),
                    counts_background: false,
                },
            )
        }
    }

    #[test]
    fn a_reading_leads_back_to_the_temperature() {
        let two = Principle::TwoBands {
            wavelengths_m: (0.95e-6, 1.05e-6),
            set_ratio: 1.0,
            ratio: 0.97,
        };
        for instrument in [
            pyrometer(1.0, 0.9, 0.8),
            pyrometer(3.9, 0.9, 0.7),
            Instrument {
                emissivity: 0.8,
                spot_share: 0.5,
                bias: 3.0,
                ..Instrument::plain("t", two)
            },
        ] {
            for temp in [800.0, 1000.0, 1250.0] {
                let shown = instrument.shows(temp).unwrap();
                assert!(
                    (instrument.temperature(shown).unwrap() - temp).abs() < 1e-6,
                    "{temp} {shown}"
                );
            }
        }
    }

    #[test]
    fn the_best_setting_shows_the_temperature() {
        let half = Instrument {
            spot_share: 0.5,
            ..pyrometer(1.0, 0.85, 0.85)
        };
        let set = half.best_setting(1150.0).unwrap();
        assert!((set - 0.425).abs() < 1e-3);
        let with = Instrument {
            spot_share: 0.5,
            ..pyrometer(1.0, set, 0.85)
        };
        assert!((with.shows(1150.0).unwrap() - 1150.0).abs() < 1e-6);
    }
}
