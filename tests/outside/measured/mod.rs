//! What was measured against what the program computes, and the page that shows it.
//!
//! Every set is a list of rows with the source, the licence (in the file of the set), a few retyped numbers, the
//! uncertainty of the measurement and the bound that fails when the physics is wrong. The page
//! `tests/outside/README.md` is written from the rows: set `BILLET_WRITE_VALIDATION` to write it anew.

mod furnace;
mod jominy;
pub mod properties;
mod quench;
mod still_air;
mod verification;

use std::fmt::Write;

/// One comparison.
pub struct Row {
    /// What is compared.
    pub check: String,
    /// Where the reference comes from.
    pub source: &'static str,
    /// Unit of both numbers.
    pub unit: &'static str,
    /// Measured or exact.
    pub reference: f64,
    /// What the program computes.
    pub ours: f64,
    /// Uncertainty of the reference.
    pub uncertainty: &'static str,
    /// Largest deviation that is allowed, in the same unit.
    pub bound: f64,
}

/// One set of rows under a heading.
struct Set {
    heading: &'static str,
    rows: fn() -> Vec<Row>,
    open: &'static str,
}

const MEASURED: [Set; 9] = [
    Set {
        heading: "Quenched cylinders",
        rows: quench::rows,
        open: "Cylinders of 25 mm, whose ends count for more, were not compared; the film of the baths is not tested, only conduction and the loss in air.",
    },
    Set {
        heading: "Steel tube in a room fire",
        rows: furnace::tube_rows,
        open: "The four sides differ by 150 K and are taken in the mean; the wall thickness of 8 mm is second-hand, from a published model of the test.",
    },
    Set {
        heading: "Beams in a furnace to 1000 degC and cooled",
        rows: furnace::beam_rows,
        open: "The effective thickness of the flange is fitted to the reading at 900 s. A second beam, in the middle, ran some 100 K ahead and as far as 60 K ahead of what its plate thermometer explains: the gas was uneven. The grade is not stated, and the shift of the peak on cooling could be 85 or 150 K by these readings.",
    },
    Set {
        heading: "Conductivity",
        rows: properties::conductivity_rows,
        open: "Carbon and low-alloy steels have no measured set of their own here.",
    },
    Set {
        heading: "Heat content",
        rows: properties::heat_rows,
        open: "The place of the transformation on heating is that of one standard curve for all grades but die steels and 13 Cr steel.",
    },
    Set {
        heading: "Flow stress",
        rows: properties::flow_rows,
        open: "Nothing at hammer rates: 10 1/s is the fastest test. The tests deform up to a strain of 1.2 at most.",
    },
    Set {
        heading: "Scale",
        rows: properties::scale_rows,
        open: "One steel, one thickness; published kinetics differ by a factor of two.",
    },
    Set {
        heading: "Natural convection",
        rows: still_air::rows,
        open: "Below 100 degC only; at forging temperatures convection is 5 to 10 % of the loss.",
    },
    Set {
        heading: "End quench",
        rows: jominy::rows,
        open: "A table at second hand, without uncertainty; the film of the jet is taken as 20 kW/m2K, to which only the first millimetres are sensitive.",
    },
];

const EXACT: [Set; 1] = [Set {
    heading: "Exact and independent solutions",
    rows: verification::rows,
    open: "The full lists are in the files of this folder.",
}];

/// A number with the decimals that its bound deserves.
fn number(value: f64, bound: f64) -> String {
    let decimals = (1.0 - bound.log10()).ceil().clamp(0.0, 4.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.trim_start_matches('-').trim_matches(['0', '.']).is_empty() {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

fn table(out: &mut String, set: &Set) {
    let rows = (set.rows)();
    writeln!(out, "\n### {}\n", set.heading).unwrap();
    writeln!(
        out,
        "| check | source | reference | ours | deviation | uncertainty | allowed |"
    )
    .unwrap();
    writeln!(out, "|---|---|---|---|---|---|---|").unwrap();
    for row in rows {
        let show = |v: f64| number(v, row.bound);
        writeln!(
            out,
            "| {} | {} | {} {} | {} | {} | {} | {} |",
            row.check,
            row.source,
            show(row.reference),
            row.unit,
            show(row.ours),
            show(row.ours - row.reference),
            row.uncertainty,
            number(row.bound, row.bound)
        )
        .unwrap();
    }
    writeln!(out, "\nOpen: {}", set.open).unwrap();
}

const HEAD: &str = "# How it was validated

Written by the test `measured::the_page_shows_what_the_program_computes`; do not edit. Reference and ours are in the
same unit; a test fails where the deviation exceeds what is allowed. Sources with licence and conditions stand in the
files of `tests/outside/measured/`.

";

const LEFT_OPEN: &str = "
## What is left open

No open record was found of a solid carbon-steel billet that cools from 1200 degC, of die temperatures in forging, of
the induction heating of a billet, or of contact coefficients with their conditions. Contact, the film of sprays, dies
over a shift and the heater are therefore verified against exact and independent solutions, not validated: a billet
with couples at two depths, a minute in air and then on a cold plate, would settle the largest of them. The mean
expansion of metals that are no steels is left out (a bar of titanium or nickel alloy has 2 to 3 % more surface hot).
";

fn page() -> String {
    let mut out = HEAD.to_owned();
    out.push_str("## Against measurement\n");
    for set in &MEASURED {
        table(&mut out, set);
    }
    out.push_str("\n## Against exact and independent solutions\n");
    for set in &EXACT {
        table(&mut out, set);
    }
    out.push_str(LEFT_OPEN);
    out
}

#[test]
fn every_row_is_within_its_bound() {
    for set in MEASURED.iter().chain(&EXACT) {
        for row in (set.rows)() {
            let deviation = row.ours - row.reference;
            assert!(
                deviation.abs() <= row.bound,
                "{}: {} {}, reference {}, off by {deviation}",
                row.check,
                row.ours,
                row.unit,
                row.reference
            );
        }
    }
}

#[test]
fn the_page_shows_what_the_program_computes() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/README.md");
    let ours = page();
    if std::env::var_os("BILLET_WRITE_VALIDATION").is_some() {
        std::fs::write(path, &ours).unwrap();
    }
    let committed = std::fs::read_to_string(path).unwrap_or_default();
    for (line, (a, b)) in committed.lines().zip(ours.lines()).enumerate() {
        assert_eq!(
            a,
            b,
            "line {} of the page: write it anew with BILLET_WRITE_VALIDATION=1",
            line + 1
        );
    }
    assert_eq!(committed.lines().count(), ours.lines().count());
}
