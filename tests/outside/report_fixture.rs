//! An invented trace for the report checks. The numbers are made by simple formulas that resemble a
//! hub on a hammer; nothing here is a result of the program.

use billet_thermal::inside::judge::{Bound, Cause, Kind, Limit, Moment, Verdict, Warning};
use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::trace::{
    DieRecord, InputRecord, Ledger, LedgerEntry, MapAxis, Owner, RESULT_SCHEMA, Reading, Sample, SectionMap, StageSpan,
    Work,
};

const NODES: [&str; 8] = [
    "core",
    "surface",
    "mean",
    "edge",
    "grip_end",
    "free_end",
    "flash.mean",
    "web.core",
];

/// Name, kind, length in s, blows.
const STAGES: [(&str, &str, f64, usize); 9] = [
    ("heater to upsetter", "carry", 4.2, 0),
    ("upsetter", "forge", 0.9, 1),
    ("to blocker", "carry", 1.6, 0),
    ("blocker", "forge", 3.0, 3),
    ("to finisher", "carry", 1.4, 0),
    ("finisher", "forge", 3.4, 4),
    ("to trimming press", "carry", 3.1, 0),
    ("trim", "trim", 0.6, 1),
    ("conveyor", "cool", 300.0, 0),
];

fn temps(t: f64, chill: f64, flash: bool) -> Vec<Option<f64>> {
    let decay = |start: f64, floor: f64, tau: f64| floor + (start - floor) * (-t / tau).exp();
    let surface = decay(1240.0, 920.0, 36.0) - 26.0 * (1.0 - (-t / 0.8).exp()) - chill;
    let core = decay(1242.0, 40.0, 700.0) - 2.0 * t.min(20.0) * 0.4;
    let mean = 0.45 * surface + 0.55 * core;
    let late = (t - 11.0).max(0.0);
    vec![
        Some(core),
        Some(surface),
        Some(mean),
        Some(surface - 22.0 * (1.0 - (-t / 2.0).exp()) - 0.4 * chill),
        Some(surface - 90.0 * (1.0 - (-t / 6.0).exp())),
        Some(surface - 8.0 * (1.0 - (-t / 3.0).exp())),
        flash.then_some(1080.0 - 17.5 * late * (-late / 40.0).exp()),
        flash.then_some(mean - 30.0 - 3.0 * late),
    ]
}

/// The invented trace; `broken` makes two limits fail.
pub fn invented(broken: bool) -> Trace {
    let mut stages = Vec::new();
    let mut samples = Vec::new();
    let mut moments = Vec::new();
    let mut t = 0.0;
    for (index, (name, kind, length, blows)) in STAGES.into_iter().enumerate() {
        let length = if broken && index == 6 { length + 5.0 } else { length };
        let (from, to) = (t, t + length);
        let flash = (5..=7).contains(&index);
        stages.push(StageSpan {
            name: name.into(),
            kind: Kind::parse(kind).unwrap(),
            start_s: from,
            end_s: to,
        });
        let moment = |label: &str, time_s: f64, chill: f64| Reading {
            stage: index,
            moment: Moment::parse(label).unwrap(),
            time_s,
            temps_c: temps(time_s, chill, flash),
        };
        moments.push(moment("start", from, 0.0));
        let hits: Vec<f64> = (0..blows)
            .map(|k| from + length * (k as f64 + 0.4) / blows as f64)
            .collect();
        for (k, &hit) in hits.iter().enumerate() {
            moments.push(moment(&format!("blow {}", k + 1), hit, 0.0));
        }
        moments.push(moment("end", to, if blows > 0 { 60.0 } else { 0.0 }));
        let parts = ((length / 0.05) as usize).min(400);
        for k in 0..=parts {
            let time_s = from + length * k as f64 / parts as f64;
            let chill: f64 = hits
                .iter()
                .filter(|&&hit| time_s >= hit)
                .map(|&hit| 190.0 * (-(time_s - hit) / 0.35).exp())
                .sum();
            samples.push(Sample {
                time_s,
                stage: index,
                temps_c: temps(time_s, chill, flash),
            });
        }
        t = to;
    }
    let maps = vec![
        round_map("heater exit", 0, 0.0, 0.030, 0.140, 1242.0, 1238.0),
        round_map("first blow, upsetter", 1, 4.4, 0.030, 0.140, 1240.0, 1185.0),
        forging_map(),
        ring_map(),
    ];
    let verdicts = verdicts(broken);
    Trace {
        schema_version: RESULT_SCHEMA,
        program: "billet 0.1.0".into(),
        title: "Pump coupling hub (invented)".into(),
        steel: "42CrMo4".into(),
        resolution: Resolution::Standard,
        mass_kg: 3.107,
        nodes: NODES.map(str::to_owned).to_vec(),
        stages,
        samples,
        moments,
        maps,
        dies: dies(),
        scale: Vec::new(),
        ends: Vec::new(),
        bill: Vec::new(),
        ledger: ledger(),
        verdicts,
        warnings: vec![Warning {
            code: "property-extrapolated".into(),
            message: "conductivity of 42CrMo4 was used at 1241.6 degC, its table ends at 1200 degC".into(),
            values: Vec::new(),
        }],
        inputs: inputs(),
        work: Work {
            steps: 1840,
            rejected: 22,
            evaluations: 7512,
            line_solves: 15024,
            cells: 1272,
        },
    }
}

