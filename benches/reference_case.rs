//! Time of the solver alone on the reference case; `reference_case/run.sh` sets it against others.

// The other uses of the case are in the programs that compare.
#[allow(dead_code)]
#[path = "reference_case/rust/src/case.rs"]
mod case;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};

fn reference(c: &mut Criterion) {
    let mut group = c.benchmark_group("reference case");
    group.sample_size(10);
    for (nr, nz) in [(20, 48), (40, 96), (80, 192)] {
        let case = case::Case::new(nr, nz).unwrap();
        for step_k in [4.0, 0.5] {
            let name = BenchmarkId::new(format!("{nr} x {nz}"), format!("{step_k} K a step"));
            group.bench_function(name, |b| b.iter(|| case.ours(step_k).unwrap()));
        }
    }
    group.finish();
}

criterion_group!(benches, reference);
criterion_main!(benches);
