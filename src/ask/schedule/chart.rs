//! Cycle chart of one takt: times, busy devices, conflicts, slack.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::ask::PlanError;
use crate::ask::error::{not_negative, positive};

/// What an activity is called. Data files and the waits of other activities have it in English (`Display`).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Task {
    /// A stage of the line, or an activity of the study, by its own name.
    Named(String),
    /// Spray and blow-off of the dies of a stage.
    DieSpray(String),
}

impl fmt::Display for Task {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Task::Named(name) => f.write_str(name),
            Task::DieSpray(stage) => write!(f, "die spray, {stage}"),
        }
    }
}

impl Serialize for Task {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

/// Something that takes time and devices. It starts when all it waits for have ended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Activity {
    /// Unique name.
    pub name: Task,
    /// Devices busy for the whole of it: none for a mere wait, two for a move of two robots
    /// together or a bar held at both ends.
    pub devices: Vec<String>,
    /// Devices that take turns: each part takes the next of them. Activities with the same list take the same
    /// one for the same part.
    pub alternate: Vec<String>,
    /// Once in so many parts; above one the line stands meanwhile (a change of tools).
    pub every_parts: u32,
    /// Duration, s.
    pub seconds: f64,
    /// Names of the activities that must have ended before.
    pub after: Vec<String>,
    /// Earliest start, s after the heater exit.
    pub not_before_s: f64,
    /// Whether the hot part is in it: hot activities make up the hot time of the part.
    pub hot: bool,
}

impl Activity {
    fn is_called(&self, name: &str) -> bool {
        match &self.name {
            Task::Named(own) => own == name,
            Task::DieSpray(_) => self.name.to_string() == name,
        }
    }

    /// All devices that it may need.
    pub fn all_devices(&self) -> impl Iterator<Item = &String> {
        self.devices.iter().chain(&self.alternate)
    }
}

/// An activity on the time axis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Placed {
    /// Name of the activity.
    pub name: Task,
    /// Devices it keeps busy.
    pub devices: Vec<String>,
    /// Devices that take turns with it, from part to part.
    pub alternate: Vec<String>,
    /// Earliest start, s.
    pub start_s: f64,
    /// Earliest end, s.
    pub end_s: f64,
    /// Seconds it may start later without making the last hot activity later.
    pub slack_s: f64,
    /// Whether the hot part is in it.
    pub hot: bool,
}

/// Use of one device.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeviceUse {
    /// Device.
    pub device: String,
    /// Busy time per part, s; the mean over parts where it takes turns with others.
    pub busy_s: f64,
    /// Takt minus busy time, s; negative when the device cannot keep the takt.
    pub idle_s: f64,
}

/// Two activities that need one device at the same moment of the repeated cycle.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conflict {
    /// Device wanted twice.
    pub device: String,
    /// First activity.
    pub first: Task,
    /// Second activity, of this part or of one some takts later.
    pub second: Task,
    /// How many takts later the part of the first activity is.
    pub parts_apart: u32,
    /// Overlap, s.
    pub overlap_s: f64,
}

/// Something for which the line stands once in many parts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interruption {
    /// Name of the activity.
    pub name: Task,
    /// How long the line stands, s.
    pub seconds: f64,
    /// Once in so many parts.
    pub every_parts: u32,
}

/// The cycle of one part, repeated every takt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// Activities in the order given.
    pub activities: Vec<Placed>,
    /// Devices in order of first mention.
    pub devices: Vec<DeviceUse>,
    /// Device with the longest busy time.
    pub limiting: Option<String>,
    /// Conflicts at the takt asked for.
    pub conflicts: Vec<Conflict>,
    /// Time from heater exit to the end of the last hot activity, s.
    pub hot_time_s: f64,
    /// Shortest takt at which the same cycle repeats without a conflict, s.
    pub shortest_takt_s: f64,
    /// What the line stands for now and then.
    pub interruptions: Vec<Interruption>,
    /// Time from part to part in the mean, interruptions included, s.
    pub mean_takt_s: f64,
}