fn limit(stage: Option<&str>, moment: &str, node: &str, bound: Bound, owner: Owner) -> Limit {
    Limit {
        stage: stage.map(str::to_owned),
        moment: Moment::parse(moment).unwrap(),
        node: node.into(),
        other: matches!(bound, Bound::MaxDifferenceK(_)).then(|| "surface".into()),
        bound,
        owner,
        source: match owner {
            Owner::Given => "line file, line 58".into(),
            _ => "invented for this check".into(),
        },
    }
}

#[allow(clippy::too_many_arguments)]
fn verdict(
    limit: Limit,
    stage: usize,
    moment: &str,
    time_s: f64,
    value: f64,
    margin_s: Option<f64>,
    margin_stage: Option<&str>,
) -> Verdict {
    let (margin_k, cause) = match limit.bound {
        Bound::MinC(c) => (value - c, Cause::TooCold),
        Bound::MaxC(c) => (c - value, Cause::TooHot),
        Bound::MaxDifferenceK(k) => (k - value, Cause::TooUneven),
    };
    Verdict {
        limit,
        holds: margin_k >= 0.0,
        stage,
        moment: Moment::parse(moment).unwrap(),
        time_s,
        value,
        margin_k,
        margin_s,
        margin_stage: margin_stage.map(str::to_owned),
        earliest_s: None,
        latest_s: None,
        crossing_s: (margin_k < 0.0).then_some(time_s - 1.234),
        cause: (margin_k < 0.0).then_some(cause),
    }
}

fn verdicts(broken: bool) -> Vec<Verdict> {
    use Bound::{MaxC, MaxDifferenceK, MinC};
    use Owner::{Default, Given, Library};
    let flash = if broken { 888.2 } else { 965.4 };
    let trim_at = if broken { 22.9 } else { 17.9 };
    vec![
        verdict(
            limit(None, "always", "hottest", MaxC(1290.0), Library),
            0,
            "start",
            0.0,
            1242.3,
            None,
            None,
        ),
        verdict(
            limit(Some("upsetter"), "first blow", "surface", MinC(1150.0), Given),
            1,
            "blow 1",
            4.56,
            1181.7,
            Some(5.34),
            Some("heater to upsetter"),
        ),
        verdict(
            limit(Some("blocker"), "every blow", "edge", MinC(1080.0), Given),
            3,
            "blow 3",
            8.7,
            if broken { 1074.3 } else { 1098.6 },
            Some(if broken { -0.81 } else { 2.26 }),
            Some("to blocker"),
        ),
        verdict(
            limit(Some("finisher"), "last blow", "surface", MinC(950.0), Library),
            5,
            "blow 4",
            13.5,
            1046.1,
            Some(9.72),
            Some("to finisher"),
        ),
        verdict(
            limit(Some("finisher"), "end", "core", MaxDifferenceK(220.0), Default),
            5,
            "end",
            14.5,
            176.4,
            None,
            None,
        ),
        verdict(
            limit(Some("trim"), "first blow", "flash.mean", MinC(900.0), Library),
            7,
            "blow 1",
            trim_at,
            flash,
            Some(if broken { -0.67 } else { 3.81 }),
            Some("to trimming press"),
        ),
        verdict(
            limit(Some("trim"), "first blow", "flash.mean", MaxC(1050.0), Library),
            7,
            "blow 1",
            trim_at,
            flash,
            None,
            None,
        ),
    ]
}

