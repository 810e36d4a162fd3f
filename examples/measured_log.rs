//! Makes the logs of `examples/measured/`: INVENTED DATA, drawn with a seed from runs of the line with other numbers than its
//! file has. The truth: the emissivity of the billets is 0.79, the exit pyrometer shows 5 K too much, the camera 2 K too
//! little; the clock of the camera is 83.4 s behind; rows 31 and 77 are of another part; one reading is in degF; the exit
//! rises by 8 K over the log.
//!
//! `cargo run --release --example measured_log` writes the files anew; the same seed gives the same bytes.

use std::fmt::Write;
use std::path::Path;

use billet_thermal::{Line, Moment, RunOptions};

/// Numbers from a seed (the mixing of Steele, Lea and Flood, OOPSLA 2014, from memory).
struct Random(u64);

impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// The sum of twelve uniform numbers less six is nearly normal.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

const PARTS: usize = 150;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/measured");
    let line = Line::load(folder.join("shop.toml"))?;
    let mut random = Random(20_261_128);
    let mut log =
        String::from("# INVENTED DATA, made by examples/measured_log.rs\nZeit;Nr;T Austritt;Rutsche s;Transport s\n");
    let mut camera = String::from("# INVENTED DATA, made by examples/measured_log.rs\nclock;chute;trim\n");
    let mut clock = 21_600.0;
    for part in 0..PARTS {
        let exit = 1221.0 + 8.0 * part as f64 / PARTS as f64 + 9.0 * random.normal();
        let (chute, carry) = (9.0 + 2.5 * random.uniform(), 14.0 + 4.0 * random.uniform());
        let wrong = part == 31 || part == 77;
        let mut run = line.clone();
        run.set_all(&[
            ("heater.surface_c", exit),
            ("stage.chute.seconds", chute),
            ("stage.to the trim press.seconds", carry),
            ("billet.emissivity", 0.79),
        ])?;
        let trace = run.trace(&RunOptions::bare())?;
        let at = |stage: &str| trace.at(stage, Moment::End, "surface").unwrap_or(f64::NAN);
        let off = if wrong { -90.0 } else { 0.0 };
        let read = [
            exit + 5.0,
            at("chute") - 2.0 + 0.4 * off,
            at("to the trim press") - 2.0 + off,
        ];
        let [mut shown, first, second] = [3.0, 5.0, 5.0].map(|sd| sd * random.normal());
        shown += read[0];
        let (hms, of_camera) = (hms(clock), hms(clock - 83.4 + chute + 0.1 * random.normal()));
        let exit_cell = match part {
            19 => "Störung".to_owned(),
            52 => String::new(),
            90 => format!("{:.1}", 1.8 * shown + 32.0),
            _ => format!("{shown:.1}"),
        };
        let row = format!("{hms};{};{exit_cell};{chute:.2};{carry:.2}", part + 1);
        writeln!(log, "{}", row.replace('.', ","))?;
        if part % 23 != 7 {
            let trim = if part % 37 == 5 {
                "-".to_owned()
            } else {
                format!("{:.1}", read[2] + second)
            };
            writeln!(
                camera,
                "{}",
                format!("{of_camera};{:.1};{trim}", read[1] + first).replace('.', ",")
            )?;
        }
        clock += 15.0 + 1.2 * random.normal() + if part % 40 == 39 { 180.0 } else { 0.0 };
    }
    std::fs::write(folder.join("line.csv"), log)?;
    std::fs::write(folder.join("camera.csv"), camera)?;
    Ok(())
}

fn hms(clock: f64) -> String {
    let tenths = (clock * 10.0).round() as u64;
    format!(
        "{:02}:{:02}:{:02}.{}",
        tenths / 36_000,
        tenths / 600 % 60,
        tenths / 10 % 60,
        tenths % 10
    )
}