/// Why a chart cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ScheduleError {
    /// A number is wrong.
    #[error(transparent)]
    Number(#[from] PlanError),
    /// Two activities of one name.
    #[error("two activities are called `{0}`")]
    Twice(String),
    /// An activity waits for one that does not exist.
    #[error("`{name}` waits for `{missing}`, which is not there")]
    Missing {
        /// The activity.
        name: String,
        /// What it waits for.
        missing: String,
    },
    /// An activity of every part waits for one that is not in every part.
    #[error("`{name}` waits for `{before}`, which is only once in {every_parts} parts")]
    Rare {
        /// The activity.
        name: String,
        /// What it waits for.
        before: String,
        /// Once in so many parts.
        every_parts: u32,
    },
    /// Activities that wait for each other.
    #[error("these activities wait for each other: {0}")]
    Circle(String),
}

/// Places every activity as early as its waits allow and checks the devices against the takt.
///
/// # Errors
/// [`ScheduleError`].
pub fn chart(activities: &[Activity], takt_s: f64) -> Result<Chart, ScheduleError> {
    positive("takt in s", takt_s)?;
    check(activities)?;
    let (activities, rare): (Vec<Activity>, Vec<Activity>) =
        activities.iter().cloned().partition(|a| a.every_parts <= 1);
    let (activities, rare) = (activities.as_slice(), rare.as_slice());
    let (before, order) = precedence(activities)?;
    let n = activities.len();
    let mut start = vec![0.0_f64; n];
    let mut end = vec![0.0_f64; n];
    for &i in &order {
        let ready = before[i].iter().map(|&j| end[j]).fold(0.0, f64::max);
        start[i] = ready.max(activities[i].not_before_s);
        end[i] = start[i] + activities[i].seconds;
    }
    let hot_time_s = (0..n)
        .filter(|&i| activities[i].hot)
        .map(|i| end[i])
        .fold(0.0, f64::max);
    let finish = end.iter().copied().fold(0.0, f64::max);
    // Backward pass: the latest end that keeps the last hot activity; what nothing waits for may
    // last until the whole cycle ends.
    let mut latest = vec![finish; n];
    for i in 0..n {
        if activities[i].hot {
            latest[i] = hot_time_s;
        }
    }
    for &i in order.iter().rev() {
        let latest_start = latest[i] - activities[i].seconds;
        for &j in &before[i] {
            latest[j] = latest[j].min(latest_start);
        }
    }
    let placed: Vec<Placed> = (0..n)
        .map(|i| Placed {
            name: activities[i].name.clone(),
            devices: activities[i].devices.clone(),
            alternate: activities[i].alternate.clone(),
            start_s: start[i],
            end_s: end[i],
            slack_s: latest[i] - end[i],
            hot: activities[i].hot,
        })
        .collect();
    let devices = device_use(activities, rare, takt_s);
    let mut limiting: Option<&DeviceUse> = None;
    for device in &devices {
        if limiting.is_none_or(|l| device.busy_s > l.busy_s) {
            limiting = Some(device);
        }
    }
    let limiting = limiting.map(|d| d.device.clone());
    let conflicts = conflicts(&placed, takt_s);
    let shortest_takt_s = shortest_takt(&placed, finish);
    Ok(Chart {
        activities: placed,
        devices,
        limiting,
        conflicts,
        hot_time_s,
        shortest_takt_s,
        mean_takt_s: takt_s + rare.iter().map(|a| a.seconds / f64::from(a.every_parts)).sum::<f64>(),
        interruptions: rare
            .iter()
            .map(|a| Interruption {
                name: a.name.clone(),
                seconds: a.seconds,
                every_parts: a.every_parts,
            })
            .collect(),
    })
}

/// How long every device is busy per part.
fn device_use(activities: &[Activity], rare: &[Activity], takt_s: f64) -> Vec<DeviceUse> {
    let mut devices: Vec<DeviceUse> = Vec::new();
    for activity in activities.iter().chain(rare) {
        let each = activity.seconds / f64::from(activity.every_parts.max(1));
        let turn = each / activity.alternate.len().max(1) as f64;
        let always = activity.devices.iter().map(|device| (device, each));
        for (device, busy_s) in always.chain(activity.alternate.iter().map(|device| (device, turn))) {
            match devices.iter_mut().find(|d| d.device == *device) {
                Some(known) => known.busy_s += busy_s,
                None => devices.push(DeviceUse {
                    device: device.clone(),
                    busy_s,
                    idle_s: 0.0,
                }),
            }
        }
    }
    for device in &mut devices {
        device.idle_s = takt_s - device.busy_s;
    }
    devices
}

