//! What is asked of each kind of line, in the order of the line.

use super::answer::Answers;
use super::impressions::{Impressions, MOST};
use super::kind::Kind;
use super::profile::{self, Ring};
use super::question::{Question, Takes};
use crate::body::Place;
use crate::line::file::tables::RawHeater;
use crate::text::Allowed;

/// Temperatures that steel leaves a heater with for forging, degC.
const HOT_C: (f64, f64) = (500.0, 1400.0);
/// Lengths of moves and rests, s.
const SECONDS: (f64, f64) = (0.0, 600.0);

/// The question that comes next; `None` when all are answered.
pub fn next(kind: Kind, answers: &Answers, table: Option<&Impressions>) -> Option<Question> {
    all(kind, answers, table)
        .into_iter()
        .find(|question| !answers.has(&question.key))
}

/// All questions as far as the answers decide them.
pub fn all(kind: Kind, answers: &Answers, table: Option<&Impressions>) -> Vec<Question> {
    let mut asked = billet(kind);
    asked.extend(heater(kind, answers));
    asked.push(
        Question::number("ambient_c", "Air temperature of the shop?", "degC", (-40.0, 60.0))
            .or(25, "common practice: a forge at rest"),
    );
    if kind == Kind::LongPart {
        asked.extend(sections(answers));
    }
    asked.extend(forging(kind, answers, table));
    asked
}

/// Every question that a kind of line may come to, with two of everything that there can be several of.
pub fn every(kind: Kind) -> Vec<Question> {
    let mut answers = Answers::default();
    let mut keep = |key: &str, text: &str| answers.keep(key, text.to_owned(), None);
    for count in ["impressions", "coils", "sections"] {
        keep(count, "2");
    }
    for k in 1..=2 {
        keep(&format!("impression.{k}.name"), &format!("impression {k}"));
        keep(&format!("section.{k}.name"), &format!("part_{k}"));
        keep(&format!("impression.{k}.shape"), "body 66 x ?, flash 150 x 3");
    }
    let mut found: Vec<Question> = Vec::new();
    for machine in MACHINES {
        answers.keep("machine", machine.to_owned(), None);
        let mut at = 0;
        for question in all(kind, &answers, None) {
            match found.iter().position(|known| known.key == question.key) {
                Some(known) => at = known + 1,
                None => {
                    found.insert(at, question);
                    at += 1;
                }
            }
        }
    }
    found
}

fn billet(kind: Kind) -> Vec<Question> {
    let square = matches!(kind, Kind::Furnace | Kind::CoilLine);
    let mut asked = vec![
        Question::new("title", "What is made, on which line?", Takes::Text).like("Hub 124 x 67, hammer 2"),
        Question::new("steel", "Which steel?", Takes::Grade).like("42CrMo4"),
    ];
    let diameter = Question::number("diameter_mm", "Diameter of the billet, cold?", "mm", (5.0, 1000.0)).like("60");
    asked.push(diameter);
    let length = if kind == Kind::LongPart {
        "Length of the bar"
    } else {
        "Length of the billet"
    };
    asked.push(Question::number("length_mm", &format!("{length}, cold?"), "mm", (5.0, 10000.0)).like("140"));
    if square {
        asked.push(
            Question::number("start_c", "How warm is a billet as it goes in?", "degC", (-40.0, 900.0))
                .or(20, "a bar from the store"),
        );
    }
    asked
}

fn heater(kind: Kind, answers: &Answers) -> Vec<Question> {
    let number = Question::number;
    match kind {
        Kind::Furnace => vec![
            number("furnace_c", "Temperature of the furnace?", "degC", HOT_C).like("1235"),
            number("minutes", "How long is a billet in it?", "min", (0.0, 3000.0)).like("70"),
        ],
        Kind::CoilLine => {
            let bar = answers.number("diameter_mm").unwrap_or(5.0);
            let lining = RawHeater::default().lining_mm.key.default_for("coil_line");
            let lining = 2.0 * lining.map_or(0.0, |(thickness, _)| thickness);
            let mut asked = vec![
                number("takt_s", "Time from billet to billet?", "s", (0.5, 3600.0)).like("14"),
                Question::new("coils", "How many coils?", Takes::Whole(1, 12)).like("3"),
            ];
            let coils = answers.count("coils");
            asked.extend((1..=coils).map(|k| {
                let words = format!("Length of coil {k}?");
                Question::number(format!("coil.{k}.length_mm"), &words, "mm", (50.0, 20000.0)).like("980")
            }));
            // The lining has to fit between bar and winding.
            let least = bar + lining + 1.0;
            asked.extend([
                Question {
                    answer: Takes::Number(Allowed {
                        low: least,
                        high: 5000.0,
                        low_open: false,
                    }),
                    ..number("bore_mm", "Inner diameter of the windings?", "mm", (least, 5000.0)).like("100")
                },
                number("frequency_hz", "Frequency?", "Hz", (40.0, 500_000.0)).like("1000"),
                number("target_c", "Mean temperature of the billet at the exit?", "degC", HOT_C).like("1230"),
            ]);
            asked
        }
        _ => vec![
            number("exit_c", "Surface temperature at heater exit?", "degC", HOT_C).like("1240"),
            Question {
                answer: Takes::Number(Allowed {
                    low: -200.0,
                    high: 400.0,
                    low_open: false,
                }),
                ..number(
                    "core_below_k",
                    "How much colder is the core then?",
                    "K",
                    (-200.0, 400.0),
                )
            }
            .or(
                20,
                "induction of bars around 60 mm, typical 0 to 50 K; 0 after soaking (from memory)",
            ),
        ],
    }
}

