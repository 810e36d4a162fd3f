//! Fits against known truths: logs made with other numbers, instruments that err as stated.

use std::path::Path;

use billet_thermal::Resolution;
use billet_thermal::inside::ask::line_model::LineModel;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::measured::{Bench, Fit, MeasuredError, Told, Wanted, fit};

use crate::measured_support::{LINE, MEASURED, Truth, log, parts};

fn bench(folder: &Path, text: &str) -> Bench {
    let document = Document::parse(text, folder.join("line.toml")).unwrap();
    Bench::new(&LineModel::new(document).at(Resolution::Quick)).unwrap()
}

fn wanted(paths: &[(&str, Option<f64>)]) -> Vec<Wanted> {
    let of = |(path, sd): &(&str, Option<f64>)| Wanted {
        path: (*path).to_owned(),
        sd: *sd,
        mean: None,
    };
    paths.iter().map(of).collect()
}

fn fitted(truth: &Truth, seed: u64, paths: &[(&str, Option<f64>)]) -> Result<Fit, MeasuredError> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("log.csv"), log(&parts(LINE, truth, seed))).unwrap();
    fit(
        &bench(folder.path(), &format!("{LINE}{MEASURED}")),
        &wanted(paths),
        0.95,
    )
}

const EMISSIVITY: (&str, Option<f64>) = ("billet.emissivity", Some(0.06));
const PYROMETER: (&str, Option<f64>) = ("instrument.exit pyrometer.bias", None);
const SUPPORT: (&str, Option<f64>) = ("stage.on the rest.support.w_m2k", Some(300.0));

/// Emissivity and the bias of the pyrometer from a camera before and after a time in air, within their intervals.
#[test]
fn a_known_truth_is_found_within_its_intervals() {
    let truth = Truth {
        inputs: vec![("billet.emissivity", 0.80)],
        bias_k: (4.0, 0.0),
        ..Truth::default()
    };
    let found = fitted(&truth, 3, &[EMISSIVITY, PYROMETER]).unwrap();
    println!("{:#?}", found);
    for (estimate, truth) in found.estimates.iter().zip([0.80, 4.0]) {
        let (low, high) = estimate.interval;
        assert!(
            low <= truth && truth <= high,
            "{}: {low} to {high}, true {truth}",
            estimate.path
        );
    }
    assert!(found.estimates[0].sd < 0.03);
    assert_eq!(found.estimates[0].told, Told::Alone);
    assert!(found.refused.is_empty(), "{:?}", found.refused);
    assert!(found.convergence.error_k < 0.5);
}
