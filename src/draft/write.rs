//! The line file that the answers make.

use std::fmt::Write;

use super::answer::{Answers, Refused};
use super::impressions::Impressions;
use super::kind::Kind;
use super::profile::{self, Ring};
use super::questions::{self, has_flash, rings, volume_mm3};

/// The text of the line file, before the remarks on its defaults.
///
/// # Errors
/// Shapes of a table that do not have the volume of the billet.
pub fn write(kind: Kind, answers: &Answers, table: Option<&Impressions>) -> Result<String, Refused> {
    let mut text = Text {
        out: String::new(),
        answers,
    };
    text.line(
        "# Made by `billet new` from answers. What was not said is marked `assumed`. What the program takes by itself is a",
    );
    text.line("# remark with `default` and the reason: take away its first `#` to give your own number.");
    text.line(&format!("title = {}", quoted(answers.text("title"))));
    text.table("[billet]");
    text.line(&format!("steel = {}", quoted(answers.text("steel"))));
    text.number("diameter_mm", "diameter_mm", "cold size");
    text.number("length_mm", "length_mm", "");
    text.table("[shop]");
    text.number("ambient_c", "ambient_c", "");
    if kind == Kind::CoilLine {
        text.number("takt_s", "takt_s", "from billet to billet");
    }
    heater(&mut text, kind);
    let count = answers.count("impressions");
    if count > 0 {
        text.table("[die]");
        text.number("bulk_c", "die_c", "");
    }
    if kind == Kind::LongPart {
        sections(&mut text);
    }
    let mut before = held(answers.number("length_mm").unwrap_or(0.0), 25.0);
    if count == 0 {
        carry(
            &mut text,
            "to the next station",
            "move.1.seconds",
            Some(("grip_end", before)),
            true,
        );
    }
    for k in 1..=count {
        let name = answers.text(&format!("impression.{k}.name")).to_owned();
        let grip = match (kind, k) {
            (_, 1) => Some(("grip_end", before)),
            (Kind::LongPart, _) => None,
            _ => Some(("free_end", before)),
        };
        carry(
            &mut text,
            &questions::move_to(&name),
            &format!("move.{k}.seconds"),
            grip,
            k == 1,
        );
        before = held(forge(&mut text, kind, k, &name, table)?, 15.0);
    }
    let flash = kind != Kind::LongPart && count > 0 && has_flash(count, answers, table);
    if let Some(reason) = answers.assumed("trim_s").filter(|_| flash) {
        text.line("");
        text.line(&format!("# No stage of kind \"trim\": assumed: {reason}"));
    }
    if flash && answers.number("trim_s").is_some() {
        carry(
            &mut text,
            questions::TO_TRIMMING,
            "trim_s",
            Some(("free_end", before)),
            false,
        );
        text.table("[[stage]]");
        text.line("kind = \"trim\"");
        text.line(&format!("name = \"{}\"", questions::TRIMMING));
        text.line(
            "removes = [\"flash\"]  # assumed: the flash alone; add \"web\" where it is pierced in the same stroke",
        );
    }
    text.line("");
    text.line(
        "# No [[limit]]: those of the steel are judged. One of your own looks like this (see `billet schema --keys`):",
    );
    text.line("# [[limit]]");
    text.line("# moment = \"first blow\"");
    text.line("# node = \"surface\"");
    text.line("# min_c = 1050  # an example, not a property of this steel");
    text.line("# source = \"process window of the part\"");
    Ok(text.out)
}

/// A text that grows by lines.
struct Text<'a> {
    out: String,
    answers: &'a Answers,
}

impl Text<'_> {
    fn line(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }

    fn table(&mut self, head: &str) {
        self.out.push('\n');
        self.line(head);
    }

    /// A key with an answer, and where it comes from.
    fn number(&mut self, key: &str, of: &str, remark: &str) {
        let mut line = format!("{key} = {}", self.answers.text(of));
        let assumed = self.answers.assumed(of).map(|reason| format!("assumed: {reason}"));
        let remarks: Vec<&str> = [Some(remark), assumed.as_deref()]
            .into_iter()
            .flatten()
            .filter(|r| !r.is_empty())
            .collect();
        if !remarks.is_empty() {
            // Writing to a string cannot fail.
            let _ = write!(line, "  # {}", remarks.join("; "));
        }
        self.line(&line);
    }
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// Length that jaws hold of something this long, mm: no more than a fifth of it.
fn held(length_mm: f64, most_mm: f64) -> f64 {
    profile::rounded((0.2 * length_mm).min(most_mm).max(1.0).floor().max(1.0))
}

