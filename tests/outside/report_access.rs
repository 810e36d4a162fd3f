//! Sheet, report and live page by an automatic checker of the WCAG 2.2 rules of level AA (the axe-core package of npm) in a
//! real browser. Skipped, with a word, where either is missing; `.ci/run` installs both.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::browser::headless;

const CHECKER: &str = "target/axe/node_modules/axe-core/axe.min.js";

/// What is checked.
const RULES: &str = r#"{ runOnly: { type: "tag", values:
    ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] } }"#;

/// How many rules applied and what breaks one.
const FOUND: &str = r#"(found) => [found.passes.length, found.violations.map((v) =>
    v.id + " at " + v.nodes.map((n) => n.target.join(" ")).join(", ")).join("; ")]"#;

/// What the checker finds on a page, `None` without browser or checker.
fn violations(html: &str, name: &str, width: u32, dark: bool) -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let checker = std::fs::read_to_string(root.join(CHECKER)).ok()?;
    let (mut browser, _profile) = headless()?;
    // Runs when the page stands, and leaves what it found in the title of the page.
    let run = format!(
        "axe.run(document, {RULES}).then({FOUND}).then((told) => {{ document.title = 'axe:' + told.join(':') + ':end'; }});"
    );
    // Reports carry a script of their own, which their policy allows; the checker comes as another.
    let page = html.replace(
        "</body>",
        &format!("<script>{checker}</script><script>{run}</script></body>"),
    );
    let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("access-{name}.html"));
    std::fs::write(&file, page).unwrap();
    let output = browser
        .args(["--virtual-time-budget=30000", "--dump-dom"])
        .args(dark.then_some("--blink-settings=preferredColorScheme=0"))
        .arg(format!("--window-size={width},900"))
        .arg(format!("file://{}", file.display()))
        .output()
        .unwrap();
    let dom = String::from_utf8_lossy(&output.stdout);
    let (_, found) = dom
        .split_once("<title>axe:")
        .unwrap_or_else(|| panic!("{name}: the checker did not end; {} bytes", dom.len()));
    let (passes, found) = found.split_once(":end</title>").unwrap().0.split_once(':').unwrap();
    assert!(
        passes.parse::<u32>().unwrap() >= 10,
        "{name}: only {passes} rules applied"
    );
    Some(found.to_owned())
}

#[test]
fn pages_hold_the_rules_of_accessibility() {
    let folder = tempfile::tempdir().unwrap();
    for (name, language, width, dark) in [
        ("hub", "en", 1280, false),
        ("hub", "de", 390, true),
        ("connecting-rod", "zh", 390, false),
        ("heater_line", "fr", 1280, true),
    ] {
        for kind in ["sheet", "report"] {
            let out = folder.path().join(format!("{name}-{kind}-{language}.html"));
            let done = Command::new(env!("CARGO_BIN_EXE_billet"))
                .current_dir(env!("CARGO_MANIFEST_DIR"))
                .args([
                    kind,
                    &format!("examples/{name}.toml"),
                    "--language",
                    language,
                    "--quiet",
                ])
                .args(["--out"])
                .arg(&out)
                .output()
                .unwrap();
            assert!(matches!(done.status.code(), Some(0 | 1)), "{done:?}");
            let html = std::fs::read_to_string(&out).unwrap();
            let label = format!("{name}-{kind}-{language}-{width}");
            match violations(&html, &label, width, dark) {
                Some(found) => assert_eq!(found, "", "{label}"),
                None => return println!("skipped: no browser, or no {CHECKER}"),
            }
        }
    }
}

#[test]
fn a_page_that_breaks_the_rules_is_found() {
    let page = "<!DOCTYPE html><html lang=\"en\"><head><title>t</title></head><body><main><h1>Heading</h1>\
                <p style=\"color:#bbb;background:#fff\">Too light to read.</p><p>a</p><ul><li>b</li></ul>\
                <svg role=\"img\" width=\"10\" height=\"10\"></svg></main></body></html>";
    if let Some(found) = violations(page, "wrong", 1280, false) {
        assert!(
            found.contains("color-contrast") && found.contains("svg-img-alt"),
            "{found}"
        );
    }
}

/// The live page with all that it can show opened. Its policy allows no script but its own; what comes over the debugging
/// protocol is not held by it.
#[cfg(feature = "page")]
#[test]
fn the_live_page_holds_the_rules_of_accessibility() {
    use super::browser::Browser;
    use super::live_page::{SETTLED, Served, copy};
    use serde_json::json;

    let Ok(checker) = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(CHECKER)) else {
        return println!("skipped: no {CHECKER}");
    };
    let Some(mut browser) = Browser::start() else {
        return println!("skipped: no browser");
    };
    let folder = tempfile::tempdir().unwrap();
    for (name, width, scheme) in [("hub.toml", 1280, "light"), ("pin.toml", 390, "dark")] {
        let served = Served::of(&copy(folder.path(), name));
        browser.size(width, 900);
        let features = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        browser.call("Emulation.setEmulatedMedia", json!({ "features": features }));
        browser.open(&served.url());
        browser.until(SETTLED);
        browser.value("document.querySelectorAll('details').forEach((one) => { one.open = true; })");
        browser.value(&format!("{checker}\n;true"));
        let found = browser.value(&format!("axe.run(document, {RULES}).then({FOUND})"));
        assert!(found[0].as_u64() >= Some(10), "{name}: {found}");
        assert_eq!(found[1], json!(""), "{name} {width} {scheme}");
    }
}