fn sections(answers: &Answers) -> Vec<Question> {
    let mut asked = vec![
        Question::new(
            "sections",
            "By how many cross-sections is the part followed?",
            Takes::Whole(1, 6),
        )
        .like("3"),
    ];
    let count = answers.count("sections");
    let mut left = 100.0;
    for k in 1..=count {
        let before = (1..k).map(|j| answers.text(&format!("section.{j}.name")).to_owned());
        let nodes = Place::ALL.iter().map(|place| place.word().to_owned());
        let taken: Vec<String> = before.chain(nodes).collect();
        let usual = free("part_", k, &taken);
        let name = Question::new(
            format!("section.{k}.name"),
            format!("Name of cross-section {k}, counted from the gripped end?"),
            Takes::Section(taken),
        );
        asked.push(name.or(usual, "its number"));
        if k < count {
            let share = Question::number(
                format!("section.{k}.mass_percent"),
                &format!("Which share of the mass does cross-section {k} have?"),
                "%",
                (0.0, (left - 0.1 * (count - k) as f64).max(0.1)),
            );
            asked.push(share.like("48"));
            left -= answers.number(&format!("section.{k}.mass_percent")).unwrap_or(0.0);
        }
        let words = "For which length of the forging does it stand?";
        asked.push(Question::number(format!("section.{k}.length_mm"), words, "mm", (1.0, 5000.0)).like("92"));
    }
    asked
}

/// The machines that are asked for.
const MACHINES: [&str; 4] = ["hammer", "crank-press", "screw-press", "hydraulic-press"];

/// The machine that a kind of line has, where that is no question.
pub(super) fn machine(kind: Kind, answers: &Answers) -> String {
    match kind {
        Kind::Hammer => "hammer".to_owned(),
        Kind::Press => "crank-press".to_owned(),
        Kind::ScrewPress => "screw-press".to_owned(),
        _ => answers.text("machine").to_owned(),
    }
}

fn forging(kind: Kind, answers: &Answers, table: Option<&Impressions>) -> Vec<Question> {
    let mut asked = Vec::new();
    let least = if kind.is_measured() { 1 } else { 0 };
    asked.push(
        Question::new(
            "impressions",
            "How many impressions (forging stages) follow?",
            Takes::Whole(least, MOST as u32),
        )
        .like("3"),
    );
    let count = answers.count("impressions");
    if count == 0 {
        asked.push(
            Question::number(
                "move.1.seconds",
                "How long from the heater to the next station?",
                "s",
                SECONDS,
            )
            .like("4.2"),
        );
        return asked;
    }
    if !matches!(kind, Kind::Hammer | Kind::Press | Kind::ScrewPress) {
        let words = MACHINES.to_vec();
        asked.push(Question::new("machine", "On which machine?", Takes::Word(words)).like("crank-press"));
    }
    let machine = machine(kind, answers);
    asked.extend(speed(&machine));
    asked.push(
        Question::number("die_c", "Temperature of the dies under the face?", "degC", (0.0, 700.0))
            .or(200, "preheated dies at work, common practice 150 to 250 degC"),
    );
    for k in 1..=count {
        asked.extend(impression(kind, &machine, k, answers, table));
    }
    if kind != Kind::LongPart && has_flash(count, answers, table) {
        let allowed = Allowed {
            low: 0.0,
            high: 600.0,
            low_open: true,
        };
        let words = "How long to the trimming press?";
        asked.push(
            Question {
                unit: "s",
                ..Question::new("trim_s", words, Takes::NumberOr(allowed, "none"))
            }
            .or("none", "the flash is not trimmed hot on this line"),
        );
    }
    asked
}

/// The rings of an impression: those of the table, or as they were said.
pub(super) fn rings(number: usize, answers: &Answers, table: Option<&Impressions>) -> Result<Vec<Ring>, String> {
    match table.and_then(|table| table.0.get(number.checked_sub(1)?)) {
        Some(impression) => Ok(impression.rings.clone()),
        None => profile::parse(answers.text(&format!("impression.{number}.shape"))),
    }
}

