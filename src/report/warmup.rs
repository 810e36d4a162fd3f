//! A warm-up in words, as a table, a picture and CSV.

use super::ReportError;
use super::chart::{Axis, Drawing, LineChart, Rule, Series, Style};
use super::table::text_table;
use crate::line::warmup::{DieName, FromHot, Preheat, WarmPart, Warmup, WorstLimit};
use crate::units::Display;

/// The short answer, then the table of parts.
pub fn warmup_text(result: &Warmup, display: Display) -> String {
    let temp = |t: f64| format!("{:.0} {}", display.temperature(t), display.temperature_unit());
    let mut text = format!("{}\n", result.title);
    let parts = result.parts.len();
    text.push_str(&match (result.first_good, result.parts.iter().any(|p| p.good)) {
        (Some(1), _) => format!("All {parts} parts are good, the first included.\n"),
        (Some(n), _) => format!("Part {n} is the first good one; all later ones up to {parts} are good.\n"),
        (None, true) => {
            format!("No part from which on all are good: part {parts} still breaks a limit, earlier ones hold.\n")
        }
        (None, false) => format!("None of {parts} parts is good.\n"),
    });
    if let Some(first) = result.parts.first().filter(|p| !p.good).and_then(|p| p.worst.as_ref()) {
        text.push_str(&format!("Part 1 fails by {}.\n", limit_text(first, display)));
    }
    if let Some(preheat) = &result.preheat {
        text.push_str(&preheat_text(preheat, result, display));
    }
    if let Some(steady) = &result.steady {
        let verdict = match &steady.part.worst {
            Some(worst) if steady.part.good => format!("good, least margin {}", limit_text(worst, display)),
            Some(worst) => format!("BAD, {}", limit_text(worst, display)),
            None => "no limit judged".to_owned(),
        };
        text.push_str(&format!(
            "Steady work: {verdict}; found in {} parts, dies within {:.1} {} of it{}.\n",
            steady.evaluations,
            display.difference(steady.distance_k),
            display.difference_unit(),
            if steady.converged { "" } else { " (not settled)" }
        ));
        let count = result.parts.len() as u32;
        text.push_str(&format!(
            "All die faces are within {:.0} {} of steady work from {}part {} on.\n",
            display.difference(5.0),
            display.difference_unit(),
            if steady.near_from > count { "about " } else { "" },
            steady.near_from
        ));
        if let Some(hot) = &steady.from_hot {
            text.push_str(&from_hot_text(hot, display));
        }
    }
    for pause in &result.breaks {
        let first = pause.parts.first();
        let faces = first.map_or(String::new(), |part| {
            let coldest = part.faces.iter().map(|f| f.before_c).fold(f64::INFINITY, f64::min);
            format!("coldest tool face {} at restart; ", temp(coldest))
        });
        let good = match pause.first_good {
            Some(1) => "the first part after it is good".to_owned(),
            Some(n) => format!("part {n} after it is the first good one"),
            None => format!("no good part within {}", pause.parts.len()),
        };
        text.push_str(&format!("Break of {} min: {faces}{good}.\n", pause.minutes));
    }
    text.push('\n');
    text.push_str(&faces_table(result, display));
    text.push('\n');
    text.push_str(&parts_table(result, display));
    text
}

/// One sentence about dies that start hot.
fn from_hot_text(hot: &FromHot, display: Display) -> String {
    let start = format!("{:.0} {}", display.temperature(hot.start_c), display.temperature_unit());
    let settled = if hot.converged { "" } else { " (not settled)" };
    if hot.same {
        return format!("Dies that start at {start} come to the same state{settled}.\n");
    }
    let verdict = match &hot.part.worst {
        Some(worst) if hot.part.good => format!("good, least margin {}", limit_text(worst, display)),
        Some(worst) => format!("BAD, {}", limit_text(worst, display)),
        None => "no limit judged".to_owned(),
    };
    format!(
        "There is more than one steady state: the spray does not wet dies that start at {start} as it does these. They\nstay up to {:.0} {} off; {verdict}{settled}.\n",
        display.difference(hot.apart_k),
        display.difference_unit()
    )
}

