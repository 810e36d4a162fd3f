//! Counts what the solver allocates. A test binary of its own, because the counting allocator
//! serves the whole process and must not see other tests.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Columns, Contact, DeepEnd, Exchange, Law, Solver, Tolerance};
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::steel::Library;

static CALLS: AtomicUsize = AtomicUsize::new(0);
static HELD: AtomicUsize = AtomicUsize::new(0);
static PEAK: AtomicUsize = AtomicUsize::new(0);

/// The system's allocator with counters.
struct Counting;

// SAFETY: every call goes unchanged to the system's allocator, which keeps the contract of
// `GlobalAlloc`; the counters are atomic and allocate nothing. The library itself forbids unsafe
// code; this is the one place where a trait demands it.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        CALLS.fetch_add(1, SeqCst);
        let held = HELD.fetch_add(layout.size(), SeqCst) + layout.size();
        PEAK.fetch_max(held, SeqCst);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), SeqCst);
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// A billet of the EN 1993-1-2 steel in air, standing on a die.
fn billet_on_a_die() -> Solver {
    let medium = Library::builtin().unwrap().find("EN1993-1-2-carbon").unwrap().thermal();
    let z = Axis::graded(AxisKind::Linear, 0.0, 0.14, Some(1e-4), Some(5e-4), 1.4, 6e-3).unwrap();
    let r = Axis::graded(AxisKind::Radial, 0.0, 0.03, None, Some(3e-4), 1.4, 3e-3).unwrap();
    let grid = Arc::new(Grid::new(vec![z, r]).unwrap());
    let mut solver = Solver::uniform(grid.clone(), medium.clone(), 1220.0, Tolerance::kelvin(0.5));
    let air = solver.account("air");
    for group in 1..grid.groups() {
        solver.set_law(
            group,
            Law::Exchange {
                exchange: Exchange::air(10.0, 0.8, 25.0),
                share: 1.0,
                account: air,
            },
        );
    }
    let below: Vec<usize> = (0..grid.faces().len())
        .filter(|f| grid.faces()[*f].group == 0)
        .collect();
    let die = solver.account("die");
    let depth = Axis::graded(AxisKind::Linear, 0.0, 0.06, Some(1e-4), None, 1.5, 8e-3).unwrap();
    let mut columns = Columns::new(medium, &depth, below.len(), 220.0, DeepEnd::Fixed(220.0), die);
    let areas: Vec<f64> = below.iter().map(|f| grid.faces()[*f].area).collect();
    let contacts: Vec<Option<Contact>> = below
        .iter()
        .zip(&areas)
        .map(|(face, area)| {
            Some(Contact {
                face: *face,
                area: *area,
                coefficient: 2500.0,
            })
        })
        .collect();
    columns.set_contacts(&contacts, &areas);
    solver.add_columns(columns);
    solver
}

/// One test, so that nothing else allocates meanwhile.
#[test]
fn steps_allocate_nothing_and_a_trace_little() {
    let mut solver = billet_on_a_die();
    let (mut steps, mut last, mut worst) = (0usize, CALLS.load(SeqCst), 0usize);
    solver
        .advance(20.0, &mut |_| {
            let now = CALLS.load(SeqCst);
            // The first step sizes the ledger's accounts.
            if steps > 0 {
                worst = worst.max(now - last);
            }
            steps += 1;
            last = now;
        })
        .unwrap();
    assert!(steps > 20, "{steps} steps");
    assert_eq!(worst, 0, "allocations within one of {steps} steps");

    let before = HELD.load(SeqCst);
    PEAK.store(before, SeqCst);
    let document = Document::load("examples/hub.toml").unwrap();
    let trace = run(document.plan(), &RunOptions::default()).unwrap();
    let peak_mb = (PEAK.load(SeqCst) - before) as f64 / 1e6;
    println!(
        "a standard trace of the hub with {} samples held {peak_mb:.1} MB at most",
        trace.samples.len()
    );
    assert!(peak_mb < 50.0, "{peak_mb} MB");
}
