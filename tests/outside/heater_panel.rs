//! Coils on one converter: division of its power, limits, and what the line file says of them.

use billet_thermal::inside::ask::heating::{CoilAnswer, CoilQuestion, When};
use billet_thermal::inside::heater::coil::{Circuit, Coil, Drive, Load};
use billet_thermal::inside::heater::energy::StopWay;
use billet_thermal::inside::heater::line::{
    Column, Converter, Division, Feed, HeaterLine, Motion, Origin, Phase, Steady, Target, Transition, ZoneKind,
};
use billet_thermal::inside::heater::ratings::{Limits, Rated, Ratings};
use billet_thermal::inside::heater::search::{
    Goal, Least, Status, find_powers, find_powers_between, find_powers_within,
};
use billet_thermal::inside::heater::{Bar, Fineness};
use billet_thermal::inside::line::file::{Document, LineFileError};
use billet_thermal::inside::line::plan::Heater;
use num_complex::Complex64;

use crate::heater_line::{bar, criteria, drives, three_coils};

/// Turns of the three coils: more where the load is magnetic.
const TURNS: [f64; 3] = [44.0, 38.0, 40.0];

fn converter(coils: &[usize], division: Division) -> Converter {
    Converter {
        name: "converter".to_owned(),
        coils: coils.to_vec(),
        division,
    }
}

/// Three coils with turns; the first two share a converter.
fn line(motion: Motion, division: Option<Division>) -> HeaterLine {
    let mut line = three_coils(motion);
    let mut turns = TURNS.iter();
    for zone in &mut line.zones {
        if let ZoneKind::Coil { coil, .. } = &mut zone.kind {
            coil.turns = *turns.next().unwrap();
        }
    }
    line.converters = division.into_iter().map(|d| converter(&[0, 1], d)).collect();
    line
}

/// The converter and the last coil.
const POWERS: [f64; 2] = [200e3, 55e3];

fn settled(line: &HeaterLine, bar: &Bar, slices: usize) -> Steady {
    line.steady(bar, &line.at_powers(&POWERS), slices).unwrap()
}

/// Two windings in parallel by hand: elements of each from R. M. Baker's circuit written out anew, currents as phasors.
#[test]
fn two_parallel_coils_by_hand() {
    let mu_0 = 4e-7 * std::f64::consts::PI;
    let (f, bore) = (1000.0, 0.1);
    let omega = 2.0 * std::f64::consts::PI * f;
    // Length, turns, active and reactive power per square of the field, section of the load.
    let given = [(0.9, 44.0, 3.1e-4, 3.9e-4, 2.8e-3), (0.6, 30.0, 1.2e-4, 1.3e-4, 2.6e-3)];
    let volts = 420.0;
    let mut coils = Vec::new();
    let mut current = Complex64::new(0.0, 0.0);
    for (length, turns, active, reactive, section) in given {
        let coil = Coil {
            turns,
            ..Coil::new(length, bore, f).unwrap()
        };
        let load = Load {
            active,
            reactive,
            section_m2: section,
        };
        let n2: f64 = turns * turns;
        // Nagaoka's coefficient by its series for long coils, 1 - 4u/3pi + u^2/8 - u^4/64 (from memory).
        let u: f64 = bore / length;
        let nagaoka = 1.0 - 4.0 * u / (3.0 * std::f64::consts::PI) + u.powi(2) / 8.0 - u.powi(4) / 64.0;
        let area = 0.25 * std::f64::consts::PI * bore * bore;
        let skin = (2.0 * coil.copper_resistivity / (omega * mu_0)).sqrt();
        let copper = n2 * std::f64::consts::PI * bore * coil.copper_resistivity / (skin * length * coil.fill);
        let inner = Complex64::new(
            active * n2 / (length * length),
            reactive * n2 / (length * length) + omega * mu_0 * n2 * (area - section) / length,
        );
        let back = Complex64::new(0.0, omega * mu_0 * n2 * area / length * nagaoka / (1.0 - nagaoka));
        let z = Complex64::new(copper, copper) + 1.0 / (1.0 / inner + 1.0 / back);
        let own = volts / z;
        current += own;
        let power = coil.power_at(volts, &load).unwrap();
        let by_hand = (volts * own.conj()).re;
        assert!((power / by_hand - 1.0).abs() < 1e-5, "{power} {by_hand}");
        coils.push((coil, load, power));
    }
    let readings: Vec<_> = coils
        .iter()
        .map(|(coil, load, power)| {
            let z = Circuit::new(coil, load).unwrap().impedance(false);
            let amperes = (power / z.re).sqrt();
            billet_thermal::inside::heater::line::Reading {
                power_w: *power,
                volts: amperes * z.norm(),
                amperes,
                reactive_var: amperes * amperes * z.im,
            }
        })
        .collect();
    let all = converter(&[0, 1], Division::Voltage).reading(&readings);
    assert!((all.volts - volts).abs() < 1e-6 * volts, "{all:?}");
    assert!((all.amperes / current.norm() - 1.0).abs() < 1e-5, "{all:?} {current}");
    assert!(
        (all.power_w / (volts * current.conj()).re - 1.0).abs() < 1e-5,
        "{all:?}"
    );
    assert!(
        (all.reactive_var / (volts * current.conj()).im - 1.0).abs() < 1e-5,
        "{all:?}"
    );
    // Fewer amperes than the sum of the two, for their phases differ.
    assert!(all.amperes < readings.iter().map(|r| r.amperes).sum::<f64>());
}

