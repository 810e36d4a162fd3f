//! The message files against each other and against the program; every cell through every renderer.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use unicode_width::UnicodeWidthStr;

use super::terminal::Terminal;
use super::words::{Message, Words, categories, file, plural};
use super::*;
use crate::units::Display;

/// Groups whose names are put together while running, from nodes, moments, tools and settings.
const DYNAMIC: [&str; 6] = ["node.", "zone.", "moment.", "term.", "set.", "warning."];

fn places(text: &str) -> BTreeSet<&str> {
    text.split('{')
        .skip(1)
        .filter_map(|rest| rest.split_once('}').map(|(name, _)| name))
        .collect()
}

fn forms(message: &Message) -> Vec<&str> {
    match message {
        Message::Plain(text) => vec![text],
        Message::Plural(forms) => forms.values().map(String::as_str).collect(),
    }
}

#[test]
fn every_language_has_every_message_with_the_same_places() {
    let english = Words::of(Language::En);
    assert!(english.messages.len() > 200);
    for language in Language::ALL {
        let parsed: Result<BTreeMap<String, BTreeMap<String, Message>>, _> = toml::from_str(file(language));
        assert!(parsed.is_ok(), "{}: {:?}", language.code(), parsed.err());
        let words = Words::of(language);
        let (ours, theirs): (BTreeSet<_>, BTreeSet<_>) =
            (words.messages.keys().collect(), english.messages.keys().collect());
        // the English of a warning stands where it is raised
        let raised = |key: &&&String| key.starts_with("warning.") && language != Language::En;
        let difference: Vec<_> = ours.symmetric_difference(&theirs).filter(|key| !raised(key)).collect();
        assert!(difference.is_empty(), "{}: {difference:?}", language.code());
        for (key, message) in &words.messages {
            let source = english
                .messages
                .get(key)
                .or_else(|| Words::of(Language::De).messages.get(key));
            let expected = places(forms(source.unwrap())[0]);
            for form in forms(message) {
                assert!(!form.trim().is_empty(), "{key} in {}", language.code());
                assert_eq!(places(form), expected, "places of {key} in {}", language.code());
            }
            if let Message::Plural(forms) = message {
                let has: Vec<&str> = forms.keys().map(String::as_str).collect();
                assert_eq!(has, categories(language), "forms of {key} in {}", language.code());
            }
        }
    }
}

/// All string literals of the sources that look like a key of a message file.
fn literals() -> BTreeSet<String> {
    fn walk(folder: &Path, found: &mut BTreeSet<String>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, found);
            } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("show/tests.rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                for piece in text.split('"') {
                    let known = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '_' | '.');
                    if piece.split('.').count() == 2 && !piece.ends_with('.') && piece.chars().all(known) {
                        found.insert(piece.to_owned());
                    }
                }
            }
        }
    }
    let mut found = BTreeSet::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut found);
    found
}

#[test]
fn the_program_names_every_message_and_only_messages_that_exist() {
    let messages = &Words::of(Language::En).messages;
    let named = literals();
    let groups: BTreeSet<&str> = messages.keys().filter_map(|key| key.split('.').next()).collect();
    let files = ["css", "csv", "html", "js", "json", "svg", "toml"];
    for key in &named {
        let (group, name) = key.split_once('.').unwrap();
        if groups.contains(group) && !files.contains(&name) {
            assert!(messages.contains_key(key), "no message \"{key}\"");
        }
    }
    for key in messages.keys() {
        let dynamic = DYNAMIC.iter().any(|group| key.starts_with(group));
        assert!(dynamic || named.contains(key), "nobody says \"{key}\"");
    }
}

#[test]
fn counts_choose_the_plural_form() {
    for (n, form) in [
        (1.0, "one"),
        (2.0, "few"),
        (5.0, "many"),
        (12.0, "many"),
        (22.0, "few"),
        (0.0, "many"),
    ] {
        assert_eq!(plural(Language::Pl, n), form, "{n} in Polish");
    }
    for (n, form) in [(1.0, "one"), (4.0, "few"), (5.0, "other"), (22.0, "other")] {
        assert_eq!(plural(Language::Cs, n), form, "{n} in Czech");
    }
    assert_eq!((plural(Language::Fr, 0.0), plural(Language::En, 0.0)), ("one", "other"));
    assert_eq!(plural(Language::Zh, 1.0), "other");
}