fn preheat_text(preheat: &Preheat, result: &Warmup, display: Display) -> String {
    let start = result.dies.iter().map(|d| d.start_c).fold(f64::INFINITY, f64::min);
    let temp = |t: f64| format!("{:.0} {}", display.temperature(t), display.temperature_unit());
    let worth = format!(
        "100 K of preheat are worth {:.1} {} to the limit that decides",
        display.difference(preheat.gain_k_per_100_k),
        display.difference_unit()
    );
    match preheat.needed_c {
        Some(needed) if needed <= start => format!("No more preheat than {} is needed; {worth}.\n", temp(needed)),
        Some(needed) => format!("Dies at {} make part 1 good; {worth}.\n", temp(needed)),
        None => {
            let why = preheat
                .worst
                .as_ref()
                .map_or(String::new(), |w| format!(": {}", limit_text(w, display)));
            format!(
                "No preheat up to {} makes part 1 good{why}; {worth}.\n",
                temp(preheat.tried_to_c)
            )
        }
    }
}

fn limit_text(worst: &WorstLimit, display: Display) -> String {
    format!(
        "{:+.0} {} at {}, {} (limit {}, {})",
        display.difference(worst.margin_k),
        display.difference_unit(),
        worst.stage,
        worst.moment,
        worst.limit,
        worst.node
    )
}

fn faces_table(result: &Warmup, display: Display) -> String {
    let temp = |t: f64| format!("{:.0}", display.temperature(t));
    let unit = display.temperature_unit();
    let last = result.parts.last();
    let rows: Vec<Vec<String>> = result
        .dies
        .iter()
        .enumerate()
        .map(|(i, die)| {
            let of = |part: Option<&WarmPart>, get: fn(&crate::line::warmup::DieFace) -> f64| {
                part.and_then(|p| p.faces.get(i))
                    .map_or(String::from("-"), |f| temp(get(f)))
            };
            let steady = result.steady.as_ref().map(|s| &s.part);
            vec![
                format!("{}, {}", die.stage, die.body),
                temp(die.start_c),
                of(last, |f| f.before_c),
                of(steady, |f| f.before_c),
                of(steady, |f| f.peak_c),
                of(steady, |f| f.through_c),
                die.tempering_c.map_or("-".to_owned(), temp),
            ]
        })
        .collect();
    let last_word = format!(">part {}", result.parts.len());
    let header = [
        "tool face",
        ">part 1",
        &last_word,
        ">steady",
        ">peak",
        ">through",
        ">tempering",
    ];
    format!(
        "Mean face temperature when the part comes, and in steady work the hottest\nplace and the mean through the depth [{unit}]:\n{}",
        text_table(&header, &rows)
    )
}

fn parts_table(result: &Warmup, display: Display) -> String {
    let mut rows = Vec::new();
    let count = result.parts.len();
    for (index, part) in result.parts.iter().enumerate() {
        let turn = index > 0 && part.good != result.parts[index - 1].good;
        if !(index < 5 || index + 1 == count || turn || (index + 1) % 5 == 0) {
            continue;
        }
        rows.push(part_row(part, &part.number.to_string(), display));
    }
    if let Some(steady) = &result.steady {
        rows.push(part_row(&steady.part, "steady", display));
    }
    let (temp, margin) = (display.temperature_unit(), display.difference_unit());
    let header = [
        ">part",
        "",
        &format!(">margin {margin}"),
        &format!(">value {temp}"),
        "node",
        "decided at",
    ];
    text_table(&header, &rows)
}