/// In the settled state the two coils have one voltage and together the power set; energy closes; what is printed for
/// each coil, set by itself, gives the same state.
#[test]
fn a_common_voltage_settles() {
    let bar = bar(Fineness::quick());
    for (motion, slices) in [(Motion::Continuous, 1), (Motion::Indexed, 3)] {
        let shared = line(motion, Some(Division::Voltage));
        let steady = settled(&shared, &bar, slices);
        let [one, two, three] = &steady.coils[..] else {
            panic!("three coils");
        };
        assert!(
            (one.electrical.volts / two.electrical.volts - 1.0).abs() < 1e-3,
            "{steady:?}"
        );
        assert!(((one.terminals_w + two.terminals_w) / POWERS[0] - 1.0).abs() < 5e-4);
        assert!((three.terminals_w / POWERS[1] - 1.0).abs() < 5e-4);
        assert!(steady.balance.imbalance.abs() < 1e-9);
        let alone = line(motion, None);
        let powers: Vec<f64> = steady.coils.iter().map(|c| c.terminals_w).collect();
        let again = alone.steady(&bar, &drives(&powers), slices).unwrap();
        assert!(
            (again.exit.mean_c - steady.exit.mean_c).abs() < 0.3,
            "{} {}",
            again.exit.mean_c,
            steady.exit.mean_c
        );
        for (a, b) in again.coils.iter().zip(&steady.coils) {
            assert!((a.electrical.volts / b.electrical.volts - 1.0).abs() < 1e-3);
        }
        // The same by the voltage that was printed.
        let volts = Drive::Volts(one.electrical.volts);
        let by_volts = alone
            .steady(&bar, &[volts, volts, Drive::Terminals(three.terminals_w)], slices)
            .unwrap();
        assert!((by_volts.exit.mean_c - steady.exit.mean_c).abs() < 0.3);
    }
}

#[test]
fn a_converter_with_one_coil_is_the_coil_alone() {
    let bar = bar(Fineness::quick());
    let powers = [120e3, 80e3, 55e3];
    let mut with = line(Motion::Indexed, None);
    let alone = with.steady(&bar, &drives(&powers), 1).unwrap();
    for division in [Division::Voltage, Division::Power(vec![7.0])] {
        with.converters = vec![converter(&[1], division)];
        let same = with.steady(&bar, &with.at_powers(&powers), 1).unwrap();
        assert!(
            (same.exit.mean_c - alone.exit.mean_c).abs() < 0.3,
            "{} {}",
            same.exit.mean_c,
            alone.exit.mean_c
        );
        assert!((same.coils[1].terminals_w / alone.coils[1].terminals_w - 1.0).abs() < 5e-4);
    }
}