type Precedence = (Vec<Vec<usize>>, Vec<usize>);

/// Whether numbers, names and waits of all activities are right, the rare ones included.
fn check(activities: &[Activity]) -> Result<(), ScheduleError> {
    for (i, activity) in activities.iter().enumerate() {
        not_negative("seconds of an activity", activity.seconds)?;
        not_negative("earliest start in s", activity.not_before_s)?;
        let name = activity.name.to_string();
        if activities[..i].iter().any(|a| a.is_called(&name)) {
            return Err(ScheduleError::Twice(name));
        }
        for before in &activity.after {
            let missing = || ScheduleError::Missing {
                name: name.clone(),
                missing: before.clone(),
            };
            let of = activities.iter().find(|a| a.is_called(before)).ok_or_else(missing)?;
            if activity.every_parts <= 1 && of.every_parts > 1 {
                return Err(ScheduleError::Rare {
                    name,
                    before: before.clone(),
                    every_parts: of.every_parts,
                });
            }
        }
    }
    Ok(())
}

/// Predecessors by index (checked to be there), and an order in which every activity follows its predecessors.
fn precedence(activities: &[Activity]) -> Result<Precedence, ScheduleError> {
    let place = |name: &String| activities.iter().position(|a| a.is_called(name));
    let before = activities.iter().map(|a| a.after.iter().filter_map(place).collect());
    let before: Vec<Vec<usize>> = before.collect();
    let mut order: Vec<usize> = Vec::with_capacity(activities.len());
    let mut done = vec![false; activities.len()];
    while order.len() < activities.len() {
        let next = (0..activities.len()).find(|&i| !done[i] && before[i].iter().all(|&j| done[j]));
        let Some(i) = next else {
            let names: Vec<String> = (0..activities.len())
                .filter(|&i| !done[i])
                .map(|i| activities[i].name.to_string())
                .collect();
            return Err(ScheduleError::Circle(names.join(", ")));
        };
        done[i] = true;
        order.push(i);
    }
    Ok((before, order))
}

impl Placed {
    /// Whether it may need a device.
    #[must_use]
    pub fn uses(&self, device: &str) -> bool {
        self.devices.iter().chain(&self.alternate).any(|d| d == device)
    }

    /// Whether it needs a device for part `part`.
    fn takes(&self, device: &str, part: usize) -> bool {
        let turn = self.alternate.get(part % self.alternate.len().max(1));
        self.devices.iter().chain(turn).any(|d| d == device)
    }

    /// All devices that it may need.
    fn all_devices(&self) -> impl Iterator<Item = &String> {
        self.devices.iter().chain(&self.alternate)
    }
}

/// Whether a device is needed by the first activity for a part and by the second for one `apart` parts before.
fn meet(device: &str, first: &Placed, second: &Placed, apart: u32) -> bool {
    let period = first.alternate.len().max(1) * second.alternate.len().max(1);
    (0..period).any(|part| first.takes(device, part + apart as usize) && second.takes(device, part))
}

/// Overlaps on one device when the cycle repeats every `takt`; touching ends do not overlap.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn conflicts(placed: &[Placed], takt: f64) -> Vec<Conflict> {
    let finish = placed.iter().map(|p| p.end_s).fold(0.0, f64::max);
    // Parts further apart than the cycle is long cannot meet; a cycle of more than 1000 takts is
    // cut there.
    let most = (finish / takt).ceil().min(1000.0) as u32;
    let mut found = Vec::new();
    for (i, first) in placed.iter().enumerate() {
        for (j, second) in placed.iter().enumerate() {
            for device in first.all_devices().filter(|d| second.uses(d)) {
                for apart in 0..=most {
                    if (apart == 0 && j <= i) || !meet(device, first, second, apart) {
                        continue;
                    }
                    let shift = f64::from(apart) * takt;
                    let overlap = (first.end_s + shift).min(second.end_s) - (first.start_s + shift).max(second.start_s);
                    if overlap > 1e-9 {
                        found.push(Conflict {
                            device: device.clone(),
                            first: first.name.clone(),
                            second: second.name.clone(),
                            parts_apart: apart,
                            overlap_s: overlap,
                        });
                    }
                }
            }
        }
    }
    found
}

