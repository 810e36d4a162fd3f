//! The work that a trace takes, counted, not timed: a change that keeps the answer and doubles the
//! cost must show.

use billet_thermal::inside::ask::band::BandOptions;
use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::pocket::Pocket;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};

type Question = fn(&Enquiry);

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
    for (resolution, steps, cells) in [(Resolution::Quick, 91, 1460), (Resolution::Standard, 213, 15_080)] {
        let work = work(resolution);
        let word = resolution.word();
        println!("{word}: {work:?}");
        assert!(work.steps <= steps, "{word}: {} steps", work.steps);
        assert!(work.cells <= cells, "{word}: {} cells", work.cells);
        assert!(work.rejected * 20 <= work.steps, "{word}: {} rejected", work.rejected);
        assert_eq!(work.evaluations, 4 * (work.steps + work.rejected), "{word}");
    }
}

/// Runs that each question makes on the hub, on its own grid and on the quick one. What costs a person's time is
/// their number: a search that makes more of them must show.
#[test]
fn questions_make_the_runs_they_made() {
    let questions: [(&str, Question, usize, usize); 5] = [
        (
            "delays",
            // Three quick ones more than before: the change per second is now the sensitivity itself.
            |enquiry| drop(enquiry.judged().unwrap().times().unwrap()),
            54,
            265,
        ),
        (
            "exit-band",
            |enquiry| drop(enquiry.judged().unwrap().band(&BandOptions::default()).unwrap()),
            9,
            110,
        ),
        (
            "stops",
            |enquiry| drop(enquiry.judged().unwrap().stops(&[5.0, 60.0], 3600.0, false).unwrap()),
            47,
            420,
        ),
        (
            "sensitivities",
            |enquiry| drop(Pocket::of((&enquiry.model, enquiry.cheap()), &enquiry.planned().unwrap(), &[]).unwrap()),
            20,
            70,
        ),
        (
            "decision table",
            // Its exit temperatures reach as far as the bare exit band, which takes five runs. The stages in which a limit
            // at any moment may decide are found by 27, and the runs of the table are none of other questions.
            |enquiry| drop(enquiry.judged().unwrap().decision_table().unwrap()),
            8,
            645,
        ),
    ];
    for (word, question, standard, quick) in questions {
        let enquiry = Enquiry::new(Document::load("examples/hub.toml").unwrap(), Some(Resolution::Standard)).unwrap();
        question(&enquiry);
        let (made_quick, made) = enquiry.model.runs_made();
        println!("{word}: {made} runs, {made_quick} quick ones");
        assert!(
            made <= standard && made_quick <= quick,
            "{word}: {made} runs, {made_quick} quick ones"
        );
    }
}
