//! Texts of pictures and pages as a reader finds them: no text covers another or is cut, no word of English is
//! left in another language. Checked on what the examples give, in every language.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::picture::text_width;
use billet_thermal::inside::report::{Dossier, Language, Paper, View, bill, report_html, shapes, sheet_html};
use billet_thermal::units::Display;
use quick_xml::events::{BytesStart, Event};

/// An example: its name, its file, its run.
type Example = (String, Document, Trace);

/// All examples, run once on the quick grid.
fn examples() -> &'static [Example] {
    static RUN: std::sync::OnceLock<Vec<Example>> = std::sync::OnceLock::new();
    RUN.get_or_init(run_all)
}

fn run_all() -> Vec<Example> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    files.sort();
    assert!(files.len() >= 4);
    let options = RunOptions {
        resolution: Some(Resolution::Quick),
        ..RunOptions::default()
    };
    let one = |path: PathBuf| {
        let document = Document::load(&path).unwrap();
        let trace = run(document.plan(), &options).unwrap();
        (
            path.file_stem().unwrap().to_string_lossy().into_owned(),
            document,
            trace,
        )
    };
    files.into_iter().map(one).collect()
}

/// A text with its left, top, right and bottom.
type Boxed = (String, [f64; 4]);

fn attribute(tag: &BytesStart, name: &str) -> Option<String> {
    let found = tag.attributes().flatten().find(|a| a.key.as_ref() == name.as_bytes())?;
    Some(String::from_utf8_lossy(&found.value).into_owned())
}

fn number(tag: &BytesStart, name: &str) -> f64 {
    attribute(tag, name).and_then(|v| v.parse().ok()).unwrap_or(0.0)
}

/// The visible texts of a picture, and its size.
fn boxes(svg: &str) -> (Vec<Boxed>, [f64; 2]) {
    let mut reader = quick_xml::Reader::from_str(svg);
    let (mut texts, mut size) = (Vec::new(), [0.0; 2]);
    let (mut hidden, mut open): (Vec<bool>, Option<[f64; 5]>) = (Vec::new(), None);
    loop {
        match reader.read_event().unwrap() {
            Event::Start(tag) => {
                if tag.name().as_ref() == b"svg" && hidden.is_empty() {
                    let view = attribute(&tag, "viewBox").unwrap();
                    let all: Vec<f64> = view.split(' ').map(|v| v.parse().unwrap()).collect();
                    size = [all[2], all[3]];
                }
                if tag.name().as_ref() == b"text" {
                    let anchor = match attribute(&tag, "text-anchor").as_deref() {
                        Some("middle") => 0.5,
                        Some("end") => 1.0,
                        _ => 0.0,
                    };
                    let bold = attribute(&tag, "font-weight").is_some_and(|w| w == "bold");
                    let font = number(&tag, "font-size");
                    open = Some([number(&tag, "x"), number(&tag, "y"), font, anchor, f64::from(bold)]);
                }
                hidden.push(attribute(&tag, "display").is_some_and(|d| d == "none"));
            }
            Event::Text(text) => {
                let words = text.decode().unwrap().trim().to_owned();
                if let (Some([x, y, font, anchor, bold]), false) = (open, words.is_empty())
                    && !hidden.contains(&true)
                {
                    let wide = text_width(&words, font, bold > 0.0);
                    let left = x - anchor * wide;
                    texts.push((words, [left, y - 0.42 * font, left + wide, y + 0.42 * font]));
                }
            }
            Event::End(tag) => {
                if tag.name().as_ref() == b"text" {
                    open = None;
                }
                hidden.pop();
            }
            Event::Eof => break,
            _ => {}
        }
    }
    (texts, size)
}

/// What is wrong with the texts of a picture.
fn clashes(svg: &str) -> Vec<String> {
    let (texts, [width, height]) = boxes(svg);
    let mut wrong = Vec::new();
    for (k, (words, a)) in texts.iter().enumerate() {
        if a[0] < -1.0 || a[1] < -1.0 || a[2] > width + 1.0 || a[3] > height + 1.0 {
            wrong.push(format!("outside {width} x {height}: {words} {a:?}"));
        }
        if words.contains('\u{2026}') {
            wrong.push(format!("cut: {words}"));
        }
        for (other, b) in &texts[k + 1..] {
            let wide = a[2].min(b[2]) - a[0].max(b[0]);
            let high = a[3].min(b[3]) - a[1].max(b[1]);
            if wide > 1.0 && high > 1.0 {
                wrong.push(format!("{words} {a:?} over {other} {b:?}"));
            }
        }
    }
    wrong
}

