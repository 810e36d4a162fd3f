//! `ours export NR NZ FILE` writes the case for the other solvers; `ours scan NR NZ REFERENCE`
//! prints time and error for a row of tolerances.

use std::error::Error;
use std::path::Path;

use reference_case::{Case, numbers, scan, worst};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [what, nr, nz, file] = arguments.as_slice() else {
        return Err("usage: ours export|scan NR NZ FILE".into());
    };
    let case = Case::new(nr.parse()?, nz.parse()?)?;
    match what.as_str() {
        "export" => std::fs::write(file, case.export())?,
        "scan" => {
            let reference = numbers(Path::new(file))?;
            let tight = case.ours(1e-3)?;
            let apart = worst(&tight.0, &reference);
            eprintln!("{nr}x{nz}: this crate at 1e-3 K and the reference differ by {apart:.5} K at most");
            scan("billet-thermal", &case, &reference, 64.0, |step_k| case.ours(step_k))?;
        }
        other => return Err(format!("{other}: export or scan").into()),
    }
    Ok(())
}