/// Whether the last impression has a ring called flash that can be trimmed off.
pub(super) fn has_flash(count: usize, answers: &Answers, table: Option<&Impressions>) -> bool {
    let last = rings(count, answers, table);
    last.is_ok_and(|rings| rings.len() > 1 && rings.iter().any(|ring| ring.zone == "flash"))
}

/// Volume of the billet, mm³.
pub(super) fn volume_mm3(answers: &Answers) -> f64 {
    let number = |key: &str| answers.number(key).unwrap_or(0.0);
    std::f64::consts::FRAC_PI_4 * number("diameter_mm").powi(2) * number("length_mm")
}

/// How the ram moves.
fn speed(machine: &str) -> Vec<Question> {
    match machine {
        "crank-press" => vec![
            Question::number("stroke_mm", "Stroke of the press?", "mm", (10.0, 2000.0)).like("320"),
            Question::number(
                "strokes_per_min",
                "Strokes per minute of the running press?",
                "1/min",
                (5.0, 400.0),
            )
            .like("85"),
        ],
        "screw-press" => {
            vec![
                Question::number("ram_m_s", "Speed of the ram as it meets the part?", "m/s", (0.01, 3.0)).or(
                    0.6,
                    "friction and direct-driven screw presses, 0.5 to 0.8 m/s (from memory)",
                ),
            ]
        }
        "hydraulic-press" => {
            vec![
                Question::number(
                    "ram_m_s",
                    "Speed of the ram as it meets the part?",
                    "m/s",
                    (0.0005, 1.0),
                )
                .or(0.08, "forging presses, 0.03 to 0.25 m/s (from memory)"),
            ]
        }
        _ => Vec::new(),
    }
}

/// Usual time of a move between impressions, s, and its reason.
fn usual_move(machine: &str) -> (f64, &'static str) {
    match machine {
        "crank-press" => (1.0, "a transfer beam, common practice 0.8 to 1.5 s"),
        "hydraulic-press" => (3.0, "one robot between two dies, common practice 2 to 4 s"),
        _ => (
            1.5,
            "one arm between impressions side by side, common practice 1 to 2 s",
        ),
    }
}

/// A name with the first number from this one on that is not taken.
fn free(word: &str, from: usize, taken: &[String]) -> String {
    let mut number = from;
    while taken.contains(&format!("{word}{number}")) {
        number += 1;
    }
    format!("{word}{number}")
}

/// The stage of trimming, and the move to it.
pub(super) const TRIMMING: &str = "trimming";
pub(super) const TO_TRIMMING: &str = "to the trimming press";

/// The stage of a move.
pub(super) fn move_to(name: &str) -> String {
    format!("to {name}")
}

/// Names that impression `k` cannot have, because the file would have two stages of one name: those of the stages before
/// it, of trimming and of the moves, and those whose own move would be called as one of them. `heater` stands for the
/// heater in limits.
fn taken_by_stages(k: usize, answers: &Answers) -> Vec<String> {
    let before = (1..k).map(|j| answers.text(&format!("impression.{j}.name")).to_owned());
    let fixed = ["heater", TRIMMING, TO_TRIMMING].map(str::to_owned);
    let stages: Vec<String> = before.flat_map(|name| [move_to(&name), name]).chain(fixed).collect();
    let moves = stages
        .iter()
        .filter_map(|name| name.strip_prefix("to ").map(str::to_owned));
    moves.chain(stages.iter().cloned()).collect()
}

