//! Where the energy of a heater goes, down to the tonne of good billets of a shift.

use serde::Serialize;

use super::bar::Bar;
use super::line::{HeaterLine, Steady, Study};

/// What a share of the energy is spent on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Spent {
    /// All of it, from the mains.
    Mains,
    /// Transformer, converter and busbars.
    Supply,
    /// Windings.
    Windings,
    /// Linings.
    Linings,
    /// Open gaps and end faces.
    Open,
    /// The steel at the exit.
    Steel,
}

impl Spent {
    /// Name in result files.
    pub fn name(self) -> &'static str {
        match self {
            Spent::Mains => "from the mains",
            Spent::Supply => "supply (transformer, converter, busbars)",
            Spent::Windings => "windings",
            Spent::Linings => "linings",
            Spent::Open => "open gaps",
            Spent::Steel => "steel at the exit",
        }
    }
}

/// What a line does while it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "&'static str")]
pub enum StopWay {
    /// No power.
    Off,
    /// Each coil makes good what its billets lose.
    Hold,
    /// The billets are pushed on slowly, at lower power; those that come out are set aside.
    RunOn,
}

impl From<StopWay> for &'static str {
    fn from(way: StopWay) -> &'static str {
        way.name()
    }
}

impl StopWay {
    /// Name in result files.
    pub fn name(self) -> &'static str {
        match self {
            StopWay::Off => "off",
            StopWay::Hold => "hold",
            StopWay::RunOn => "run on",
        }
    }

    fn says(self) -> &'static str {
        match self {
            StopWay::Off => "power off",
            StopWay::Hold => "hold power",
            StopWay::RunOn => "run on slowly",
        }
    }
}

/// What costs energy beside steady work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EventKind {
    /// A cold start with a full heater.
    StartUp,
    /// A stop of this many seconds.
    Stop(f64, StopWay),
}

/// A start-up or a stop, with the billets that nobody forges.
#[derive(Debug, Clone, Copy)]
pub struct Event<'a> {
    /// What it is.
    pub kind: EventKind,
    /// What came out.
    pub study: &'a Study,
    /// Billets rejected or set aside.
    pub lost: usize,
}

/// What an event costs.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct EventCost {
    /// What it is.
    pub kind: EventKind,
    /// Billets rejected or set aside.
    pub lost: usize,
    /// It happens once in this time, s.
    pub every_s: f64,
    /// Energy from the mains beyond that of its good billets, spread over the good billets, J/kg.
    pub j_per_kg: f64,
}

impl EventCost {
    /// Name in result files.
    pub fn name(&self) -> String {
        let what = match self.kind {
            EventKind::StartUp => "start-up".to_owned(),
            EventKind::Stop(seconds, way) => format!("stop of {seconds:.0} s, {}", way.says()),
        };
        format!("{what}: {} rejects, once in {} h", self.lost, self.every_s / 3600.0)
    }
}

/// Power and energy shares of a heater at work.
#[derive(Debug, Clone, PartialEq)]
pub struct EnergyTable {
    /// Shares in W; the first is the sum of the others.
    pub shares: Vec<(Spent, f64)>,
    /// Throughput, kg/s, good and rejected.
    pub kg_s: f64,
    /// Enthalpy that the target temperature needs at least, W.
    pub least_w: f64,
    /// Start-up and stops.
    pub events: Vec<EventCost>,
}

impl EnergyTable {
    /// The table of a settled line. `supply` is terminal over mains power; `least_w` the enthalpy
    /// rise to the target.
    pub fn of(steady: &Steady, supply: f64, least_w: f64) -> EnergyTable {
        let b = &steady.balance;
        let mains = b.terminals_w / supply;
        EnergyTable {
            shares: vec![
                (Spent::Mains, mains),
                (Spent::Supply, mains - b.terminals_w),
                (Spent::Windings, b.winding_w),
                (Spent::Linings, b.lining_w),
                (Spent::Open, b.open_w),
                (Spent::Steel, b.steel_w),
            ],
            kg_s: b.kg_s,
            least_w,
            events: Vec::new(),
        }
    }

    /// Adds start-up and stops that happen once in `every_s` (s) each; of several ways to bridge one,
    /// the one that costs least.
    ///
    /// An event costs E_study − n_good e with the mains energy E of its study, its good billets n and
    /// the energy e of a billet in the periodic state. A study begins or ends in that state, so what
    /// is stored in the column counts where it is lost: in the start-up that fills it again. The sum is
    /// spread over the mass of the good billets of the shift.
    pub fn add_events(&mut self, events: &[Vec<Event>], every_s: f64, line: &HeaterLine, bar: &Bar, supply: f64) {
        let each_j = self.mains_w() * line.takt_s;
        let good = |e: &Event| e.study.billets.len() as f64 - e.lost as f64;
        let extra = |e: &Event| e.study.energies.terminals_j / supply - good(e) * each_j;
        let chosen: Vec<&Event> = events
            .iter()
            .filter_map(|ways| ways.iter().min_by(|a, b| extra(a).total_cmp(&extra(b))))
            .collect();
        let span = |e: &Event| e.study.moments.last().map_or(0.0, |m| m.time_s);
        let busy: f64 = chosen.iter().map(|e| span(e)).sum();
        let rest = ((every_s - busy) / line.takt_s).max(0.0);
        let billets = rest + chosen.iter().map(|e| good(e)).sum::<f64>();
        let kg = billets * bar.mass_kg_m() * line.billet_m;
        self.events = chosen
            .iter()
            .map(|e| EventCost {
                kind: e.kind,
                lost: e.lost,
                every_s,
                j_per_kg: extra(e) / kg,
            })
            .collect();
    }

    /// Power from the mains, W.
    pub fn mains_w(&self) -> f64 {
        self.shares.first().map_or(f64::NAN, |s| s.1)
    }

    /// A power spread over the throughput, J/kg.
    pub fn per_kg(&self, watts: f64) -> f64 {
        watts / self.kg_s
    }

    /// Energy per mass from the mains for good billets, start-up and stops included, J/kg; `None`
    /// where none were asked about.
    pub fn good_j_per_kg(&self) -> Option<f64> {
        let events: f64 = self.events.iter().map(|e| e.j_per_kg).sum();
        (!self.events.is_empty()).then(|| self.per_kg(self.mains_w()) + events)
    }
}
