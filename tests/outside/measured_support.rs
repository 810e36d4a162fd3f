//! A shop whose truth is known: logs made from runs of a line with other numbers, and instruments that err as stated.

use std::fmt::Write;
use std::path::Path;

use billet_thermal::inside::ask::line_model::LineModel;
use billet_thermal::inside::ask::model::Change;
use billet_thermal::inside::ask::random::Stream;
use billet_thermal::inside::line::RunOptions;
use billet_thermal::inside::line::file::Document;
use billet_thermal::{Moment, Resolution};

/// A short line: carried, rested, carried to a press, with a camera before the press and one after a wait.
pub const LINE: &str = r#"title = "Invented disc, for fits"
resolution = "quick"
[billet]
steel = "C45"
diameter_mm = 60
length_mm = 90
[heater]
kind = "measured"
surface_c = 1230
core_below_surface_k = 20
[[stage]]
kind = "wait"
name = "roller table"
seconds = 12
[[stage]]
kind = "rest"
name = "on the rest"
seconds = 20
support = { pose = "lying" }
[[stage]]
kind = "wait"
name = "to the press"
seconds = 40
[[limit]]
stage = "to the press"
moment = "end"
node = "surface"
min_c = 900
source = "invented"
"#;

/// What is true of the shop.
#[derive(Debug, Clone)]
pub struct Truth {
    /// Inputs that differ from the line file.
    pub inputs: Vec<(&'static str, f64)>,
    /// What the exit pyrometer and the camera show too much, K.
    pub bias_k: (f64, f64),
    /// Scatter of the exit, of the pyrometer and of the camera, K.
    pub sd_k: (f64, f64, f64),
    /// Parts.
    pub parts: usize,
}

impl Default for Truth {
    fn default() -> Self {
        Truth {
            inputs: Vec::new(),
            bias_k: (0.0, 0.0),
            sd_k: (12.0, 3.0, 5.0),
            parts: 60,
        }
    }
}

/// A part of the shop as it is.
pub struct TruePart {
    pub waits_s: [f64; 2],
    /// Exit pyrometer, camera at the table, camera at the press, couple in the core, degC.
    pub read: (f64, f64, f64, f64),
}

/// Makes the parts: every temperature is one of a run at the part's own times.
pub fn parts(line: &str, truth: &Truth, seed: u64) -> Vec<TruePart> {
    let model = LineModel::new(Document::parse(line, Path::new("line.toml")).unwrap()).at(Resolution::Quick);
    (0..truth.parts as u64)
        .map(|k| {
            let mut random = Stream::new(seed, k);
            let exit_c = 1230.0 + truth.sd_k.0 * random.normal();
            let waits_s = [12.0 + 1.5 * random.uniform(), 40.0 + 6.0 * random.uniform()];
            let mut changes: Vec<Change> = model_exit(exit_c);
            changes.push(Change::new("stage.roller table.seconds", waits_s[0]));
            changes.push(Change::new("stage.to the press.seconds", waits_s[1]));
            changes.extend(truth.inputs.iter().map(|(path, value)| Change::new(*path, *value)));
            let trace = model.trace(&changes, &RunOptions::bare()).unwrap();
            let at = |stage: &str, moment, node: &str| trace.at(stage, moment, node).unwrap();
            let camera_c = at("roller table", Moment::End, "surface");
            let late_c = at("to the press", Moment::End, "surface");
            let core_c = at("heater", Moment::Exit, "core");
            let read = (
                exit_c + truth.bias_k.0 + truth.sd_k.1 * random.normal(),
                camera_c + truth.bias_k.1 + truth.sd_k.2 * random.normal(),
                late_c + truth.bias_k.1 + truth.sd_k.2 * random.normal(),
                core_c + 3.0 * random.normal(),
            );
            TruePart { waits_s, read }
        })
        .collect()
}

fn model_exit(exit_c: f64) -> Vec<Change> {
    vec![Change::new("heater.surface_c", exit_c)]
}

/// The tables of the measurements.
pub const MEASURED: &str = r#"
[[instrument]]
name = "exit pyrometer"
kind = "pyrometer"
bias_sd = 5
sd = 3
[[instrument]]
name = "camera"
kind = "camera"
bias_sd = 4
sd = 5
[[measurement]]
name = "exit"
kind = "temperature"
instrument = "exit pyrometer"
stage = "heater"
node = "surface"
file = "log.csv"
column = "T exit"
part_column = "part"
time_column = "clock"
model_sd_k = 0
[[measurement]]
name = "on the table"
kind = "time"
stage = "roller table"
file = "log.csv"
column = "table s"
[[measurement]]
name = "to the press"
kind = "time"
stage = "to the press"
file = "log.csv"
column = "press s"
[[measurement]]
name = "camera before the rest"
kind = "temperature"
instrument = "camera"
stage = "roller table"
node = "surface"
file = "log.csv"
column = "T camera"
model_sd_k = 0
[[measurement]]
name = "camera before the press"
kind = "temperature"
instrument = "camera"
stage = "to the press"
node = "surface"
file = "log.csv"
column = "T press"
model_sd_k = 0
"#;

/// One log with all columns, with decimal commas.
pub fn log(parts: &[TruePart]) -> String {
    let mut text = String::from("part;clock;T exit;table s;press s;T camera;T press\n");
    let mut clock = 21_600.0;
    for (k, p) in parts.iter().enumerate() {
        let hms = format!(
            "{:02}:{:02}:{:04.1}",
            clock as u32 / 3600,
            clock as u32 / 60 % 60,
            clock % 60.0
        );
        let row = format!(
            "{};{hms};{:.1};{:.2};{:.2};{:.1};{:.1}",
            k + 1,
            p.read.0,
            p.waits_s[0],
            p.waits_s[1],
            p.read.1,
            p.read.2
        );
        writeln!(text, "{}", row.replace('.', ",")).unwrap();
        clock += 14.0 + 0.7 * (((k * 37) % 11) as f64 / 5.0 - 1.0);
    }
    text
}