fn heater(text: &mut Text<'_>, kind: Kind) {
    text.table("[heater]");
    match kind {
        Kind::Furnace => {
            text.line("kind = \"furnace\"");
            text.number("temperature_c", "furnace_c", "");
            text.number("minutes", "minutes", "");
            text.number("start_c", "start_c", "");
        }
        Kind::CoilLine => {
            text.line("kind = \"coil_line\"       # `billet heat` finds the powers that reach the target");
            text.number("start_c", "start_c", "");
            text.number("bore_mm", "bore_mm", "inside of the windings");
            text.number("frequency_hz", "frequency_hz", "");
            text.table("[heater.target]");
            text.number("temperature_c", "target_c", "mean of the billet at the exit");
            for k in 1..=text.answers.count("coils") {
                text.table("[[heater.zone]]");
                text.line("kind = \"coil\"");
                text.line(&format!("name = \"coil {k}\""));
                text.number("length_mm", &format!("coil.{k}.length_mm"), "");
            }
        }
        _ => {
            text.line("kind = \"measured\"");
            text.number("surface_c", "exit_c", "pyrometer at the exit");
            text.number("core_below_surface_k", "core_below_k", "");
        }
    }
}

fn sections(text: &mut Text<'_>) {
    let count = text.answers.count("sections");
    text.line("");
    text.line("# Cross-sections from the grip end on; the right half of each is given below.");
    for k in 1..=count {
        text.out.push_str(if k > 1 { "\n" } else { "" });
        text.line("[[section]]");
        let name = quoted(text.answers.text(&format!("section.{k}.name")));
        text.line(&format!("name = {name}"));
        let rest = if k == count { "  # what the others leave" } else { "" };
        text.line(&format!("mass_percent = {}{rest}", percent(text.answers, k)));
        text.number("length_mm", &format!("section.{k}.length_mm"), "");
        text.line("symmetric = true  # assumed: its left half is as its right half");
    }
}

/// Share of the mass of a cross-section, %: the last one has what the others leave.
fn percent(answers: &Answers, section: usize) -> f64 {
    let given = |k: usize| answers.number(&format!("section.{k}.mass_percent"));
    given(section).unwrap_or_else(|| profile::rounded(100.0 - (1..section).filter_map(given).sum::<f64>()))
}

fn carry(text: &mut Text<'_>, name: &str, seconds: &str, grip: Option<(&str, f64)>, first: bool) {
    text.table("[[stage]]");
    text.line("kind = \"carry\"");
    text.line(&format!("name = {}", quoted(name)));
    text.number("seconds", seconds, "");
    if let Some((end, length_mm)) = grip {
        let reason = if first {
            "a fifth of the length, at most 25 mm"
        } else {
            "a fifth of the height, at most 15 mm"
        };
        text.line(&format!(
            "grip = {{ end = \"{end}\", length_mm = {length_mm} }}  # assumed: {reason}"
        ));
    }
}

/// Writes a forging stage; gives the height of the part after it, mm.
fn forge(text: &mut Text<'_>, kind: Kind, k: usize, name: &str, table: Option<&Impressions>) -> Result<f64, Refused> {
    text.table("[[stage]]");
    text.line("kind = \"forge\"");
    text.line(&format!("name = {}", quoted(name)));
    let blows = format!("impression.{k}.blows");
    if text.answers.has(&blows) {
        text.number("blows", &blows, "");
    }
    match questions::machine(kind, text.answers).as_str() {
        "crank-press" => {
            text.line("machine = \"mechanical\"");
            text.number("stroke_mm", "stroke_mm", "");
            text.number("strokes_per_min", "strokes_per_min", "");
        }
        "screw-press" => {
            text.line("machine = \"screw\"");
            text.number("ram_speed_m_s", "ram_m_s", "");
        }
        "hydraulic-press" => {
            text.line("machine = \"hydraulic\"");
            text.number("ram_speed_m_s", "ram_m_s", "");
        }
        _ => {}
    }
    match kind {
        Kind::LongPart => Ok(strips(text, k)),
        _ => shape(text, k, table),
    }
}