/// Shortest takt without conflicts. A conflict appears or goes only where the end of one activity
/// meets the start of another some takts later, so those takts are the only candidates.
fn shortest_takt(placed: &[Placed], finish: f64) -> f64 {
    let mut candidates = vec![finish];
    for first in placed {
        for second in placed {
            if first.all_devices().any(|d| second.uses(d)) {
                for apart in 1..=20_u32 {
                    let takt = (second.end_s - first.start_s) / f64::from(apart);
                    if takt > 1e-6 {
                        candidates.push(takt);
                    }
                }
            }
        }
    }
    candidates.sort_by(f64::total_cmp);
    candidates.dedup();
    candidates
        .into_iter()
        .find(|&takt| conflicts(placed, takt).is_empty())
        .unwrap_or(finish)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn activity(name: &str, devices: &[&str], seconds: f64, after: &[&str], hot: bool) -> Activity {
        Activity {
            name: Task::Named(name.into()),
            devices: devices.iter().map(|d| (*d).into()).collect(),
            alternate: Vec::new(),
            every_parts: 1,
            seconds,
            after: after.iter().map(|d| (*d).into()).collect(),
            not_before_s: 0.0,
            hot,
        }
    }

    fn cell() -> Vec<Activity> {
        vec![
            activity("fetch", &["robot"], 4.0, &[], true),
            activity("forge", &["hammer"], 6.0, &["fetch"], true),
            activity("spray", &["hammer", "spray arm"], 2.0, &["forge"], false),
            activity("to trim", &["robot"], 3.0, &["forge"], true),
            activity("back", &["robot"], 2.0, &["to trim"], false),
        ]
    }

    #[test]
    fn cell_by_hand() {
        let c = chart(&cell(), 12.0).unwrap();
        assert_relative_eq!(c.hot_time_s, 13.0);
        assert_eq!(c.limiting.as_deref(), Some("robot"));
        assert_relative_eq!(c.devices[0].busy_s, 9.0);
        assert_relative_eq!(c.devices[1].idle_s, 4.0);
        // Spray ends at 12, the cycle at 15: 3 s of slack; the hot chain has none.
        assert_relative_eq!(c.activities[2].slack_s, 3.0);
        assert_relative_eq!(c.activities[1].slack_s, 0.0);
        // At 12 s the next fetch (12 to 16) meets `to trim` (10 to 13) and `back` (13 to 15).
        assert_eq!(c.conflicts.len(), 2);
        assert_relative_eq!(c.conflicts[0].overlap_s, 1.0);
        // Fetch fits again between its own end (4) and `to trim` (10), so a takt of 15 works, and so
        // does 4 to 6 only if the hammer (8 s) allowed it: 15 is the answer up to 9 + something.
        let shortest = c.shortest_takt_s;
        assert!(chart(&cell(), shortest).unwrap().conflicts.is_empty());
        assert_relative_eq!(shortest, 15.0);
    }

    /// Robots that take turns: a fetch of 4 s with its way back of 5 s would keep one robot busy for 9 s, so a
    /// takt of 6 s needs two. By hand: the way back ends at 9 s; the robot is wanted again at 12 s.
    #[test]
    fn two_robots_that_take_turns_keep_half_the_takt() {
        let robots: Vec<String> = ["robot 1", "robot 2"].map(String::from).to_vec();
        let mut list = vec![
            activity("fetch", &[], 4.0, &[], true),
            activity("press", &["press"], 3.0, &["fetch"], true),
            activity("back", &[], 5.0, &["fetch"], false),
        ];
        let one = |list: &[Activity]| {
            let mut list = list.to_vec();
            list[0].devices = vec!["robot 1".into()];
            list[2].devices = vec!["robot 1".into()];
            chart(&list, 6.0).unwrap()
        };
        let alone = one(&list);
        assert!(!alone.conflicts.is_empty());
        assert_relative_eq!(alone.shortest_takt_s, 9.0);
        list[0].alternate = robots.clone();
        list[2].alternate = robots;
        let turns = chart(&list, 6.0).unwrap();
        assert!(turns.conflicts.is_empty(), "{:?}", turns.conflicts);
        assert_relative_eq!(turns.shortest_takt_s, 4.5);
        let busy = |name: &str| turns.devices.iter().find(|d| d.device == name).unwrap().busy_s;
        assert_relative_eq!(busy("robot 1"), 4.5);
        assert_relative_eq!(busy("robot 2"), 4.5);
        // At 4 s the second part after wants the robot while it is on its way back: 8 s against 9 s.
        let close = chart(&list, 4.0).unwrap();
        assert!(
            close.conflicts.iter().all(|c| c.parts_apart == 2),
            "{:?}",
            close.conflicts
        );
        assert_relative_eq!(close.conflicts[0].overlap_s, 1.0);
        // Something that always needs robot 1 meets it in every other part.
        list.push(activity("sample", &["robot 1"], 2.0, &["fetch"], false));
        assert!(!chart(&list, 6.0).unwrap().conflicts.is_empty());
    }

    /// Ten minutes for new tools every 400 parts: 1.5 s a part.
    #[test]
    fn a_change_of_tools_lengthens_the_mean_takt() {
        let mut list = cell();
        let mut change = activity("change of tools", &["hammer"], 600.0, &[], false);
        change.every_parts = 400;
        list.push(change);
        let c = chart(&list, 16.0).unwrap();
        assert_relative_eq!(c.mean_takt_s, 17.5);
        assert_relative_eq!(c.hot_time_s, 13.0);
        assert!(c.conflicts.is_empty());
        assert_relative_eq!(c.devices.iter().find(|d| d.device == "hammer").unwrap().busy_s, 9.5);
        assert_eq!(c.interruptions.len(), 1);
    }

    /// Names are looked for among all activities: what is once in many parts may wait for a stage, no stage for it.
    #[test]
    fn waits_of_and_for_rare_activities_are_checked() {
        let with = |after: &[&str], more: &[Activity]| {
            let mut list = cell();
            let mut change = activity("change of tools", &["hammer"], 600.0, after, false);
            change.every_parts = 400;
            list.push(change);
            list.extend(more.iter().cloned());
            chart(&list, 16.0)
        };
        assert!(with(&["forge"], &[]).is_ok());
        let missing = with(&["no such thing"], &[]).unwrap_err();
        assert!(matches!(&missing, ScheduleError::Missing { missing, .. } if missing == "no such thing"));
        let late = activity("sample", &["robot"], 1.0, &["change of tools"], false);
        let rare = with(&[], &[late]).unwrap_err();
        assert_eq!(
            rare.to_string(),
            "`sample` waits for `change of tools`, which is only once in 400 parts"
        );
        let twice = activity("change of tools", &[], 1.0, &[], false);
        assert!(matches!(with(&[], &[twice]), Err(ScheduleError::Twice(_))));
    }

    #[test]
    fn faults_are_named() {
        let circle = [
            activity("a", &[], 1.0, &["b"], true),
            activity("b", &[], 1.0, &["a"], true),
        ];
        assert!(matches!(chart(&circle, 5.0), Err(ScheduleError::Circle(_))));
        let twice = [activity("a", &[], 1.0, &[], true), activity("a", &[], 1.0, &[], true)];
        assert!(matches!(chart(&twice, 5.0), Err(ScheduleError::Twice(_))));
        let missing = [activity("a", &[], 1.0, &["z"], true)];
        assert!(matches!(chart(&missing, 5.0), Err(ScheduleError::Missing { .. })));
        assert!(chart(&cell(), 0.0).is_err());
    }
}
