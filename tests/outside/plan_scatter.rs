//! Scatter studies against exact probabilities of a linear model with normal inputs.

use std::path::Path;

use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::model::Model;
use billet_thermal::inside::ask::random::Scheme;
use billet_thermal::inside::ask::rare::{ImportanceOptions, SubsetOptions};
use billet_thermal::inside::ask::respond::{Response, run_near};
use billet_thermal::inside::ask::scatter::{causes, rare_any, rare_break, reduce, run_part, study_key};
use billet_thermal::inside::ask::shards::{Shard, merge, read_shard, write_shard};
use billet_thermal::inside::ask::study::Study;
use billet_thermal::inside::judge::Bound;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;

use crate::exact::special::normal_cdf;
use crate::plan_support::Formula;

/// Surface = exit - 5 (carry) - 3 (wait): spreads 10, 1.0 x 5, 2 x 3 K, together sqrt(161) K. The
/// third limit is one-sided from above.
fn linear_line() -> Formula {
    Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.carry.seconds", "s", 8.0),
            ("stage.wait.seconds", "s", 10.0),
        ],
        &[
            ("surface", Bound::MinC(1150.0)),
            ("mean", Bound::MinC(1_109.686_6)),
            ("exit", Bound::MaxC(1_263.263_5)),
        ],
        |x| {
            let value = x[0] - 5.0 * x[1] - 3.0 * x[2];
            vec![value, value, x[0]]
        },
    )
}

const STUDY: &str = r#"
[study]
samples = 4096
seed = 5
[[study.scatter]]
input = "heater.temperature_c"
kind = "normal"
sd = 10
[[study.scatter]]
input = "stage.carry.seconds"
kind = "normal"
sd = 1.0
[[study.scatter]]
input = "stage.wait.seconds"
kind = "normal"
sd = 2.0
"#;

fn study(model: &dyn Model) -> Study {
    Study::read(STUDY, Path::new("line.toml"), model).unwrap()
}

fn exact() -> [f64; 3] {
    let sd = 161.0_f64.sqrt();
    [
        normal_cdf(-(1240.0 - 40.0 - 30.0 - 1150.0) / sd),
        normal_cdf(-(1170.0 - 1_109.686_6) / sd),
        normal_cdf(-2.326_35),
    ]
}

fn whole(model: &dyn Model, study: &Study) -> Shard {
    let key = study_key(model, study, STUDY, "test");
    let mut shard = Shard::new(key, 1, 1).unwrap();
    run_part(model, study, &mut shard, 1000, |_| Ok(true)).unwrap();
    shard
}

/// Probabilities of a linear model with normal inputs: exactly Phi(-margin / sd).
#[test]
fn counted_probabilities_agree_with_the_normal_distribution() {
    let line = linear_line();
    let mut study = study(&line);
    for scheme in [Scheme::QuasiRandom, Scheme::LatinHypercube, Scheme::Independent] {
        study.scheme = scheme;
        let result = reduce(line.limits(), &whole(&line, &study).rows, 0.999).unwrap();
        assert_eq!((result.runs, result.failed.len()), (4096, 0));
        for (limit, exact) in result.limits.iter().zip(exact()) {
            assert!(
                limit.broken.low <= exact && exact <= limit.broken.high,
                "{scheme:?} {}: {:?} for {exact}",
                limit.name,
                limit.broken
            );
        }
        let value = &result.limits[0].value;
        assert!((value.mean - 1170.0).abs() < 0.8 && (value.sd / 161.0_f64.sqrt() - 1.0).abs() < 0.05);
        let index = result.limits[0].capability.unwrap().cpk;
        assert!(
            (index.estimate - 20.0 / (3.0 * 161.0_f64.sqrt())).abs() < 0.04,
            "{index:?}"
        );
        assert!(result.any.estimate >= result.limits[0].broken.estimate);
    }
}

