//! The work that a trace takes, counted, not timed: a change that keeps the answer and doubles the
//! cost must show.

use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};

#[test]
fn a_hub_trace_takes_the_steps_it_took() {
    let document = Document::load("examples/hub.toml").unwrap();
    let work = |resolution| {
        let options = RunOptions {
            resolution: Some(resolution),
            ..RunOptions::bare()
        };
        run(document.plan(), &options).unwrap().work
    };
    // Measured counts with a tenth to spare.
    for (resolution, steps, cells) in [(Resolution::Quick, 91, 1460), (Resolution::Standard, 213, 13_490)] {
        let work = work(resolution);
        let word = resolution.word();
        println!("{word}: {work:?}");
        assert!(work.steps <= steps, "{word}: {} steps", work.steps);
        assert!(work.cells <= cells, "{word}: {} cells", work.cells);
        assert!(work.rejected * 20 <= work.steps, "{word}: {} rejected", work.rejected);
        assert_eq!(work.evaluations, 4 * (work.steps + work.rejected), "{word}");
    }
}
