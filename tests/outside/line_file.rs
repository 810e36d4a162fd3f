use billet_thermal::line::file::Document;
use billet_thermal::line::run::{RunOptions, run};

#[test]
fn hub_runs() {
    let doc = match Document::load("examples/hub.toml") {
        Ok(doc) => doc,
        Err(error) => panic!("{error}"),
    };
    println!(
        "{:#?}",
        doc.inputs()
            .iter()
            .map(|i| format!("{} = {:?} {} {:?} {}", i.path, i.value, i.unit, i.owner, i.source))
            .collect::<Vec<_>>()
    );
    println!("{:#?}", doc.plan().warnings);
    println!("{}", doc.complete().unwrap().text());
    let t = std::time::Instant::now();
    for k in 0..100 {
        let v = 4.0 + 0.01 * k as f64;
        doc.with(&[("stage.heater to upsetter.seconds", v), ("heater.core_c", 1200.0 + v)])
            .unwrap();
    }
    println!("with: {:?} each", t.elapsed() / 100);
    let trace = run(doc.plan(), &RunOptions::default()).unwrap();
    for v in &trace.verdicts {
        println!(
            "{:?} {:?} {} {} holds {} {} margin {} {:?}",
            v.limit.stage, v.limit.bound, v.limit.node, v.moment, v.holds, v.value, v.margin_k, v.margin_s
        );
    }
    println!("{:?}", trace.ledger.imbalance);
}
