//! The `[study]` tables: what scatters, which moves and devices there are, which risks are accepted.

use toml::Spanned;

use super::ranges::SECONDS;
use crate::text::{above, any, number, table, text, whole};

/// Seconds that an element of a move may take; a machine that takes minutes is none.
const ELEMENT_S: (f64, f64) = (0.0, 600.0);
/// Numbers of any input.
const NUMBER: (f64, f64) = (-1.0e9, 1.0e9);

table! {
    /// What the planning commands vary and assume. It changes nothing in a run of the line itself.
    pub(crate) struct RawStudy = "Study";

    /// Runs of a scatter study.
    samples: i64 = whole((1.0, 1.0e7)).or(10_000.0, "good parts to about 0.3 percent points");
    /// Seed of the samples.
    seed: i64 = whole((0.0, 9.0e15)).or(1.0, "any number; the same seed gives the same samples");
    /// How samples are drawn.
    scheme: String = any().words(&["quasi-random", "latin-hypercube", "independent"]);
    /// Confidence of every interval.
    confidence: f64 = number("", (0.5, 0.9999)).or(0.95, "common practice");
    /// Risk that a part right at its reject time is bad.
    reject_risk: f64 = above("", (0.0, 0.5)).or(0.05, "common practice");
    /// Risk that a part right at its alarm time is bad.
    alarm_risk: f64 = above("", (0.0, 0.5)).or(0.001_35, "three standard deviations on one side");
    /// Standard uncertainty of the exit temperature as measured on each part. With it the table for the controller
    /// takes the exit as measured; without it, as scattering.
    exit_sd_k: f64 = above("K", (0.0, 100.0));
    /// Seconds that an alarm must have cleared before it goes.
    hysteresis_s: f64 = above("s", (0.0, 60.0)).or(0.2, "a few cycles of a controller, common practice");
    /// Kelvin that a sort limit must have cleared before parts are accepted again.
    hysteresis_k: f64 = above("K", (0.0, 200.0)).or(5.0, "what a pyrometer repeats within, common practice");
    /// Inputs that scatter.
    scatter: Vec<Spanned<RawScatter>> = any();
    /// Pairs of scattered inputs that scatter together.
    correlation: Vec<Spanned<RawCorrelation>> = any();
    /// Moves with their kinematics.
    moves: Vec<Spanned<RawMove>> = any().called("move");
    /// Devices of stages that are no moves.
    device: Vec<Spanned<RawDevice>> = any();
    /// Activities beside the moves and stages.
    activity: Vec<Spanned<RawActivity>> = any();
}

table! {
    /// An input that scatters.
    pub(crate) struct RawScatter = "Scatter";

    /// Path of the input.
    input: String = text(500.0).required();
    /// Its distribution.
    kind: String = any().required().words(&[
        "normal",
        "truncated-normal",
        "triangular",
        "uniform",
        "lognormal",
        "empirical",
        "retry",
    ]);
    /// Mean. Default: the value of the line file.
    mean: f64 = number("", NUMBER)
        .follows("the value of the line file")
        .of(&["normal", "truncated-normal", "lognormal", "retry"]);
    /// Standard deviation.
    sd: f64 = above("", (0.0, 1.0e9)).of(&["normal", "truncated-normal", "lognormal", "retry"]);
    /// Lowest value.
    low: f64 = number("", NUMBER).of(&["truncated-normal", "triangular", "uniform"]);
    /// Most frequent value. Default: the value of the line file.
    mode: f64 = number("", NUMBER).follows("the value of the line file").of(&["triangular"]);
    /// Highest value.
    high: f64 = number("", NUMBER).of(&["truncated-normal", "triangular", "uniform"]);
    /// Shift of a lognormal distribution.
    offset: f64 = number("", NUMBER).or(0.0, "not shifted").of(&["lognormal"]);
    /// File of measured values (CSV), relative to the line file.
    file: String = text(1000.0).of(&["empirical"]);
    /// Column of that file.
    column: String = text(200.0).of(&["empirical"]);
    /// Probability that a try fails and is done again.
    retry_probability: f64 = number("", (0.0, 1.0)).of(&["retry"]);
    /// Seconds that a retry takes.
    retry_s: f64 = number("s", SECONDS).of(&["retry"]);
    /// Standard deviation of a retry.
    retry_sd_s: f64 = number("s", SECONDS).or(0.0, "every retry takes the same").of(&["retry"]);
    /// Retries after which the part is given up.
    most_retries: i64 = whole((0.0, 100.0)).or(3.0, "common practice").of(&["retry"]);
}

