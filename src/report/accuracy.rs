//! How far the nodes may be off, and what the published spread of contact coefficients does.

use super::verdict::limit_stage;
use crate::ask::contact_spread::ContactSpread;
use crate::ask::estimate::ErrorEstimate;
use crate::judge::Verdict;
use crate::line::plan::Resolution;
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, judged, nodes, say};

/// The estimated error of every node; of the finest grid, that there is none.
pub fn error(estimate: Option<&ErrorEstimate>) -> Vec<Block> {
    let Some(estimate) = estimate else {
        let text = say("error.finest").with("r", Cell::name(Resolution::Fine.word()));
        return vec![Block::Note(NoteKind::Remark, text.into())];
    };
    let columns = vec![
        Column::words(say("word.node")),
        Column::numbers(say("error.difference"), Quantity::Effect),
        Column::words(say("error.where")),
    ];
    let rows = estimate.nodes.iter().map(|node| {
        let (stage, moment) = &node.place;
        vec![
            Cell::name(&node.node),
            Cell::number(node.difference_k, Quantity::Effect).up(),
            Cell::name(stage).joined(Joint::Comma, Cell::Moment(*moment)),
        ]
    });
    let caption = say("error.against").with("r", Cell::name(estimate.against.word()));
    vec![Block::Table(Table::new(columns).caption(caption).rows(rows))]
}

/// The verdicts at the low, typical and high end of what is published of contact.
pub fn contact(spread: &ContactSpread) -> Vec<Block> {
    if spread.coefficients.is_empty() {
        return vec![Block::sentence(say("spread.none"))];
    }
    let [low, typical, high] = &spread.levels;
    let columns = vec![
        Column::words(say("word.stage")),
        Column::words(say("word.moment")),
        Column::words(say("word.node")),
        Column::mixed(say("word.limit")),
        Column::mixed(say("spread.low")),
        Column::mixed(say("spread.typical")),
        Column::mixed(say("spread.high")),
    ];
    let rows = typical.verdicts.iter().map(|verdict| {
        let limit = &verdict.limit;
        let twin = |of: &[Verdict]| of.iter().find(|v| v.limit == *limit).map_or(Cell::Empty, value);
        vec![
            limit_stage(limit),
            Cell::Moment(limit.moment),
            nodes(limit),
            limit.bound.into(),
            twin(&low.verdicts),
            value(verdict),
            twin(&high.verdicts),
        ]
    });
    let names = spread.coefficients.iter().map(|path| Cell::name(*path)).collect();
    let caption = say("spread.caption").with("names", Cell::List(names));
    vec![Block::Table(Table::new(columns).caption(caption).rows(rows))]
}

fn value(verdict: &Verdict) -> Cell {
    let value = judged(verdict.limit.bound, verdict.value);
    match verdict.holds {
        true => value,
        false => Cell::Mark(Mark::Broken, say("spread.broken").with("value", value)),
    }
}