#[test]
fn the_order_of_coils_does_not_matter() {
    let bar = bar(Fineness::quick());
    let pairs = [
        (Division::Voltage, Division::Voltage),
        (Division::Power(vec![3.0, 2.0]), Division::Power(vec![2.0, 3.0])),
    ];
    for (division, turned) in pairs {
        let one = line(Motion::Indexed, Some(division));
        let mut other = one.clone();
        other.converters = vec![converter(&[1, 0], turned)];
        let (a, b) = (settled(&one, &bar, 1), settled(&other, &bar, 1));
        assert!(
            (a.exit.mean_c - b.exit.mean_c).abs() < 1e-6,
            "{} {}",
            a.exit.mean_c,
            b.exit.mean_c
        );
        assert_eq!(one.channels()[0].name, other.channels()[0].name);
    }
    let parts = settled(&line(Motion::Indexed, Some(Division::Power(vec![3.0, 2.0]))), &bar, 1);
    assert!((parts.coils[0].terminals_w / (0.6 * POWERS[0]) - 1.0).abs() < 5e-4);
}

/// In the column the common power is divided by the loads of the moment: the voltage stays one while cold billets change
/// the loads, the power is what is set, and energy closes. At a kept voltage the power follows the loads instead.
#[test]
fn the_column_divides_by_the_loads_of_the_moment() {
    let bar = bar(Fineness::quick());
    let shared = line(Motion::Indexed, Some(Division::Voltage));
    let running = shared.at_powers(&POWERS);
    let steady = settled(&shared, &bar, 1);
    let mut column = Column::steady(&shared, &bar, &running, 1).unwrap();
    let before = column.stored_j();
    let phase = Phase {
        seconds: 90.0,
        takt_s: None,
        drives: shared.spread(&[Drive::Terminals(20e3), Drive::Load(5e3)]),
        feed: Feed::USUAL,
    };
    let mut split = Vec::new();
    column
        .run(&phase, &mut |_, m| {
            assert!(
                ((m.terminals_w[0] + m.terminals_w[1]) / 20e3 - 1.0).abs() < 1e-9,
                "{m:?}"
            );
            split.push(m.terminals_w[0] / 20e3);
        })
        .unwrap();
    let e = column.energies();
    let rest = e.terminals_j - e.winding_j - e.loss_j - e.out_j - (column.stored_j() - before);
    assert!((rest / e.terminals_j).abs() < 1e-6, "{e:?} {rest}");
    // As the standing billets of the first coil lose their magnetism or cool, it takes another part.
    assert!(
        (split.first().unwrap() - split.last().unwrap()).abs() > 1e-3,
        "{split:?}"
    );
    let highest = column.highest();
    assert!((highest.converters[0].power_w / 20e3 - 1.0).abs() < 1e-9, "{highest:?}");
    assert!(
        (highest.coils[0].volts / highest.coils[1].volts - 1.0).abs() < 1e-6,
        "{highest:?}"
    );

    let into = |column: &mut Column, drives: Vec<Drive>| {
        let phase = Phase {
            seconds: 2.0,
            takt_s: None,
            drives,
            feed: Feed::USUAL,
        };
        let mut first = None;
        let before = column.energies();
        column
            .run(&phase, &mut |_, m| first = first.take().or(Some(m.clone())))
            .unwrap();
        (first.unwrap(), column.energies().load_j - before.load_j)
    };
    let mut column = Column::steady(&shared, &bar, &running, 1).unwrap();
    let (_, load_j) = into(&mut column, shared.spread(&[Drive::Load(12e3), Drive::Terminals(0.0)]));
    assert!((load_j / 24e3 - 1.0).abs() < 1e-6, "{load_j}");
    // The settled state of an indexed line is a mean over the takt, which begins a little colder.
    let mut column = Column::steady(&shared, &bar, &running, 1).unwrap();
    let (moment, _) = into(&mut column, shared.kept(&steady.coils));
    let together = moment.terminals_w[0] + moment.terminals_w[1];
    assert!((together / POWERS[0] - 1.0).abs() < 0.05, "{together}");
}