/// The rings of an impression; gives its height, mm.
fn shape(text: &mut Text<'_>, k: usize, table: Option<&Impressions>) -> Result<f64, Refused> {
    let refused = |why: String| Refused {
        key: format!("impression.{k}.shape"),
        why,
        range: profile::HELP.to_owned(),
    };
    let rings = rings(k, text.answers, table).map_err(refused)?;
    let (heights, computed) = profile::heights_mm(&rings, volume_mm3(text.answers)).map_err(refused)?;
    let bottoms = bottoms_mm(&rings, &heights);
    let top = bottoms
        .iter()
        .zip(&heights)
        .map(|(bottom, height)| bottom + height)
        .fold(0.0, f64::max);
    text.line("shape = [");
    let mut inner = 0.0;
    for (i, ring) in rings.iter().enumerate() {
        let mut row = String::from("    { ");
        if !ring.zone.is_empty() {
            let _ = write!(row, "zone = {}, ", quoted(&ring.zone));
        }
        if inner > 0.0 {
            let _ = write!(row, "inner_mm = {inner}, ");
        }
        let (bottom, height) = (bottoms[i], heights[i]);
        let _ = match bottom == 0.0 {
            true => write!(row, "outer_mm = {}, height_mm = {height} }},", ring.outer_mm),
            false => {
                let top = profile::rounded(bottom + height);
                write!(
                    row,
                    "outer_mm = {}, bottom_mm = {bottom}, top_mm = {top} }},",
                    ring.outer_mm
                )
            }
        };
        let height = match ring.height_mm {
            _ if computed != Some(i) => None,
            None => Some("height from the volume of the billet"),
            Some(_) => Some("height changed a little, so that the volume is that of the billet"),
        };
        let place = (bottom != 0.0 && ring.bottom_mm.is_none()).then_some("assumed: in the middle, at a parting line");
        let remarks: Vec<&str> = [height, place].into_iter().flatten().collect();
        if !remarks.is_empty() {
            let _ = write!(row, "  # {}", remarks.join("; "));
        }
        text.line(&row);
        inner = ring.outer_mm;
    }
    text.line("]");
    Ok(top)
}

/// Where the underside of each ring lies, mm: as said; a flash in the middle of the ring inside it and a web of the ring
/// around it, as at a parting line; others on the bottom.
fn bottoms_mm(rings: &[Ring], heights: &[f64]) -> Vec<f64> {
    let mut bottoms: Vec<f64> = rings.iter().map(|ring| ring.bottom_mm.unwrap_or(0.0)).collect();
    for (k, ring) in rings.iter().enumerate() {
        let beside = match (ring.zone.as_str(), ring.bottom_mm) {
            ("flash", None) => k.checked_sub(1),
            ("web", None) => Some(k + 1).filter(|next| *next < rings.len()),
            _ => None,
        };
        if let Some(beside) = beside {
            let middle = bottoms[beside] + 0.5 * heights[beside];
            bottoms[k] = profile::rounded((middle - 0.5 * heights[k]).max(0.0));
        }
    }
    bottoms
}

/// The strips of the cross-sections of a long part; gives the largest height, mm.
fn strips(text: &mut Text<'_>, k: usize) -> f64 {
    let answers = text.answers;
    let mut largest: f64 = 0.0;
    text.line("shape = [  # heights from the masses of the cross-sections");
    for s in 1..=answers.count("sections") {
        let number = |key: String| answers.number(&key).unwrap_or(1.0);
        let width = number(format!("impression.{k}.width.{s}_mm"));
        let length = number(format!("section.{s}.length_mm"));
        let volume = volume_mm3(answers) * percent(answers, s) / 100.0;
        let height = profile::rounded(volume / (length * width));
        largest = largest.max(height);
        let name = quoted(answers.text(&format!("section.{s}.name")));
        let right = profile::rounded(0.5 * width);
        text.line(&format!(
            "    {{ section = {name}, right_mm = {right}, height_mm = {height} }},"
        ));
    }
    text.line("]");
    largest
}