/// One in a million of the same model (mean limit, 4.753 spreads away) by importance sampling, and
/// all limits together by subset simulation.
#[test]
fn rare_breaks_agree_with_the_normal_distribution() {
    let line = linear_line();
    let study = study(&line);
    let found = rare_break(&line, &study, 1, &ImportanceOptions::default()).unwrap();
    let exact = exact();
    assert!((exact[1] / 1e-6 - 1.0).abs() < 0.01, "{}", exact[1]);
    assert!(
        found.low <= exact[1] && exact[1] <= found.high && found.relative_error < 0.06,
        "{found:?} for {}",
        exact[1]
    );
    let any = rare_any(&line, &study, &SubsetOptions::default()).unwrap();
    // The union is between the largest and the sum.
    assert!(any.high >= exact[0] && any.low <= exact[0] + exact[2], "{any:?}");
}

/// Variance shares of a linear model: slope squared times variance over the sum, here 100 : 25 : 36.
#[test]
fn causes_of_a_linear_model() {
    let line = linear_line();
    let found = causes(&line, &study(&line), 2048).unwrap();
    for (share, exact) in found[0].iter().zip([100.0, 25.0, 36.0]) {
        assert!((share.first - exact / 161.0).abs() < 0.01, "{share:?} for {exact}");
        assert!((share.total - exact / 161.0).abs() < 0.01, "{share:?} for {exact}");
    }
    // The exit limit depends on the exit only.
    assert!(found[2][1].total.abs() < 1e-12 && (found[2][0].first - 1.0).abs() < 0.02);
}

/// Correlation 0.5 between exit and carry time: variance 161 - 2 x 0.5 x 10 x 5.
#[test]
fn correlated_inputs_change_the_spread() {
    let line = linear_line();
    let text = format!(
        "{STUDY}\n[[study.correlation]]\ninputs = [\"heater.temperature_c\", \"stage.carry.seconds\"]\ncorrelation = 0.5\n"
    );
    let study = Study::read(&text, Path::new("line.toml"), &line).unwrap();
    let result = reduce(line.limits(), &whole(&line, &study).rows, 0.95).unwrap();
    let sd = (161.0_f64 - 50.0).sqrt();
    assert!(
        (result.limits[0].value.sd / sd - 1.0).abs() < 0.02,
        "{}",
        result.limits[0].value.sd
    );
    assert!(causes(&line, &study, 64).is_err());
}

/// Three shards, one of them interrupted and resumed from its file, on one thread or several, merge
/// to exactly the whole study.
#[test]
fn shards_and_resumption_change_nothing() {
    let line = linear_line();
    let study = study(&line);
    let reference = whole(&line, &study);
    let folder = tempfile::tempdir().unwrap();
    let key = study_key(&line, &study, STUDY, "test");
    let mut parts = Vec::new();
    for part in 1..=3 {
        let path = folder.path().join(format!("{part}.shard"));
        let mut shard = Shard::new(key.clone(), part, 3).unwrap();
        let mut blocks = 0;
        run_part(&line, &study, &mut shard, 77, |shard| {
            blocks += 1;
            write_shard(&path, shard)?;
            Ok(part != 2 || blocks < 3)
        })
        .unwrap();
        if part == 2 {
            let mut again = read_shard(&path).unwrap();
            assert_eq!(again.rows.len(), 231);
            let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
            pool.install(|| {
                run_part(&line, &study, &mut again, 500, |shard| {
                    write_shard(&path, shard)?;
                    Ok(true)
                })
            })
            .unwrap();
        }
        parts.push(read_shard(&path).unwrap());
    }
    assert_eq!(merge(parts).unwrap(), reference);
}