table! {
    /// Two scattered inputs that scatter together.
    pub(crate) struct RawCorrelation = "Correlation";

    /// Paths of the two inputs.
    inputs: Vec<Spanned<String>> = any().required();
    /// Correlation of their ranks.
    correlation: f64 = number("", (-1.0, 1.0)).required();
}

table! {
    /// A move of the line: what it consists of.
    pub(crate) struct RawMove = "Move";

    /// Name of the stage.
    stage: String = text(200.0).required();
    /// Devices busy with it.
    devices: Vec<Spanned<String>> = any();
    /// Devices that take turns with it: each part takes the next of them.
    alternate: Vec<Spanned<String>> = any();
    /// Length of the way.
    distance_m: f64 = number("m", (0.0, 200.0)).required();
    /// Highest speed.
    speed_m_s: f64 = above("m/s", (0.0, 50.0)).required();
    /// Highest acceleration.
    acceleration_m_s2: f64 = above("m/s2", (0.0, 500.0)).required();
    /// Highest jerk. Without it, acceleration comes at once.
    jerk_m_s3: f64 = above("m/s3", (0.0, 1.0e6));
    /// Settling at the end.
    settle_s: f64 = number("s", ELEMENT_S).or(0.0, "no settling");
    /// Settling for each kilogram carried.
    settle_s_per_kg: f64 = number("s/kg", (0.0, 10.0)).or(0.0, "no settling");
    /// Mass carried.
    payload_kg: f64 = number("kg", (0.0, 1.0e5)).or(0.0, "not counted");
    /// Closing of the grip.
    grip_s: f64 = number("s", ELEMENT_S).or(0.0, "at once");
    /// Opening of the grip.
    release_s: f64 = number("s", ELEMENT_S).or(0.0, "at once");
    /// Standard deviation from one move to the next.
    repeat_sd_s: f64 = number("s", ELEMENT_S).or(0.0, "always the same");
    /// Probability that a grip fails and is done again.
    retry_probability: f64 = number("", (0.0, 1.0)).or(0.0, "no retries");
    /// Seconds that a retry takes.
    retry_s: f64 = number("s", ELEMENT_S).or(0.0, "no retries");
    /// Retries after which the part is given up.
    most_retries: i64 = whole((0.0, 100.0)).or(3.0, "common practice");
    /// Cost weight for sharing time by cost.
    cost: f64 = above("", (0.0, 1.0e9)).or(1.0, "all moves alike");
    /// Waits for signals on the way.
    wait: Vec<Spanned<RawWait>> = any();
}

table! {
    /// A wait for a signal.
    pub(crate) struct RawWait = "Wait";

    /// Name of the signal.
    name: String = text(200.0).required();
    /// Shortest wait.
    least_s: f64 = number("s", SECONDS).or(0.0, "the signal may be there already");
    /// Longest wait.
    most_s: f64 = number("s", SECONDS).required();
}

table! {
    /// A device and the stages it is busy with.
    pub(crate) struct RawDevice = "Device";

    /// Name of the device.
    name: String = text(200.0).required();
    /// Names of the stages.
    stages: Vec<Spanned<String>> = any().required();
}

table! {
    /// An activity beside the moves and stages.
    pub(crate) struct RawActivity = "Activity";

    /// Name.
    name: String = text(200.0).required();
    /// Devices busy with it.
    devices: Vec<Spanned<String>> = any();
    /// Devices that take turns with it: each part takes the next of them, the same as in moves with the same list.
    alternate: Vec<Spanned<String>> = any();
    /// Once in so many parts, the line standing meanwhile: a change of tools.
    every_parts: i64 = whole((1.0, 1.0e6)).or(1.0, "with every part");
    /// How long it takes.
    seconds: f64 = number("s", SECONDS).required();
    /// What must be done before.
    after: Vec<Spanned<String>> = any();
    /// Earliest start in the takt.
    not_before_s: f64 = number("s", SECONDS).or(0.0, "at once");
}
