//! Time of the planning questions on the hub line: delay limits, exit band, scatter, one decision.

use std::hint::black_box;
use std::path::Path;

use billet_thermal::inside::ask::band::{BandOptions, exit_band};
use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::hand_overs::{Uncertain, hand_over_times};
use billet_thermal::inside::ask::line_model::LineModel;
use billet_thermal::inside::ask::model::Model;
use billet_thermal::inside::ask::risk::GuardLine;
use billet_thermal::inside::ask::scatter::{run_part, study_key};
use billet_thermal::inside::ask::shards::Shard;
use billet_thermal::inside::ask::study::Study;
use billet_thermal::inside::ask::times::TimesOptions;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use criterion::{Criterion, criterion_group, criterion_main};

const HUB: &str = "examples/hub.toml";

fn searches(c: &mut Criterion) {
    let model = LineModel::new(Document::load(HUB).unwrap_or_else(|error| panic!("{error}")));
    let quick = model.at(Resolution::Quick);
    let nominal = model.run(&[]).unwrap();
    let mut group = c.benchmark_group("hub, standard");
    group.sample_size(10);
    let (spread, options) = (Uncertain::default(), TimesOptions::default());
    group.bench_function("times of all hand-overs", |b| {
        b.iter(|| hand_over_times(black_box(&model), Some(&quick), &nominal, &spread, &options).unwrap());
    });
    group.bench_function("exit band", |b| {
        b.iter(|| {
            exit_band(
                black_box(&model),
                Some(&quick),
                &[],
                &GuardLine::default(),
                &BandOptions::default(),
            )
            .unwrap()
        });
    });
}

fn scatter(c: &mut Criterion) {
    let model = LineModel::new(Document::load(HUB).unwrap_or_else(|error| panic!("{error}")));
    let mut study = Study::read(model.document().text(), Path::new(HUB), &model).unwrap();
    study.samples = 100;
    let mut group = c.benchmark_group("hub, 100 scatter runs");
    group.sample_size(10);
    for resolution in [Resolution::Quick, Resolution::Standard] {
        let model = model.at(resolution);
        let key = study_key(&model, &study, "", resolution.word());
        group.bench_function(resolution.word(), |b| {
            b.iter(|| {
                let mut shard = Shard::new(key.clone(), 1, 1).unwrap();
                run_part(&model, &study, &mut shard, 100, |_| Ok(true)).unwrap();
                shard.rows.len()
            });
        });
    }
}

fn decision(c: &mut Criterion) {
    let document = Document::load(HUB).unwrap_or_else(|error| panic!("{error}"));
    let enquiry = Enquiry::new(document, Some(Resolution::Quick)).unwrap();
    let table = enquiry.judged().unwrap().decision_table().unwrap();
    let elapsed: Vec<f64> = table.stages.iter().map(|s| s.planned_s + 0.7).collect();
    c.bench_function("one decision", |b| {
        b.iter(|| table.decide(black_box(1233.0), black_box(&elapsed)));
    });
}

criterion_group!(benches, searches, scatter, decision);
criterion_main!(benches);