/// A winding that hangs on a needed voltage takes its current also while it is empty; one with a power of its own is off.
#[test]
fn an_empty_winding_on_a_voltage_takes_its_part() {
    let bar = bar(Fineness::quick());
    for (division, fed) in [(Division::Voltage, true), (Division::Power(vec![1.0, 1.0]), false)] {
        let shared = line(Motion::Indexed, Some(division));
        let filling = billet_thermal::inside::heater::line::Filling::Empty;
        let mut column = Column::new(&shared, &bar, filling, 1).unwrap();
        let phase = Phase {
            seconds: 2.0 * shared.takt_s,
            takt_s: Some(shared.takt_s),
            drives: shared.at_powers(&[30e3, 10e3]),
            feed: Feed::USUAL,
        };
        let mut last = None;
        column.run(&phase, &mut |_, m| last = Some(m.clone())).unwrap();
        let last = last.unwrap();
        assert!(last.terminals_w[0] > 0.0 && last.terminals_w[2] == 0.0, "{last:?}");
        assert_eq!(last.terminals_w[1] > 0.0, fed, "{last:?}");
        let e = column.energies();
        let rest = e.terminals_j - e.winding_j - e.loss_j - e.out_j - column.stored_j();
        assert!((rest / e.terminals_j).abs() < 1e-6, "{e:?} {rest}");
    }
}

#[test]
fn settings_that_differ_on_one_converter_are_refused() {
    let bar = bar(Fineness::quick());
    let shared = line(Motion::Indexed, Some(Division::Voltage));
    for wrong in [
        [Drive::Common(1e5), Drive::Common(2e5), Drive::Terminals(5e4)],
        [Drive::Common(1e5), Drive::Terminals(1e5), Drive::Terminals(5e4)],
        [Drive::Terminals(1e5), Drive::Terminals(1e5), Drive::Common(5e4)],
    ] {
        let error = shared.steady(&bar, &wrong, 1).unwrap_err().to_string();
        assert!(error.contains("one and the same setting"), "{error}");
    }
}

fn goal() -> Goal {
    Goal {
        target: Target::Mean,
        value_c: 1230.0,
        after_s: 0.0,
        difference_k: Some(80.0),
        never_above_c: 1330.0,
        tolerance_k: 1.0,
        least: Least::Energy,
    }
}

/// The search has one unknown for the converter, meets the target, and keeps every rating that is asked of it.
#[test]
fn the_search_keeps_ratings() {
    let bar = bar(Fineness::quick());
    let shared = line(Motion::Continuous, Some(Division::Voltage));
    let found = find_powers(&shared, &bar, &goal(), &[300e3, 200e3], None, 1).unwrap();
    assert_eq!(found.powers_w.len(), 2);
    assert!(!matches!(found.status, Status::Impossible(_)), "{:?}", found.status);
    let run = shared.steady(&bar, &shared.at_powers(&found.powers_w), 1).unwrap();
    assert!((run.exit.mean_c - 1230.0).abs() < 1.5, "{}", run.exit.mean_c);
    let free = shared.readings(&found.steady.coils);
    // Nine tenths of what the converter would take of each.
    let nine = |x: f64| Some(0.9 * x);
    let most = free.converters[0];
    for (what, limits) in [
        (
            Rated::Voltage,
            Limits {
                volts: nine(most.volts),
                ..Limits::default()
            },
        ),
        (
            Rated::Current,
            Limits {
                amperes: nine(most.amperes),
                ..Limits::default()
            },
        ),
        (
            Rated::Reactive,
            Limits {
                reactive_var: nine(most.reactive_var),
                ..Limits::default()
            },
        ),
        (
            Rated::Power,
            Limits {
                power_w: nine(most.power_w),
                ..Limits::default()
            },
        ),
    ] {
        let ratings = Ratings {
            coils: vec![Limits::default(); 3],
            converters: vec![limits],
        };
        let ranges = (&[0.0, 0.0][..], &[300e3, 200e3][..]);
        assert!(
            ratings
                .of(&shared, &free)
                .iter()
                .all(|r| r.is_broken() && r.what == what)
        );
        let kept = find_powers_within(&shared, &bar, &goal(), ranges, None, 1, &ratings).unwrap();
        let now = ratings.of(&shared, &shared.readings(&kept.steady.coils));
        assert!(now.iter().all(|r| !r.is_broken() && r.binds()), "{what:?} {now:?}");
        assert!(
            kept.powers_w[1] > found.powers_w[1],
            "the last coil makes good what is left"
        );
        if let Status::MetAtBound(at) = &kept.status {
            assert_eq!(at, &[0]);
        }
    }
    // Powers that are given stay what they are.
    let given = (&found.powers_w[..], &found.powers_w[..]);
    let same = find_powers_between(&shared, &bar, &goal(), given, None, 1).unwrap();
    assert_eq!(same.powers_w, found.powers_w);
}

