//! What the dependencies promise: licences, versions, the lowest Rust version. No network is asked.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

/// Licences that go with ours, by their SPDX names.
const GOOD: [&str; 8] = [
    "MIT",
    "Apache-2.0",
    "Unlicense",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "Zlib",
    "Unicode-3.0",
];

/// Crates that are there in several versions, each because two of the crates that we name ask for different ones.
const DOUBLE: [&str; 5] = ["getrandom", "r-efi", "rand", "rand_core", "syn"];

fn packages() -> Vec<Value> {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--offline", "--locked", "--format-version", "1"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    metadata["packages"].as_array().unwrap().clone()
}

/// Whether an SPDX expression can be met by good licences: one of each `OR`, all of each `AND`.
fn is_good(expression: &str) -> bool {
    let expression = expression.replace('/', " OR ");
    let plain = |text: &str| text.trim_matches(['(', ')', ' ']).to_owned();
    let any = |text: &str| {
        let one = |word: &str| GOOD.contains(&plain(word).as_str());
        text.split(" OR ").any(one)
    };
    expression.split(" AND ").all(any)
}

#[test]
fn every_licence_goes_with_ours() {
    assert!(is_good("(MIT OR GPL-3.0) AND Unicode-3.0") && !is_good("GPL-3.0") && !is_good("MIT AND GPL-3.0"));
    for package in packages() {
        let licence = package["license"].as_str().unwrap_or_default();
        assert!(is_good(licence), "{}: {licence}", package["name"]);
    }
}

#[test]
fn no_crate_is_there_twice_without_need() {
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for package in packages() {
        let text = |key: &str| package[key].as_str().unwrap().to_owned();
        versions.entry(text("name")).or_default().insert(text("version"));
    }
    versions.retain(|_, versions| versions.len() > 1);
    let double: Vec<&String> = versions.keys().collect();
    assert_eq!(double, DOUBLE, "{versions:?}");
}

#[test]
fn no_dependency_needs_a_later_rust_than_we_promise() {
    let number = |text: &str| -> Vec<u32> { text.split('.').map(|part| part.parse().unwrap()).collect() };
    let ours = number(env!("CARGO_PKG_RUST_VERSION"));
    for package in packages() {
        if let Some(needs) = package["rust_version"].as_str() {
            assert!(
                number(needs)[..2] <= ours[..2],
                "{} needs Rust {needs}",
                package["name"]
            );
        }
    }
}
