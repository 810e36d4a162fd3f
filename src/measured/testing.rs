//! A short line and logs of it, for tests.

use std::path::{Path, PathBuf};

use super::bench::Bench;
use crate::ask::enquiry::Enquiry;
use crate::line::file::Document;

/// Two hand-overs and a limit at the press.
pub(crate) const LINE: &str = r#"title = "Invented disc, for logs"
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
name = "table"
seconds = 12
[[stage]]
kind = "wait"
name = "press"
seconds = 40
[[limit]]
stage = "press"
moment = "end"
node = "surface"
min_c = 900
source = "invented"
"#;

/// The line with more tables.
pub(crate) fn enquiry(more: &str) -> Enquiry {
    let document = Document::parse(format!("{LINE}{more}"), Path::new("line.toml")).unwrap();
    Enquiry::new(document, None).unwrap().bare()
}

/// A log of 60 usual parts, then some rows of one's own; part, exit, table, press. The usual ones stand in lines 2 to 61.
pub(crate) fn log(more: &[&str]) -> (tempfile::TempDir, PathBuf) {
    let mut text = String::from("part,exit_c,table,press\n");
    for k in 0..60_u32 {
        let (exit, table, press) = (1222 + k * 7 % 17, 11 + k * 5 % 3, 36 + k * 11 % 9);
        text.push_str(&format!("{},{exit},{table},{press}\n", k + 1));
    }
    more.iter().for_each(|row| text.push_str(&format!("{row}\n")));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

/// The bench of such a log.
pub(crate) fn bench(enquiry: &Enquiry, more: &[&str]) -> Bench {
    let (_folder, path) = log(more);
    Bench::of_log(&enquiry.model, &path).unwrap()
}