/// A change of pace is planned with one power for the converter, whole tenths of a kilowatt, and what is promised comes
/// out when it is run.
#[test]
fn a_transition_sets_converters() {
    let bar = bar(Fineness::quick());
    let shared = line(Motion::Indexed, Some(Division::Voltage));
    let running = shared.at_powers(&POWERS);
    let criteria = criteria();
    let takt_s = 18.0;
    let powers = POWERS.map(|p| (p * 14.0 / takt_s / 100.0).round() * 100.0);
    let transition = Transition {
        next: None,
        line: &shared,
        bar: &bar,
        slices: 1,
        origin: Origin::Running(&running),
        before: None,
        takt_s,
        powers_w: &powers,
        highest_w: &[300e3, 200e3],
        criteria: &criteria,
    };
    let course = transition.plan().unwrap();
    for phase in &course.phases {
        assert_eq!(phase.drives[0], phase.drives[1]);
        let set = shared.set_powers(&phase.drives);
        assert!(
            set.iter().all(|p| (p / 100.0 - (p / 100.0).round()).abs() < 1e-6),
            "{set:?}"
        );
    }
    assert!(course.study.rejected <= course.at_once.rejected);
    assert!(course.study.highest.converters[0].power_w <= 300e3 * (1.0 + 1e-9));
}

/// A row of four coils of our own shop, 75 mm bar, two converters.
const LINE: &str = r#"title = "Two converters"
resolution = "quick"
[billet]
steel = "42CrMo4"
section = "round"
diameter_mm = 60
length_mm = 140
[shop]
takt_s = 14
[heater]
kind = "coil_line"
bore_mm = 100
lining_mm = 12
frequency_hz = 1000
turns = 40
highest_kw = 400
[heater.target]
temperature_c = 1230
difference_k = 60
never_above_c = 1280
[[heater.converter]]
name = "A"
coils = ["cold", "middle"]
highest_kw = 300
[[heater.zone]]
kind = "coil"
name = "cold"
length_mm = 980
[[heater.zone]]
kind = "coil"
name = "middle"
length_mm = 980
[[heater.zone]]
kind = "open"
length_mm = 70
[[heater.zone]]
kind = "coil"
name = "hot"
frequency_hz = 2000
length_mm = 770
[[stage]]
kind = "carry"
name = "heater to press"
seconds = 4.2
grip = { end = "grip_end", length_mm = 25 }
"#;

fn document(old: &str, new: &str) -> Result<Document, LineFileError> {
    assert_eq!(LINE.matches(old).count(), 1, "`{old}`");
    Document::parse(LINE.replace(old, new), "line.toml")
}

/// The first problem of the line with one text in place of another, and its line in the file.
fn refused(old: &str, new: &str) -> (String, usize) {
    match document(old, new) {
        Err(LineFileError::Wrong(problems)) => {
            let first = &problems.list[0];
            let help = first.kind.help().unwrap_or_default();
            (format!("{}; {help}", first.kind), first.line)
        }
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("`{new}` was taken"),
    }
}

