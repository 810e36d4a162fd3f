//! Makes the pictures of the README and the gallery page from the example line files:
//! `cargo run --release --example gallery`. With `--check` it writes nothing and ends with 1 when
//! a picture is stale.
//!
//! Every file is made from a run, so no picture can show what the program does not give.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::report::{OutFile, Span, View, answer, common_range, history, section, write_set};
use billet_thermal::inside::show::terminal;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = root.join("examples").join("gallery");
    let files = files(&root.join("examples"))?;
    if std::env::args().any(|argument| argument == "--check") {
        let stale: Vec<&str> = files
            .iter()
            .filter(|f| std::fs::read(folder.join(&f.name)).ok().as_deref() != Some(&f.content))
            .map(|f| f.name.as_str())
            .collect();
        if stale.is_empty() {
            println!("{} files are as the examples give them", files.len());
            return Ok(ExitCode::SUCCESS);
        }
        println!("stale: {}", stale.join(", "));
        return Ok(ExitCode::FAILURE);
    }
    let written = write_set(&folder, &files)?;
    println!("wrote {} files to {}", written.len(), folder.display());
    Ok(ExitCode::SUCCESS)
}

/// The page and its pictures.
fn files(examples: &Path) -> Result<Vec<OutFile>, Box<dyn Error>> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(examples)?
        .map(|entry| entry.map(|e| e.path()))
        .collect::<Result<_, _>>()?;
    paths.retain(|path| path.extension().is_some_and(|e| e == "toml"));
    paths.sort();
    let view = View::default();
    let mut page = String::from(
        "# Gallery\n\nMade from the example line files by `cargo run --release --example gallery`; do not edit by hand.\n",
    );
    let mut files = Vec::new();
    for path in paths {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let document = Document::load(&path)?;
        let trace = run(document.plan(), &RunOptions::default())?;
        let picture = history(&trace, &view, Span::Line);
        page.push_str(&format!(
            "\n## {}\n\n[{stem}.toml](../{stem}.toml)\n\n```text\n{}```\n\n![{}]({stem}-history.svg)\n",
            trace.title,
            terminal::text(&answer(&trace), &view, terminal::Terminal::default()),
            picture.alt.replace(['[', ']'], ""),
        ));
        files.push(OutFile::text(format!("{stem}-history.svg"), picture.svg));
        // the map with the widest range of temperature says most
        let span = |index: usize| common_range(&trace.maps[index..=index]).map_or(0.0, |(low, high)| high - low);
        let best = (0..trace.maps.len()).max_by(|&a, &b| span(a).total_cmp(&span(b)));
        if let Some(index) = best {
            let map = section(&trace.maps[index], &view, None);
            page.push_str(&format!(
                "\n<img src=\"{stem}-map.svg\" width=\"420\" alt=\"{}\">\n",
                map.alt
            ));
            files.push(OutFile::text(format!("{stem}-map.svg"), map.svg));
        }
    }
    files.push(OutFile::text("README.md", page));
    Ok(files)
}