/// Runs that fail are counted with their inputs and are in no probability.
#[test]
fn failed_runs_are_shown() {
    let line = Formula::new(
        &[("heater.temperature_c", "degC", 1240.0)],
        &[("surface", Bound::MinC(1150.0))],
        |x| vec![if x[0] > 1250.0 { f64::NAN } else { x[0] }],
    );
    let text = "[[study.scatter]]\ninput = \"heater.temperature_c\"\nkind = \"uniform\"\nlow = 1240\nhigh = 1260\n";
    let mut study = Study::read(text, Path::new("line.toml"), &line).unwrap();
    study.samples = 100;
    let result = reduce(line.limits(), &whole(&line, &study).rows, 0.95).unwrap();
    assert_eq!((result.runs, result.failed.len()), (50, 50));
    assert!(
        result.failed[0].message.contains("heater.temperature_c = 125"),
        "{:?}",
        result.failed[0]
    );
    assert_eq!(result.limits[0].broken.runs, 50);
}

/// Faults of a study file come with the line, the numbers and what would be right.
#[test]
fn wrong_studies_are_refused_with_their_line() {
    let line = linear_line();
    let cases = [
        (
            "[[study.scatter]]\ninput = \"stage.cary.seconds\"\nkind = \"normal\"\nsd = 1\n",
            "did you mean `stage.carry.seconds`",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"gauss\"\n",
            "normal, truncated-normal",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"normal\"\n",
            "`sd` is missing",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"normal\"\nsd = 5\n",
            "physical range is 0",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"uniform\"\nlow = 1\nhigh = 2\nsd = 3\n",
            "`sd` has no meaning",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"normal\"\nsd = -1\n",
            "above 0",
        ),
        (
            "[[study.scatter]]\ninput = \"stage.carry.seconds\"\nkind = \"empirical\"\nfile = \"none.csv\"\ncolumn = \"s\"\n",
            "none.csv",
        ),
        ("[study]\nsamples = 0\n", "allowed 1 to 10000000"),
        ("[study]\nscheme = \"sobol\"\n", "quasi-random, latin-hypercube"),
        ("[study]\nreject_risk = 0.7\n", "above 0 to 0.5"),
        (
            "[study]\nreject_risk = 0.001\nalarm_risk = 0.05\n",
            "the alarm comes before the reject",
        ),
        ("[study]\nsampels = 5\n", "sampels"),
        (
            "[[study.move]]\nstage = \"cary\"\ndistance_m = 1\nspeed_m_s = 1\nacceleration_m_s2 = 1\n",
            "did you mean `carry`",
        ),
        (
            "[[study.move]]\nstage = \"carry\"\ndistance_m = 1\nspeed_m_s = 0\nacceleration_m_s2 = 1\n",
            "above 0",
        ),
    ];
    for (text, wanted) in cases {
        let text = format!("# a comment\n{text}");
        let message = Study::read(&text, Path::new("line.toml"), &line)
            .unwrap_err()
            .to_string();
        assert!(message.contains(wanted), "{message}");
        assert!(
            (2..=7).any(|line| message.starts_with(&format!("line.toml:{line}:"))),
            "{message}"
        );
    }
}