fn impression(kind: Kind, machine: &str, k: usize, answers: &Answers, table: Option<&Impressions>) -> Vec<Question> {
    let of_table = table.and_then(|table| table.0.get(k - 1));
    let taken = taken_by_stages(k, answers);
    let usual = free("impression ", k, &taken);
    let name = Question::new(
        format!("impression.{k}.name"),
        format!("Name of impression {k}?"),
        Takes::Name(taken),
    );
    let mut asked = vec![name.or(usual, "its number")];
    let move_key = format!("move.{k}.seconds");
    let after = match k {
        1 => "the heater".to_owned(),
        _ => format!("`{}`", answers.text(&format!("impression.{}.name", k - 1))),
    };
    let words = format!("How long from {after} into it?");
    let seconds = Question::number(move_key, &words, "s", SECONDS);
    asked.push(match k {
        1 => seconds.like("4.2"),
        _ => {
            let (usual, reason) = usual_move(machine);
            seconds.or(usual, reason)
        }
    });
    let blows = Question::new(
        format!("impression.{k}.blows"),
        "How many blows or strokes?",
        Takes::Whole(1, 200),
    );
    if machine == "hammer" || of_table.is_some_and(|of| of.blows.is_some()) {
        asked.push(blows.or(1, "one blow"));
    }
    if kind == Kind::LongPart {
        for s in 1..=answers.count("sections") {
            let words = format!(
                "Width of cross-section `{}` in it?",
                answers.text(&format!("section.{s}.name"))
            );
            asked
                .push(Question::number(format!("impression.{k}.width.{s}_mm"), &words, "mm", (1.0, 2000.0)).like("54"));
        }
    } else if of_table.is_none() {
        asked.push(
            Question::new(
                format!("impression.{k}.shape"),
                "Shape after it?",
                Takes::Rings(volume_mm3(answers)),
            )
            .like(if k == 1 {
                "92 x ?"
            } else {
                "body 66 x ?, flange 124 x 22, flash 150 x 3"
            }),
        );
    }
    asked
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draft::write;
    use crate::line::file::Document;

    /// A line of two impressions, named so; `None` where a name is refused.
    fn line(names: [&str; 2]) -> Option<String> {
        let mut answers = Answers::default();
        while let Some(question) = next(Kind::Hammer, &answers, None) {
            let given = match question.key.as_str() {
                "title" => "t",
                "steel" => "C45",
                "diameter_mm" => "60",
                "length_mm" => "140",
                "exit_c" => "1240",
                "impressions" => "2",
                "impression.1.name" => names[0],
                "impression.2.name" => names[1],
                "move.1.seconds" => "4",
                "impression.1.shape" => "92 x ?",
                "impression.2.shape" => "body 66 x ?, flash 150 x 3",
                "trim_s" => "6",
                _ => "",
            };
            let text = question.accept(given).ok()?;
            answers.keep(&question.key, text, None);
        }
        Some(write(Kind::Hammer, &answers, None).unwrap())
    }

    #[test]
    fn names_that_stages_have_are_refused_at_once() {
        for names in [
            ["heater", "b"],
            ["trimming", "b"],
            ["to the trimming press", "b"],
            ["the trimming press", "b"],
            ["a", "a"],
            ["a", "to a"],
            ["to b", "b"],
        ] {
            assert_eq!(line(names), None, "{names:?}");
        }
        // A default is free as well, and what is taken makes a file.
        for names in [
            ["", ""],
            ["impression 2", ""],
            ["heater 2", "trimming 2"],
            ["to b", "c"],
        ] {
            let text = line(names).unwrap();
            assert!(Document::parse(text.as_str(), "t.toml").is_ok(), "{names:?}: {text}");
        }
    }

    #[test]
    fn cross_sections_have_names_of_zones() {
        let mut answers = Answers::default();
        answers.keep("sections", "2".to_owned(), None);
        answers.keep("section.1.name", "part_2".to_owned(), None);
        let asked = all(Kind::LongPart, &answers, None);
        let name = asked.iter().find(|question| question.key == "section.2.name").unwrap();
        for wrong in ["part_2", "surface", "grip_end", "big end", "a.b"] {
            let refused = name.accept(wrong).unwrap_err().to_string();
            assert!(
                refused.contains("cross-section") && !refused.contains("stage"),
                "{refused}"
            );
        }
        assert_eq!(name.accept("").unwrap(), "part_3");
    }

    #[test]
    fn the_lining_of_the_file_fits_into_the_least_bore() {
        let mut answers = Answers::default();
        answers.keep("diameter_mm", "60".to_owned(), None);
        let asked = all(Kind::CoilLine, &answers, None);
        let bore = asked.iter().find(|question| question.key == "bore_mm").unwrap();
        assert!(bore.accept("80").is_err() && bore.accept("81").is_ok());
    }

    #[test]
    fn the_list_has_every_question() {
        let keys = |kind| -> Vec<String> { every(kind).into_iter().map(|question| question.key).collect() };
        for (kind, some) in [
            (Kind::Hammer, vec!["impression.2.shape", "impression.1.blows", "trim_s"]),
            (
                Kind::Furnace,
                vec!["stroke_mm", "strokes_per_min", "ram_m_s", "impression.2.blows"],
            ),
            (Kind::CoilLine, vec!["coil.2.length_mm", "machine", "move.2.seconds"]),
            (
                Kind::LongPart,
                vec!["section.1.mass_percent", "impression.2.width.2_mm", "ram_m_s"],
            ),
        ] {
            let keys = keys(kind);
            assert!(
                some.iter().all(|key| keys.iter().any(|known| known == key)),
                "{kind:?}: {keys:?}"
            );
            assert!(
                (1..keys.len()).all(|k| !keys[..k].contains(&keys[k])),
                "{kind:?}: {keys:?}"
            );
        }
    }
}