fn graded(length: f64, cells: usize) -> Vec<f64> {
    // fine at the outer end
    (0..=cells)
        .map(|i| {
            let s = i as f64 / cells as f64;
            length * (1.0 - (1.0 - s).powf(2.2))
        })
        .collect()
}

fn both_ends(length: f64, cells: usize) -> Vec<f64> {
    (0..=cells)
        .map(|i| {
            let s = i as f64 / cells as f64;
            length * 0.5 * (1.0 - (std::f64::consts::PI * s).cos())
        })
        .collect()
}

fn round_map(title: &str, stage: usize, time_s: f64, radius: f64, height: f64, core: f64, skin: f64) -> SectionMap {
    let (across, up) = (graded(radius, 20), both_ends(height, 48));
    let mut temps_c = Vec::new();
    for j in 0..48 {
        for i in 0..20 {
            let r = 0.5 * (across[i] + across[i + 1]) / radius;
            let z = (0.5 * (up[j] + up[j + 1]) / height * 2.0 - 1.0).abs();
            let grip = if up[j] < 0.025 { 0.4 * (core - skin) } else { 0.0 };
            temps_c.push(Some(
                core - (core - skin) * (r.powi(3) + 1.2 * z.powi(9)) - grip * r.powi(2),
            ));
        }
    }
    SectionMap {
        title: title.into(),
        stage,
        time_s,
        across: MapAxis {
            name: "radius".into(),
            faces_m: across,
        },
        up: MapAxis {
            name: "height".into(),
            faces_m: up,
        },
        zone: vec![Some(0); temps_c.len()],
        zones: vec!["body".into()],
        temps_c,
    }
}

/// A hub with web and flash.
fn forging_map() -> SectionMap {
    let across: Vec<f64> = (0..=64).map(|i| f64::from(i) * 0.001).collect();
    let up: Vec<f64> = (0..=45).map(|i| f64::from(i) * 0.001).collect();
    let (mut temps_c, mut zone) = (Vec::new(), Vec::new());
    for j in 0..45 {
        for r in &across[..64] {
            let (r, z) = (r + 0.0005, up[j] + 0.0005);
            let cell = if r < 0.012 {
                ((0.010..0.018).contains(&z)).then_some((1, 1080.0))
            } else if r < 0.050 {
                Some((0, 1165.0))
            } else {
                ((0.012..0.015).contains(&z)).then_some((2, 965.0))
            };
            temps_c.push(cell.map(|(_, base)| {
                let off = ((r - 0.031).abs() / 0.019).min(1.0).powi(4);
                let up = ((z - 0.0225).abs() / 0.0225).powi(4);
                base - 70.0 * off - 60.0 * up
            }));
            zone.push(cell.map(|(z, _)| z));
        }
    }
    SectionMap {
        title: "last blow, finisher".into(),
        stage: 5,
        time_s: 13.5,
        across: MapAxis {
            name: "radius".into(),
            faces_m: across,
        },
        up: MapAxis {
            name: "height".into(),
            faces_m: up,
        },
        temps_c,
        zone,
        zones: vec!["body".into(), "web".into(), "flash".into()],
    }
}