/// The pictures of a page.
fn pictures(html: &str) -> impl Iterator<Item = String> {
    html.split("<svg").skip(1).map(|rest| {
        let end = rest.find("</svg>").unwrap();
        format!("<svg{}</svg>", &rest[..end])
    })
}

#[test]
fn no_text_of_any_picture_covers_another_or_is_cut() {
    // the check itself: texts one over the other, and one that sticks out
    let text = |x: f64, words: &str| format!("<text x=\"{x}\" y=\"50\" font-size=\"24\">{words}</text>");
    let bad = format!(
        "<svg viewBox=\"0 0 300 100\">{}{}</svg>",
        text(10.0, "one"),
        text(30.0, "two")
    );
    assert_eq!(clashes(&bad).len(), 1);
    let bad = format!("<svg viewBox=\"0 0 300 100\">{}</svg>", text(280.0, "sticks out"));
    assert_eq!(clashes(&bad).len(), 1);
    let mut wrong = Vec::new();
    for (name, document, trace) in examples() {
        for language in Language::ALL {
            let view = View::new(Display::Metric, language);
            let dossier = Dossier::new(trace, "line.toml", "");
            let report = report_html(&dossier, &view, Paper::A4);
            let mut all: Vec<String> = pictures(&report).collect();
            all.push(bill::bill_chart(trace, &view).svg);
            let drawn = shapes::shapes(document.plan());
            all.extend(drawn.iter().map(|(name, shape)| shapes::shape_svg(name, shape, &view)));
            for (k, svg) in all.iter().enumerate() {
                let found = clashes(svg);
                let place = format!("{name} {} picture {k}", language.code());
                wrong.extend(found.iter().map(|words| format!("{place}: {words}")));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} clashes\n{}",
        wrong.len(),
        wrong[..wrong.len().min(60)].join("\n")
    );
}

/// Words of at least four letters.
fn words(text: &str) -> BTreeSet<String> {
    let letters = text.split(|c: char| !c.is_alphabetic());
    letters
        .filter(|w| w.chars().count() > 3)
        .map(str::to_lowercase)
        .collect()
}

/// The text of a page between its tags, without style and script.
fn visible(html: &str) -> String {
    let mut html = html.to_owned();
    for tag in ["script", "style"] {
        // Code has signs of its own between its tags.
        while let Some(start) = html.find(&format!("<{tag}")) {
            let end = html[start..]
                .find(&format!("</{tag}>"))
                .map_or(html.len(), |end| start + end);
            html.replace_range(start..end, "");
        }
    }
    let mut out = String::new();
    for piece in html.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').unwrap_or((piece, ""));
        if !tag.starts_with("style") && !tag.starts_with("script") {
            out.push_str(text);
            out.push(' ');
        }
        if let Some(label) = tag.split("aria-label=\"").nth(1) {
            out.push_str(label.split('"').next().unwrap_or(""));
            out.push(' ');
        }
    }
    out
}

/// A word of a page is English left over when the English page has it too, the language does not use it itself,
/// and no name of the line file or source of a number brings it.
#[test]
fn no_word_of_english_is_left_in_another_language() {
    let file = |language: Language| {
        let name = format!("src/show/words/{}.toml", language.code());
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
    };
    let mut wrong = BTreeSet::new();
    for (name, document, trace) in examples() {
        let mut trace = trace.clone();
        let mut own = words(document.text());
        let hash = Dossier::new(&trace, "line.toml", "").input_hash();
        own.extend(words(&format!(
            "{} {} billet quick line.toml {hash}",
            trace.steel, trace.program
        )));
        trace.inputs.clear();
        trace.warnings.clear();
        for verdict in &mut trace.verdicts {
            verdict.limit.source.clear();
        }
        let page = |language: Language| {
            let view = View::new(Display::Metric, language);
            let mut dossier = Dossier::new(&trace, "line.toml", "");
            dossier.part = "A1".to_owned();
            let pages = sheet_html(&dossier, &view, Paper::A4) + &report_html(&dossier, &view, Paper::A4);
            words(&(visible(&pages) + &visible(&bill::bill_chart(&trace, &view).svg)))
        };
        let english = page(Language::En);
        for language in Language::ALL.into_iter().filter(|l| *l != Language::En) {
            let known = words(&file(language));
            for word in page(language) {
                if english.contains(&word) && !known.contains(&word) && !own.contains(&word) {
                    wrong.insert(format!("{name} {}: {word}", language.code()));
                }
            }
        }
    }
    let list: Vec<_> = wrong.iter().map(String::as_str).collect();
    assert!(wrong.is_empty(), "{} words\n{}", wrong.len(), list.join("\n"));
}
