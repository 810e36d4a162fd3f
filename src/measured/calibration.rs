//! A fit as a calibration file, which line files name.

use super::fit::Fit;
use super::fitted::{Estimate, Told};

/// The text of the calibration file of a fit: `measured` is the line file whose measurements were used. What the readings do not
/// tell is left out, biases that went along too; `None` where nothing is left. Standard deviations are those with what was held known no better than its owners say.
#[must_use]
pub fn text(fit: &Fit, measured: &str, date: &str) -> Option<String> {
    let word = |text: &str| toml::Value::from(text).to_string();
    let mut out = String::from(
        "# Written by `billet fit`. A line file takes these numbers with calibration = \"this file\"; their spread goes\n\
         # into its guard bands.\n",
    );
    out.push_str(&format!("measured = {}\n", word(measured)));
    if !date.is_empty() {
        out.push_str(&format!("date = {}\n", word(date)));
    }
    out.push_str(&format!("readings = {}\nparts = {}\n", fit.readings, fit.parts));
    let is_bias = |e: &&Estimate| e.path.starts_with("instrument.") && e.is_narrowed();
    let told = fit.estimates.iter().filter(|e| e.told == Told::Alone);
    let numbers: Vec<&Estimate> = told.chain(fit.beside.iter().filter(is_bias)).collect();
    if numbers.is_empty() {
        return None;
    }
    for e in numbers {
        out.push_str(&number(e, &word(&e.path)));
    }
    Some(out)
}

fn number(e: &Estimate, path: &str) -> String {
    let unit = if e.unit.is_empty() {
        String::new()
    } else {
        format!("unit = \"{}\"\n", e.unit)
    };
    let (low, high) = e.interval;
    format!(
        "\n[[number]]\ninput = {path}\nvalue = {}\nsd = {}\n{unit}# before: {} +- {} ({}); from the readings {} to {}\n",
        digits(e.value),
        digits(e.whole_sd),
        digits(e.before.0),
        digits(e.before.1),
        e.source.replace(['\n', '\r'], " "),
        digits(low),
        digits(high),
    )
}

/// Seven significant digits, as TOML reads numbers.
fn digits(value: f64) -> String {
    let text = format!("{value:.6e}");
    text.parse::<f64>().map_or(text, |value| format!("{value:?}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measured::fitted::Convergence;
    use crate::measured::least::End;

    fn estimate(path: &str, sd: f64, told: Told) -> Estimate {
        Estimate {
            path: path.to_owned(),
            unit: String::new(),
            before: (0.8, 0.05),
            source: "invented".to_owned(),
            value: 0.75,
            sd,
            interval: (0.7, 0.8),
            whole_sd: sd,
            whole_interval: (0.7, 0.8),
            told,
        }
    }

    fn fit(estimates: Vec<Estimate>, beside: Vec<Estimate>) -> Fit {
        Fit {
            schema_version: 1,
            estimates,
            beside,
            correlations: Vec::new(),
            directions: Vec::new(),
            places: Vec::new(),
            outliers: Vec::new(),
            stretches: Vec::new(),
            held: Vec::new(),
            further: Vec::new(),
            parts: 1,
            readings: 2,
            convergence: Convergence {
                end: End::Converged,
                starts_agree: true,
                runs: 0,
                error_k: 0.0,
            },
            confidence: 0.95,
            refused: Vec::new(),
        }
    }

    #[test]
    fn only_what_the_readings_tell_is_written() {
        let untold = || estimate("billet.emissivity", 0.049, Told::Not);
        let bias = |sd: f64| estimate("instrument.camera.bias", sd, Told::Beside);
        assert_eq!(text(&fit(vec![untold()], vec![bias(0.045)]), "line.toml", ""), None);
        let written = text(&fit(vec![untold()], vec![bias(0.03)]), "line.toml", "").unwrap();
        assert!(
            written.contains("camera") && !written.contains("billet.emissivity"),
            "{written}"
        );
    }
}