/// A study through a response surface counts what a study of runs alone counts: exactly where the
/// margins are polynomials, and within its stated error where they bend.
#[test]
fn a_response_surface_counts_what_runs_count() {
    let bent = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.carry.seconds", "s", 8.0),
            ("stage.wait.seconds", "s", 10.0),
        ],
        &[("surface", Bound::MinC(1150.0)), ("mean", Bound::MinC(1_140.0))],
        // Radiation-like curvature, and a mean that follows the colder of two places.
        |x| {
            let value = x[0] - 5.0 * x[1] - 3.0 * x[2] - 1e-5 * (x[0] - 1240.0).powi(3);
            vec![value, value.min(1210.0 - 7.0 * x[1])]
        },
    );
    // A kink makes most samples come "near": slower, never wrong.
    for (line, near_share) in [(linear_line(), 0.1), (bent, 1.0)] {
        let study = study(&line);
        let full = whole(&line, &study);
        let mut other = None;
        for block in [7, 500] {
            let mut shard = Shard::new(study_key(&line, &study, STUDY, "test"), 1, 1).unwrap();
            let response = run_near((&line, None), &study, &mut shard, block, |_| (), |_| Ok(true))
                .unwrap()
                .expect("enough samples for a surface");
            let Response {
                scouted,
                fitted,
                compared,
                near,
                taken,
                error_k,
                ..
            } = &response;
            println!("{response:?}");
            assert_eq!(*scouted, 0);
            assert_eq!(fitted + compared + near + taken, study.samples);
            assert!((*near as f64) < near_share * study.samples as f64);
            assert_eq!(shard.rows.len() as u64, study.samples);
            for (a, b) in full.rows.iter().zip(&shard.rows) {
                assert_eq!(a.index, b.index);
                let (a, b) = (a.result.as_ref().unwrap(), b.result.as_ref().unwrap());
                for ((a, b), e) in a.iter().zip(b).zip(error_k) {
                    assert_eq!(a < &0.0, b < &0.0, "{a} {b}");
                    assert!((a - b).abs() <= 2.0 * e + 1e-6, "{a} {b}: stated {e}");
                }
            }
            let same = other.get_or_insert_with(|| shard.rows.clone());
            assert_eq!(same, &shard.rows, "rows do not depend on the size of the blocks");
        }
    }
}

/// Stopped in the middle, it keeps only the samples before the first that is missing, so that the
/// ones near a limit are not under-counted.
#[test]
fn a_stopped_response_surface_keeps_whole_samples_only() {
    let line = linear_line();
    let study = study(&line);
    let full = whole(&line, &study);
    let mut shard = Shard::new(study_key(&line, &study, STUDY, "test"), 1, 1).unwrap();
    let mut calls = 0;
    let response = run_near(
        (&line, None),
        &study,
        &mut shard,
        20,
        |_| (),
        |_| {
            calls += 1;
            Ok(calls < 12)
        },
    )
    .unwrap()
    .unwrap();
    let kept = shard.rows.len();
    assert!(kept > 200 && kept < full.rows.len(), "{kept}");
    assert_eq!(
        response.fitted + response.compared + response.near + response.taken,
        kept as u64
    );
    for (k, row) in shard.rows.iter().enumerate() {
        assert_eq!(row.index, k as u64);
    }
}

/// Two lines against Monte-Carlo by SciPy (`reference/monte_carlo.py`, its output kept beside it): shares of bad parts
/// within both intervals, means and standard deviations of every margin within what four thousand draws tell.
#[test]
fn a_study_says_what_an_independent_monte_carlo_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let kept = std::fs::read_to_string(folder.join("tests/outside/reference/monte_carlo.json")).unwrap();
    let kept: serde_json::Value = serde_json::from_str(&kept).unwrap();
    let count = kept["samples"].as_f64().unwrap();
    for (name, file) in [
        ("hub", "examples/hub.toml"),
        ("press", "tests/outside/reference/press.toml"),
    ] {
        let document = Document::load(folder.join(file)).unwrap();
        let enquiry = Enquiry::new(document, Some(Resolution::Quick)).unwrap();
        let (model, study) = (
            &enquiry.model,
            Study {
                samples: 4096,
                ..enquiry.study.clone()
            },
        );
        let mut shard = Shard::new(study_key(model, &study, "", "test"), 1, 1).unwrap();
        run_near((model, None), &study, &mut shard, 64, |_| (), |_| Ok(true)).unwrap();
        let found = reduce(model.limits(), &shard.rows, 0.95).unwrap();
        let line = &kept["lines"][name];
        let within = |what: &str, low: f64, high: f64, interval: &serde_json::Value| {
            let (from, to) = (interval[0].as_f64().unwrap(), interval[1].as_f64().unwrap());
            assert!(
                low <= to && from <= high,
                "{name}, {what}: {low} to {high}, SciPy {from} to {to}"
            );
        };
        within("any", found.any.low, found.any.high, &line["any"]["interval"]);
        assert_eq!(found.limits.len(), line["limits"].as_object().unwrap().len());
        for (limit, about) in found.limits.iter().zip(model.limits()) {
            let of = &line["limits"][&limit.name];
            within(&limit.name, limit.broken.low, limit.broken.high, &of["interval"]);
            let (mean, sd) = (of["mean_margin_k"].as_f64().unwrap(), of["sd_k"].as_f64().unwrap());
            let margin = about.bound.margin(limit.value.mean);
            println!(
                "{name}, {}: {margin:.3} K for {mean:.3}, {:.3} K for {sd:.3}",
                limit.name, limit.value.sd
            );
            assert!((margin - mean).abs() < 4.0 * sd / count.sqrt() + 0.02, "{}", limit.name);
            // The standard deviation of a heavy tail is known to some per cent only.
            assert!((limit.value.sd - sd).abs() < 0.08 * sd + 0.01, "{}", limit.name);
        }
    }
}

