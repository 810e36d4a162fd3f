//! Reheats: what each adds, what the rules allow, how the part is put back.

use crate::ask::reheat::{MOST_REHEATS, PUT_BACK_C, ReheatOptions, Reheats};
use crate::show::{Block, Cell, Column, Joint, Mark, NoteKind, Quantity, Table, say};

/// The whole answer.
pub fn blocks(title: &str, found: &Reheats, options: &ReheatOptions) -> Vec<Block> {
    let degrees = |c: f64| Cell::number(c, Quantity::Temperature);
    let put_back = say("reheat.put_back")
        .with("stage", Cell::name(&options.stage))
        .with("surface", degrees(found.put_back_c.0))
        .with("core", degrees(found.put_back_c.1));
    let mut blocks = vec![Block::heading(Cell::name(title)), Block::sentence(put_back)];
    let lasting = |s: f64| Cell::number(s, Quantity::Minutes);
    let times = say("reheat.times")
        .with("cool", lasting(options.cool_s))
        .with("heat", lasting(options.heat_s));
    blocks.push(Block::sentence(times));
    let allowed = match found.allowed() {
        Some(n) => say("reheat.allowed").count(n as usize),
        None => say("reheat.none_allowed"),
    };
    blocks.push(Block::sentence(allowed));
    let how = match found.is_cold_enough() {
        true => say("reheat.as_cold").with("limit", degrees(PUT_BACK_C)),
        false => say("reheat.too_hot").with("limit", degrees(PUT_BACK_C)),
    };
    blocks.push(Block::Note(NoteKind::Caution, how.into()));
    let thick = |m: f64| Cell::number(m, Quantity::Thickness).up();
    let mark = |good: bool| match good {
        true => Cell::Mark(Mark::Ok, say("reheat.yes")),
        false => Cell::Mark(Mark::Broken, say("reheat.no")),
    };
    let columns = vec![
        Column::numbers(say("reheat.reheats"), Quantity::Count),
        Column::mixed(say("metal.loss")),
        Column::mixed(say("metal.decarb")),
        Column::numbers(
            say("metal.above").with("t", degrees(crate::condition::part::COARSE_C)),
            Quantity::Seconds,
        ),
        Column::numbers(say("reheat.grain"), Quantity::Thickness),
        Column::words(say("reheat.within").with("allowance", thick(options.allowance_m))),
        Column::words(say("reheat.usual").with("most", Cell::count(MOST_REHEATS as usize))),
        Column::words(say("reheat.fine")),
    ];
    let rows = found.heats.iter().map(|h| {
        let pair = |(typical, high): (f64, f64)| thick(typical).joined(Joint::Brackets, thick(high));
        vec![
            Cell::count(h.reheats as usize),
            pair(h.metal_loss_m),
            h.decarburised_m.map_or(Cell::Empty, pair),
            Cell::number(h.above_s, Quantity::Seconds).up(),
            Cell::number(1e-6 * h.grain_um, Quantity::Thickness),
            mark(h.within_allowance),
            mark(h.usual),
            mark(h.fine),
        ]
    });
    blocks.push(Block::Table(Table::new(columns).rows(rows).note(say("reheat.note"))));
    blocks
}
