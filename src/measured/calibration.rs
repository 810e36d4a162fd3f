//! A fit as a calibration file, which line files name.

use super::fit::Fit;
use super::fitted::Estimate;

/// The text of the calibration file of a fit: `measured` is the line file whose measurements were used. Standard
/// deviations are those with what was held known no better than its owners say.
#[must_use]
pub fn text(fit: &Fit, measured: &str, date: &str) -> String {
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
    let biases = fit.beside.iter().filter(|e| e.path.starts_with("instrument."));
    for e in fit.estimates.iter().chain(biases) {
        out.push_str(&number(e, &word(&e.path)));
    }
    out
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