#[test]
fn wrong_converters_are_refused_with_their_place() {
    let at = |text: &str| LINE[..LINE.find(text).unwrap()].lines().count() + 1;
    let list = at("coils = [");
    let cases = [
        ("\"cold\", \"middle\"]", "\"cold\", \"midle\"]", list, "middle"),
        ("\"cold\", \"middle\"]", "]", list, "coils"),
        ("\"cold\", \"middle\"]", "\"cold\", \"cold\"]", list, "named twice"),
        ("\"cold\", \"middle\"]", "\"cold\", \"hot\"]", list, "one frequency"),
        ("turns = 40\n", "", at("coils = [") - 1, "no turns"),
        ("highest_kw = 300", "lowest_hz = 1500", list + 1, "below"),
        ("highest_kw = 300", "parts = [1, 2]", list + 1, "impedance"),
        (
            "highest_kw = 300",
            "share = \"power\"\nhighest_v = 500",
            list + 2,
            "no common voltage",
        ),
        (
            "highest_kw = 300",
            "share = \"power\"\nparts = [1, 2, 3]",
            list + 2,
            "3 parts for 2 coils",
        ),
        ("highest_kw = 300", "share = \"volts\"", list + 1, "voltage"),
        (
            "highest_kw = 300",
            "highest_kw = 300\n[[heater.converter]]\ncoils = [\"hot\", \"cold\"]",
            list + 3,
            "already",
        ),
    ];
    for (old, new, line, words) in cases {
        let (text, found) = refused(old, new);
        assert!(text.contains(words), "{new}: {text}");
        assert_eq!(found, line, "{new}: {text}");
    }
    let own = "name = \"middle\"\npower_kw = 50";
    let (text, line) = refused("name = \"middle\"", own);
    assert!(text.contains("one voltage"), "{text}");
    assert_eq!(line, at("name = \"middle\"") + 1);
    let (text, _) = refused(
        "[heater.target]\ntemperature_c = 1230\ndifference_k = 60\nnever_above_c = 1280\n",
        "",
    );
    assert!(text.contains("power_kw"), "{text}");
}

fn answer(document: &Document, question: &CoilQuestion) -> (CoilAnswer, f64) {
    let plan = document.plan();
    let Heater::CoilLine(heater) = &plan.heater else {
        panic!("a row of coils");
    };
    (CoilAnswer::of(question, plan, heater).unwrap(), heater.water_rise_k)
}

fn question() -> CoilQuestion {
    CoilQuestion {
        next: None,
        warm_c: None,
        search: false,
        start_up: false,
        start_empty: false,
        run_out: false,
        stops_s: Vec::new(),
        ways: Vec::new(),
        run_on_takt_s: None,
        run_on_share: None,
        shift_s: 28_800.0,
        takt_s: None,
    }
}

/// What a searched line says of its converter, given as power of it, gives the same line; a voltage too low for it is
/// passed, said, and the answer does not hold.
#[test]
fn what_is_printed_can_be_set_and_is_judged() {
    let (found, rise_k) = answer(&document("highest_kw = 300", "highest_kw = 300").unwrap(), &question());
    assert!(
        found.holds(),
        "{:?} {:?}",
        found.found.map(|f| f.status),
        found.overloads
    );
    let state = &found.electrics.converters[0];
    assert!(state.parallel && state.coils == ["cold", "middle"]);
    let kw = 1e-3 * state.reading.power_w;
    let hot_kw = 1e-3 * found.steady.coils[2].terminals_w;
    // Water by hand: 992.2 kg/m³ times 4179 J/(kg K).
    for (cooling, coil) in found.electrics.water.iter().zip(&found.steady.coils) {
        let lining = found.steady.losses.iter().find(|l| l.name == coil.name).unwrap().loss_w;
        assert!((cooling.heat_w - coil.winding_w - lining).abs() < 1e-6 * cooling.heat_w);
        let litres = 60.0 * cooling.heat_w / (4.179e3 * 0.9922 * rise_k);
        assert!((60e3 * cooling.flow_m3_s / litres - 1.0).abs() < 1e-9);
    }
    let balance = &found.steady.balance;
    let water = found.electrics.all_water().0;
    assert!(
        (water - balance.winding_w - balance.lining_w).abs() < 1e-6 * water,
        "no tunnel here"
    );

    let low = 0.8 * state.reading.volts;
    let given = LINE
        .replace("highest_kw = 300", &format!("power_kw = {kw}\nhighest_v = {low}"))
        .replace("name = \"hot\"", &format!("name = \"hot\"\npower_kw = {hot_kw}"));
    let (given, _) = answer(&Document::parse(&given, "line.toml").unwrap(), &question());
    assert!((given.steady.exit.mean_c - found.steady.exit.mean_c).abs() < 0.5);
    assert!((given.steady.coils[0].electrical.volts / state.reading.volts - 1.0).abs() < 2e-3);
    assert!(!given.holds());
    let passed = &given.overloads[0];
    assert_eq!((passed.when, passed.rating.what), (When::Settled, Rated::Voltage));
    assert!((passed.rating.value / state.reading.volts - 1.0).abs() < 2e-3 && passed.rating.limit == low);

    // Searched with that limit, it is kept and named.
    let kept = document("highest_kw = 300", &format!("highest_v = {low}")).unwrap();
    let (kept, _) = answer(&kept, &question());
    assert!(kept.overloads.is_empty(), "{:?}", kept.overloads);
    assert_eq!(kept.electrics.binding[0].what, Rated::Voltage);
}