fn part_row(part: &WarmPart, number: &str, display: Display) -> Vec<String> {
    let verdict = if part.good { "good" } else { "BAD" };
    match &part.worst {
        Some(worst) => vec![
            number.to_owned(),
            verdict.to_owned(),
            format!("{:+.1}", display.difference(worst.margin_k)),
            format!("{:.0}", display.temperature(worst.value)),
            worst.node.clone(),
            format!("{}, {}", worst.stage, worst.moment),
        ],
        None => vec![
            number.to_owned(),
            verdict.to_owned(),
            String::new(),
            String::new(),
            String::new(),
            "no limit".to_owned(),
        ],
    }
}

/// Die faces against the part number: each die when a part comes, with the steady values as the
/// last points and the lowest tempering limit as a line.
pub fn warmup_chart(result: &Warmup, display: Display) -> Drawing {
    let is_die = |die: &DieName| die.tempering_c.is_some();
    let mut series = Vec::new();
    for (i, die) in result.dies.iter().enumerate().filter(|(_, d)| is_die(d)) {
        let points = |get: fn(&crate::line::warmup::DieFace) -> f64| {
            result
                .parts
                .iter()
                .map(|p| (f64::from(p.number), p.faces.get(i).map(|f| display.temperature(get(f)))))
                .collect()
        };
        series.push(Series {
            name: format!("{}, {}", die.stage, die.body),
            points: points(|f| f.before_c),
            ink: i,
            dots: result.parts.len() <= 60,
            hidden: false,
        });
    }
    let peaks = |part: &WarmPart| {
        part.faces
            .iter()
            .zip(&result.dies)
            .filter(|(_, d)| is_die(d))
            .map(|(f, _)| f.peak_c)
            .fold(f64::NEG_INFINITY, f64::max)
    };
    series.push(Series {
        name: "hottest place of any".to_owned(),
        points: result
            .parts
            .iter()
            .map(|p| (f64::from(p.number), Some(display.temperature(peaks(p)))))
            .collect(),
        ink: result.dies.len(),
        dots: false,
        hidden: false,
    });
    let tempering = result
        .dies
        .iter()
        .filter_map(|d| d.tempering_c)
        .fold(f64::INFINITY, f64::min);
    let mut rules = Vec::new();
    if tempering.is_finite() {
        rules.push(Rule {
            value: display.temperature(tempering),
            upright: false,
            label: "tempering limit".to_owned(),
        });
    }
    if let Some(first) = result.first_good.filter(|n| *n > 1) {
        rules.push(Rule {
            value: f64::from(first),
            upright: true,
            label: format!("part {first}: first good"),
        });
    }
    LineChart {
        title: format!("{}: die faces when the part comes", result.title),
        x: Axis::new("part", ""),
        y: Axis::new("face temperature", display.temperature_unit()),
        series,
        rules,
        ..LineChart::default()
    }
    .draw(&Style::default())
}

/// One row a part: number, verdict, margin, then four temperatures a tool, degC.
///
/// # Errors
/// Text that cannot be encoded.
pub fn warmup_csv(result: &Warmup) -> Result<String, ReportError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let wrong = |e: csv::Error| ReportError::Text(e.to_string());
    let mut header = vec!["part".to_owned(), "good".to_owned(), "margin_k".to_owned()];
    for die in &result.dies {
        for what in ["before_c", "before_hottest_c", "peak_c", "after_c"] {
            header.push(format!("{}.{}.{what}", die.stage, die.body));
        }
    }
    writer.write_record(&header).map_err(wrong)?;
    for part in &result.parts {
        let mut row = vec![
            part.number.to_string(),
            part.good.to_string(),
            part.worst
                .as_ref()
                .map_or(String::new(), |w| format!("{:.2}", w.margin_k)),
        ];
        for face in &part.faces {
            for value in [face.before_c, face.before_hottest_c, face.peak_c, face.after_c] {
                row.push(format!("{value:.2}"));
            }
        }
        writer.write_record(&row).map_err(wrong)?;
    }
    let bytes = writer.into_inner().map_err(|e| ReportError::Text(e.to_string()))?;
    String::from_utf8(bytes).map_err(|e| ReportError::Text(e.to_string()))
}