/// The way that a study takes by default: the quick grid gives the shape of the surface, some runs of the line what it
/// adds. Every sample against its own run: the same verdict, and margins within what the surface states.
#[test]
fn a_surface_scouted_on_the_quick_grid_counts_what_runs_count() {
    let line = r#"
title = "x"
[billet]
steel = "C45"
diameter_mm = 50
length_mm = 80
[heater]
kind = "measured"
temperature_c = 1220
[[stage]]
kind = "carry"
name = "carry"
seconds = 6
[[limit]]
stage = "carry"
moment = "end"
node = "coldest"
min_c = 1100
source = "x"
[[limit]]
stage = "carry"
moment = "end"
node = "hottest"
max_c = 1225
source = "x"
[study]
samples = 300
[[study.scatter]]
input = "heater.temperature_c"
kind = "normal"
sd = 10
[[study.scatter]]
input = "stage.carry.seconds"
kind = "lognormal"
mean = 6
sd = 1.5
"#;
    let enquiry = Enquiry::new(Document::parse(line, "x.toml").unwrap(), None).unwrap();
    assert!(enquiry.cheap().is_some(), "runs of the line itself are at standard");
    let (model, study) = (&enquiry.model, &enquiry.study);
    let key = study_key(model, study, line, "standard");
    let mut every = Shard::new(key.clone(), 1, 1).unwrap();
    run_part(model, study, &mut every, 64, |_| Ok(true)).unwrap();
    let mut shard = Shard::new(key, 1, 1).unwrap();
    let response = run_near((model, enquiry.cheap()), study, &mut shard, 64, |_| (), |_| Ok(true));
    let response = response.unwrap().expect("enough samples for a surface");
    println!("{response:?}");
    assert!(response.scouted > 0 && response.taken > 150);
    assert_eq!(response.taken as usize, response.taken_at.len());
    let (mut broken, mut worst) = ([0; 2], 0.0_f64);
    for (a, b) in every.rows.iter().zip(&shard.rows) {
        assert_eq!(a.index, b.index);
        let (run, ours) = (a.result.as_ref().unwrap(), b.result.as_ref().unwrap());
        let taken = response.taken_at.contains(&a.index);
        assert!(taken || run == ours, "what is not of the surface is a run");
        for (k, (run, ours)) in run.iter().zip(ours).enumerate() {
            assert_eq!(run < &0.0, ours < &0.0, "sample {}: {run} {ours}", a.index);
            assert!((run - ours).abs() <= 2.0 * response.error_k[k] + 1e-6, "{run} {ours}");
            worst = worst.max((run - ours).abs());
            broken[k] += usize::from(*run < 0.0);
        }
    }
    println!("of {}: {broken:?} broken, worst {worst:.3} K", every.rows.len());
    assert_eq!(every.rows.len(), shard.rows.len());
    assert!(broken.iter().all(|n| (3..290).contains(n)), "{broken:?}");
}