fn ring_map() -> SectionMap {
    let across = graded(0.030, 24);
    SectionMap {
        title: "long bar, heater exit".into(),
        stage: 0,
        time_s: 0.0,
        temps_c: across
            .windows(2)
            .map(|f| Some(1200.0 + 40.0 * (0.5 * (f[0] + f[1]) / 0.03_f64).powi(2)))
            .collect(),
        zone: vec![None; 24],
        zones: vec![],
        across: MapAxis {
            name: "radius".into(),
            faces_m: across,
        },
        up: MapAxis {
            name: "height".into(),
            faces_m: vec![],
        },
    }
}

fn dies() -> Vec<DieRecord> {
    [
        (1, "lower die", 200.0, 352.0, 268.0, 21.4),
        (1, "upper die", 200.0, 338.0, 240.0, 12.9),
        (3, "lower die", 210.0, 431.0, 322.0, 44.0),
        (3, "upper die", 205.0, 402.0, 281.0, 28.3),
        (5, "lower die", 225.0, 468.0, 351.0, 52.7),
        (5, "upper die", 220.0, 441.0, 300.0, 33.8),
    ]
    .into_iter()
    .map(
        |(stage, body, face_start_c, face_peak_c, face_end_c, heat_kj)| DieRecord {
            friction_kj: 0.0,
            stage,
            body: body.into(),
            face_start_c,
            face_peak_c,
            face_end_c,
            heat_kj,
        },
    )
    .collect()
}

fn ledger() -> Ledger {
    let entries: Vec<LedgerEntry> = [
        (0, "radiation and convection", -24.1),
        (0, "jaws", -6.3),
        (1, "lower die", -21.4),
        (1, "upper die", -12.9),
        (1, "deformation", 9.8),
        (2, "radiation and convection", -11.8),
        (3, "lower die", -44.0),
        (3, "upper die", -28.3),
        (3, "deformation", 21.0),
        (4, "radiation and convection", -10.2),
        (5, "lower die", -52.7),
        (5, "upper die", -33.8),
        (5, "deformation", 14.6),
        (6, "radiation and convection", -21.9),
        (7, "flash cut off", -131.0),
        (8, "radiation and convection", -1240.0),
    ]
    .into_iter()
    .map(|(stage, name, energy_kj)| LedgerEntry {
        stage,
        name: name.into(),
        energy_kj,
    })
    .collect();
    Ledger {
        stored_kj: entries.iter().map(|e| e.energy_kj).sum(),
        entries,
        imbalance: 3.1e-13,
    }
}

fn inputs() -> Vec<InputRecord> {
    [
        ("billet.steel", "42CrMo4", "", Owner::Given, ""),
        ("billet.diameter_mm", "60", "mm", Owner::Given, ""),
        ("billet.length_mm", "140", "mm", Owner::Given, ""),
        (
            "shop.ambient_c",
            "25",
            "degC",
            Owner::Default,
            "room temperature, common practice",
        ),
        ("shop.takt_s", "14", "s", Owner::Given, ""),
        ("heater.surface_c", "1240", "degC", Owner::Given, ""),
        ("heater.core_c", "1242", "degC", Owner::Given, ""),
        (
            "die.bulk_c",
            "200",
            "degC",
            Owner::Default,
            "die preheat, common practice",
        ),
        (
            "die.blow_w_m2k",
            "20000",
            "W/m2K",
            Owner::Default,
            "middle of the published spread 10 to 40 kW/m2K",
        ),
        (
            "steel.conductivity",
            "24.9 to 30.1",
            "W/mK",
            Owner::Library,
            "invented for this check",
        ),
        ("stage.heater to upsetter.seconds", "4.2", "s", Owner::Given, ""),
        ("stage.blocker.blows", "3", "", Owner::Given, ""),
    ]
    .into_iter()
    .map(|(path, value, unit, owner, source)| InputRecord {
        path: path.into(),
        value: value.into(),
        unit: unit.into(),
        owner,
        source: source.into(),
    })
    .collect()
}