/// A start and a stop are judged by the highest of their way.
#[test]
fn transitions_are_judged() {
    let asked = CoilQuestion {
        start_up: true,
        stops_s: vec![120.0],
        ways: vec![StopWay::Hold],
        ..question()
    };
    let (free, _) = answer(&document("highest_kw = 300", "highest_kw = 300").unwrap(), &asked);
    assert!(free.overloads.is_empty(), "{:?}", free.overloads);
    let settled = free.electrics.converters[0].reading.reactive_var;
    let most = free.cold.as_ref().unwrap().study.highest.converters[0].reactive_var;
    // Cold magnetic billets in both coils need other capacitors than the settled line.
    assert!((most / settled - 1.0).abs() > 0.01, "{most} {settled}");
    let kvar = 1e-3 * settled.max(most) * 0.999 * 0.99;
    let tight = format!("highest_kw = 300\nhighest_kvar = {kvar}");
    let powers: Vec<f64> = free.found.as_ref().unwrap().powers_w.clone();
    let given = LINE
        .replace("highest_kw = 300", &format!("{tight}\npower_kw = {}", 1e-3 * powers[0]))
        .replace(
            "name = \"hot\"",
            &format!("name = \"hot\"\npower_kw = {}", 1e-3 * powers[1]),
        );
    let (tight, _) = answer(&Document::parse(&given, "line.toml").unwrap(), &asked);
    assert!(!tight.overloads.is_empty() && !tight.holds());
    assert!(
        tight
            .overloads
            .iter()
            .all(|o| o.rating.what == Rated::Reactive && o.rating.name == "A")
    );
}

/// Frequencies about the present one: the row of the present frequency is the line itself, and a higher one has less skin,
/// so a larger difference at the exit where powers are scaled.
#[test]
fn other_frequencies_have_their_cost() {
    let text = LINE
        .replace("highest_kw = 300", "power_kw = 190\nhighest_hz = 1500")
        .replace("name = \"hot\"", "name = \"hot\"\npower_kw = 60");
    let (answer, _) = answer(&Document::parse(&text, "line.toml").unwrap(), &question());
    let table = &answer.frequencies;
    assert!(!table.searched && table.rows.len() == 5);
    let now = &table.rows[2];
    assert!((now.times - 1.0).abs() < 1e-12 && now.met && now.not_given.is_empty());
    assert!((now.powers_w[0] / 190e3 - 1.0).abs() < 1e-3, "{now:?}");
    let exit = &answer.steady.exit;
    assert!(
        (now.difference_k - (exit.surface_c - exit.core_c)).abs() < 8.0,
        "{now:?}"
    );
    assert!(table.rows[4].difference_k > table.rows[0].difference_k, "{table:?}");
    assert_eq!(table.rows[4].not_given, ["A"]);
}
