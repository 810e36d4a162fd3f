//! Many parts one after the other, each begun while the one before is still in the later stages.
//!
//! A part meets a tool as the part before has left it, and nothing else ties parts together. So one thread
//! takes every part through the first stages and another through the rest, each with its own tools. What
//! comes out is what one thread gives, bit for bit.

use std::sync::mpsc::sync_channel;
use std::thread;

use super::result::{DieFace, WarmPart};
use super::shift::Shift;
use crate::line::plan::{Plan, StageKind};
use crate::line::run::tooling::Tooling;
use crate::line::run::{RunError, Runner};

/// Takes parts `numbers` through the line; gives them and the tools as they wait for the next one.
pub(super) fn parts(
    shift: &Shift<'_>,
    numbers: std::ops::RangeInclusive<u32>,
    mut tooling: Tooling,
) -> Result<(Vec<WarmPart>, Tooling), RunError> {
    match split(shift.plan, shift.stages()).filter(|_| rayon::current_num_threads() > 1) {
        Some(at) => beside(shift, numbers, tooling, at),
        None => {
            let mut parts = Vec::new();
            for number in numbers {
                parts.push(shift.part(number, &mut tooling)?);
                shift.idle(&mut tooling, 0.0)?;
            }
            Ok((parts, tooling))
        }
    }
}

/// The same with the stages from `at` on in a thread of their own.
fn beside(
    shift: &Shift<'_>,
    numbers: std::ops::RangeInclusive<u32>,
    tooling: Tooling,
    at: usize,
) -> Result<(Vec<WarmPart>, Tooling), RunError> {
    let (mut front, mut back) = (tooling.clone(), tooling);
    front.kept.retain(|kept| kept.stage < at);
    back.kept.retain(|kept| kept.stage >= at);
    let (sender, receiver) = sync_channel::<(u32, Runner<'_>, Vec<DieFace>)>(1);
    let (early, late) = thread::scope(|scope| {
        let early = scope.spawn(move || {
            for number in numbers {
                let mut runner = shift.runner(&mut front);
                shift.stages_of(&mut runner, 0..at)?;
                front = std::mem::take(&mut runner.tooling);
                let faces = shift.faces(&front);
                // The other end is gone when it has failed, and tells why itself.
                if sender.send((number, runner, faces)).is_err() {
                    break;
                }
                shift.idle_here(&mut front)?;
            }
            Ok::<_, RunError>(front)
        });
        let late = || {
            let mut parts = Vec::new();
            for (number, mut runner, mut faces) in receiver {
                shift.take_tools(&mut runner, &mut back);
                shift.stages_of(&mut runner, at..shift.stages())?;
                back = std::mem::take(&mut runner.tooling);
                faces.extend(shift.faces(&back));
                parts.push(shift.told(number, runner, faces));
                shift.idle_here(&mut back)?;
            }
            Ok::<_, RunError>((parts, back))
        };
        let late = late();
        (early.join(), late)
    });
    let front = match early {
        Ok(front) => front,
        Err(panic) => std::panic::resume_unwind(panic),
    };
    // What fails early leaves the later stages without parts, so it is told first.
    let (mut front, (parts, back)) = (front?, late?);
    front.kept.extend(back.kept);
    Ok((parts, front))
}

/// Where the later stages begin, so that both halves cost about the same; none where a gripper works in
/// both or there is nothing to share.
fn split(plan: &Plan, stages: usize) -> Option<usize> {
    let costs: Vec<u32> = plan.stages[..stages].iter().map(|stage| cost(&stage.kind)).collect();
    let whole: u32 = costs.iter().sum();
    (1..stages)
        .filter(|at| apart(plan, *at))
        .map(|at| (at, costs[..at].iter().sum::<u32>()))
        .min_by_key(|(_, front)| (*front).max(whole - front))
        .map(|(at, _)| at)
}

/// Marches that a stage takes, roughly.
fn cost(kind: &StageKind) -> u32 {
    match kind {
        StageKind::Forge(forge) => 2 + 3 * forge.blows,
        StageKind::Trim(_) => 3,
        StageKind::Carry { grips, .. } if !grips.is_empty() => 2,
        _ => 1,
    }
}

/// Whether no gripper works both before and from stage `at` on.
fn apart(plan: &Plan, at: usize) -> bool {
    let names = |stages: &[crate::line::plan::Stage]| -> Vec<String> {
        let grips = stages.iter().filter_map(|stage| match &stage.kind {
            StageKind::Carry { grips, .. } => Some(grips),
            _ => None,
        });
        let named = grips.flatten().filter_map(|grip| grip.gripper.as_ref());
        named.map(|gripper| gripper.name.clone()).collect()
    };
    let late = names(&plan.stages[at..]);
    names(&plan.stages[..at]).iter().all(|name| !late.contains(name))
}