fn german() -> View {
    View::new(Display::Metric, Language::De)
}

fn us() -> View {
    View::from(Display::Us)
}

#[test]
fn margins_and_allowed_times_never_flatter() {
    let view = View::default();
    assert_eq!(Cell::number(18.97, Quantity::Margin).bare(&view), "18");
    assert_eq!(Cell::number(-0.2, Quantity::Margin).bare(&view), "-1");
    assert_eq!(Cell::Seconds(Seconds::allowed(4.29)).whole(&view), "4.2\u{a0}s");
    assert_eq!(Cell::Seconds(Seconds::allowed(0.04)).whole(&view), "none");
    let least: Cell = crate::judge::Bound::MinC(1150.2).into();
    let most: Cell = crate::judge::Bound::MaxC(1249.9).into();
    assert_eq!(least.whole(&view), "\u{2265}\u{a0}1151\u{a0}\u{b0}C");
    assert_eq!(most.whole(&view), "\u{2264}\u{a0}1249\u{a0}\u{b0}C");
    let allowed = Cell::allowed(Some(880.4), Some(1100.6), Quantity::Temperature);
    assert_eq!(allowed.whole(&view), "881\u{a0}\u{2013}\u{a0}1100\u{a0}\u{b0}C");
}

#[test]
fn the_quantity_decides_unit_decimals_and_conversion() {
    let whole = |value, quantity, view: &View| Cell::number(value, quantity).whole(view).replace('\u{a0}', " ");
    assert_eq!(whole(1200.0, Quantity::Temperature, &us()), "2192 \u{b0}F");
    assert_eq!(whole(10.0, Quantity::Margin, &us()), "18 F\u{b0}");
    assert_eq!(whole(0.0254, Quantity::Length, &us()), "1.00 in");
    assert_eq!(whole(12_340.0, Quantity::Heat, &german()), "12,34 kJ");
    assert_eq!(whole(5_000.0, Quantity::Coefficient, &german()), "5000 W/(m\u{b2} K)");
    assert_eq!(whole(1.26e6, Quantity::EnergyPerTonne, &german()), "350,0 kWh/t");
    assert_eq!(whole(3e-4, Quantity::Probability, &german()), "300 ppm");
    assert_eq!(whole(f64::NAN, Quantity::Heat, &german()), "");
    assert_eq!(Cell::number(-0.001, Quantity::Effect).signed().bare(&us()), "0.00");
    assert_eq!(Cell::number(0.2, Quantity::Effect).signed().bare(&german()), "+0,20");
}

/// A table with a cell of every kind.
fn every_cell() -> Table {
    let limit = crate::judge::Bound::MaxDifferenceK(40.0);
    let cells = vec![
        Cell::Empty,
        say("word.stage").into(),
        Cell::name("=HYPERLINK(\"x\")<b>\u{1b}[2J\u{202e}"),
        Cell::Node("flash.mean".to_owned()),
        Cell::Moment(crate::judge::Moment::LastBlow),
        Cell::Term("lower die".to_owned()),
        Cell::number(-3.25, Quantity::Effect),
        limit.into(),
        Cell::range(1.0, 2.0, Quantity::Power),
        Cell::Seconds(Seconds::Any),
        Cell::Mark(Mark::Broken, say("verdict.broken")),
        Cell::List(vec![Cell::count(1), Cell::count(2)]),
        Cell::name("a").joined(Joint::Brackets, Cell::count(3)),
    ];
    let columns = cells.iter().map(|_| Column::words(say("word.what"))).collect();
    Table::new(columns).caption(say("word.limit")).row(cells)
}

