//! The next order in the running heater, and a warm billet among cold ones.

use super::{came_of, course, numbers, powers, temperature};
use crate::ask::heating::{Following, Warm};
use crate::heater::line::{HeaterLine, Verdict};
use crate::show::{Block, Cell, NoteKind, Quantity, say};

/// The change to the next order.
pub(super) fn next(next: &Following, line: &HeaterLine) -> Vec<Block> {
    let study = &next.course.study;
    let (before, new) = Following::rejected(study);
    let text = match study.first_good {
        Some(first) => say("heat.next")
            .with("before", Cell::count(before))
            .with("new", Cell::count(new))
            .with("cold", numbers(study, Verdict::TooCold))
            .with("hot", numbers(study, Verdict::TooHot))
            .with("uneven", numbers(study, Verdict::Uneven))
            .with("first", Cell::count(first)),
        None => say("heat.next_never"),
    };
    let begin = study.billets.iter().find(|b| b.billet.order > 0);
    let begin = begin.map_or(say("heat.none").into(), |b| Cell::count(b.billet.number));
    let text = text
        .with("title", Cell::name(&next.title))
        .with("takt", Cell::number(next.takt_s, Quantity::Seconds))
        .with("powers", powers(&next.powers_w))
        .with("begin", begin);
    let mut blocks = vec![Block::sentence(text)];
    if !next.met {
        blocks.push(Block::Note(NoteKind::Caution, say("heat.next_missed").into()));
    }
    let never_c = next.criteria.never_above_c;
    blocks.extend(course(&next.course, line, (0.0, never_c), say("heat.steps_next")));
    if let [before_c, new_c] = study.order_peaks_c[..] {
        let text = say("heat.next_peaks")
            .with("before", temperature(before_c).up())
            .with("new", temperature(new_c).up());
        blocks.push(Block::sentence(text));
    }
    blocks.push(Block::sentence(came_of(say("heat.late"), &next.late)));
    blocks
}

/// A warm billet among the others.
pub(super) fn warm(warm: &Warm) -> Vec<Block> {
    let mut blocks = Vec::new();
    if let Some(one) = warm.study.billets.iter().find(|b| b.billet.number == warm.number) {
        let billet = &one.billet;
        let text = say("heat.warm")
            .with("start", temperature(warm.start_c))
            .with("surface", temperature(billet.surface_c))
            .with("core", temperature(billet.core_c))
            .with("mean", temperature(billet.mean_c))
            .with("peak", temperature(billet.peak_c).up())
            .with("others", Cell::number(warm.others_k, Quantity::Difference).signed());
        blocks.push(Block::sentence(text));
        let verdict = match one.verdict {
            Verdict::Good => None,
            Verdict::TooCold => Some(say("cause.too_cold")),
            Verdict::TooHot => Some(say("cause.too_hot")),
            Verdict::Uneven => Some(say("cause.too_uneven")),
        };
        if let Some(why) = verdict {
            let text = say("heat.warm_rejected").with("why", why);
            blocks.push(Block::Note(NoteKind::Caution, text.into()));
        }
    }
    let text = match warm.warmest_c {
        Some(c) => say("heat.warmest").with("t", temperature(c).down()),
        None => say("heat.warm_none"),
    };
    blocks.push(Block::sentence(text));
    blocks
}