#[test]
fn every_cell_goes_through_every_renderer() {
    let blocks = [
        Block::heading(Cell::name("title")),
        Block::sentence(say("word.stage")),
        Block::Table(every_cell()),
        Block::Note(NoteKind::Warning, say("word.stage").into()),
    ];
    for language in Language::ALL {
        let view = View::new(Display::Us, language);
        for width in [60, 80, 160] {
            let text = terminal::text(&blocks, &view, Terminal { width, colour: false });
            assert!(text.lines().all(|line| line.width() <= width), "{text}");
            assert!(!text.contains(['\u{1b}', '\u{202e}', '\u{a0}']), "{text}");
        }
        let html = html::markup(&blocks, &view).into_string();
        assert!(
            html.contains("&lt;b&gt;") && !html.contains(['\u{1b}', '\u{202e}']),
            "{html}"
        );
        let csv = csv::text(&blocks, &view, csv::Dialect::of(&view)).unwrap();
        assert!(
            csv.contains("'=HYPERLINK") && !csv.contains(['\u{1b}', '\u{202e}']),
            "{csv}"
        );
        let number = if view.decimal_comma { "-5,85" } else { "-5.85" };
        for text in [terminal::text(&blocks, &view, Terminal::default()), csv] {
            assert!(text.replace(['\n', ' '], "").contains(number), "{text}");
        }
        assert!(
            html.contains(number) || html.contains(&number.replace('-', "\u{2212}")),
            "{html}"
        );
    }
}

#[test]
fn colour_adds_nothing_but_colour() {
    let blocks = [Block::Table(every_cell())];
    let plain = terminal::text(&blocks, &View::default(), Terminal::default());
    let coloured = terminal::text(
        &blocks,
        &View::default(),
        Terminal {
            width: 80,
            colour: true,
        },
    );
    assert!(coloured.contains("\u{1b}[1;31m"));
    assert_eq!(coloured.replace("\u{1b}[1;31m", "").replace("\u{1b}[0m", ""), plain);
}

#[test]
fn spreadsheets_run_nothing() {
    for text in ["=1+1", "+1", "-a", "@x", "\tx"] {
        assert_eq!(csv::harmless(text), format!("'{text}"));
    }
    assert_eq!(csv::field("-12.5"), "-12.5");
    assert_eq!(csv::field("-flash"), "'-flash");
    let table = Table::new(vec![
        Column::words(say("word.node")),
        Column::numbers(say("word.margin"), Quantity::Difference),
    ])
    .row(vec![Cell::name("=a;b"), Cell::number(-1.5, Quantity::Difference)]);
    let blocks = [Block::Table(table)];
    let csv = csv::text(&blocks, &german(), csv::Dialect::of(&german())).unwrap();
    assert!(csv.ends_with("\"'=a;b\";-1,5\n"), "{csv}");
}

#[test]
fn a_value_with_braces_is_no_place() {
    let text = say("steel.also").with("names", Cell::name("{names} {n}"));
    assert_eq!(Cell::from(text).whole(&View::default()), "Also called {names} {n}.");
}

/// Every warning that the sources raise has its words in the nine languages, and those ask for no value that the
/// warning does not tell.
#[test]
fn warnings_have_words_in_every_language() {
    let text = |path: &str| std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    let mut codes: BTreeSet<String> = BTreeSet::new();
    let raise = ["warn(\"", "Warning::new(\"", "warn(\n            \"", "code: \""];
    for file in ["heater", "section", "forming", "steel_limit", "scale", "induction"] {
        let source = text(&format!("src/line/file/check/{file}.rs"));
        for start in raise {
            codes.extend(
                source
                    .split(start)
                    .skip(1)
                    .filter_map(|rest| Some(rest.split_once('"')?.0.to_owned())),
            );
        }
    }
    for file in [
        "src/line/run/forming.rs",
        "src/line/run/record.rs",
        "src/line/warmup/answers.rs",
    ] {
        let source = text(file);
        let news = source.split("Warning::new(\"").skip(1);
        codes.extend(news.filter_map(|rest| Some(rest.split_once('"')?.0.to_owned())));
    }
    assert!(codes.len() > 8, "{codes:?}");
    for language in Language::ALL.into_iter().filter(|l| *l != Language::En) {
        for code in &codes {
            let key = format!("warning.{}", code.replace('-', "_"));
            assert!(
                Words::of(language).id(&key).is_some(),
                "no {key} in {}",
                language.code()
            );
        }
    }
    let mut warning = crate::judge::Warning::new("no-limits", "English".to_owned());
    assert_eq!(super::warning(&warning, &german()).whole(&german()), "English");
    warning.tell("metal", crate::judge::Datum::Name("C45".to_owned()));
    assert!(
        super::warning(&warning, &german())
            .whole(&german())
            .starts_with("C45 hat keine")
    );
    assert_eq!(super::warning(&warning, &us()).whole(&us()), "English");
}
