//! What can be wrong with a material file, with its place in the text.

use std::ops::Range;

/// Why a steel could not be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SteelError {
    /// The file cannot be read as text.
    #[error("{origin}: {problem}")]
    Unreadable {
        /// File or table the text came from.
        origin: String,
        /// What is wrong.
        problem: FileProblem,
    },
    /// The text is not a valid steel. All faults that were found, in the order of the text.
    #[error("{}", list(.faults, .origin))]
    Invalid {
        /// File or table the text came from.
        origin: String,
        /// The faults; never empty.
        faults: Vec<Fault>,
    },
    /// The library has no such grade.
    #[error("no steel is called `{name}`{}", near.as_ref().map(|n| format!("; is `{n}` meant?")).unwrap_or_default())]
    UnknownGrade {
        /// The name asked for.
        name: String,
        /// The grade with the most similar name.
        near: Option<String>,
        /// All grade names.
        known: Vec<String>,
    },
}

/// The suggestion between a wrong name and the list of allowed ones.
fn meant(near: &Option<String>) -> String {
    match near {
        Some(n) => format!(", is `{n}` meant?"),
        None => ";".to_string(),
    }
}

/// A number with its unit, where it has one.
fn quantity(value: f64, unit: &str) -> String {
    match unit {
        "" | "1" => format!("{value}"),
        _ => format!("{value} {unit}"),
    }
}

fn list(faults: &[Fault], origin: &str) -> String {
    let lines: Vec<String> = faults
        .iter()
        .map(|f| format!("{origin}:{}:{}: {}", f.line, f.column, f.kind))
        .collect();
    lines.join("\n")
}

/// Why a file gives no text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FileProblem {
    /// The system refused.
    #[error("cannot be read: {0}")]
    System(String),
    /// Bytes that are not UTF-8.
    #[error("is not text: byte {offset} is not UTF-8")]
    NotText {
        /// Offset of the first such byte.
        offset: usize,
    },
    /// More bytes than a material file can need.
    #[error("has {bytes} bytes; a steel file may have at most {allowed}")]
    TooLarge {
        /// Bytes in the file.
        bytes: u64,
        /// Bytes allowed.
        allowed: u64,
    },
    /// Nothing but white space and comments.
    #[error("is empty; a steel needs at least conductivity_w_mk, specific_heat_j_kgk and density_kg_m3")]
    Empty,
}

/// One fault of a material file.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Bytes of the text that are at fault.
    pub span: Range<usize>,
    /// Line, counted from 1.
    pub line: usize,
    /// Column in characters, counted from 1.
    pub column: usize,
    /// What is wrong.
    pub kind: FaultKind,
}

/// What is wrong at one place.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FaultKind {
    /// Not TOML, or a value of the wrong type; the parser's words.
    #[error("{0}")]
    Syntax(String),
    /// A key that no steel has.
    #[error("unknown key `{key}`{} allowed here: {}", meant(near), allowed.join(", "))]
    UnknownKey {
        /// The key.
        key: String,
        /// Keys allowed at this place.
        allowed: Vec<String>,
        /// The most similar of them.
        near: Option<String>,
    },
    /// A key that must be there.
    #[error("`{key}` is missing")]
    MissingKey {
        /// The key.
        key: String,
    },
    /// A library value without source.
    #[error("`{key}` has no source; every value of a library grade needs one")]
    MissingSource {
        /// The key.
        key: String,
    },
    /// A value outside what is possible.
    #[error("`{key}` is {}; allowed: {low} to {}", quantity(*value, unit), quantity(*high, unit))]
    OutOfRange {
        /// The key.
        key: String,
        /// The value.
        value: f64,
        /// Unit of the numbers.
        unit: &'static str,
        /// Lowest allowed.
        low: f64,
        /// Highest allowed.
        high: f64,
    },
    /// NaN or infinite.
    #[error("`{key}` is {value}; allowed: finite numbers")]
    NotFinite {
        /// The key.
        key: String,
        /// The value.
        value: f64,
    },
    /// Temperatures of a table that do not ascend.
    #[error("`{key}`: {value} follows {previous}; allowed: temperatures in ascending order, each once")]
    NotAscending {
        /// The key.
        key: String,
        /// The temperature before, degC.
        previous: f64,
        /// The temperature at fault, degC.
        value: f64,
    },
    /// Two lists of a table that do not match.
    #[error("`{key}` has {temps} temperatures and {values} values; allowed: as many of each, at least 2")]
    Lengths {
        /// The key.
        key: String,
        /// Number of temperatures.
        temps: usize,
        /// Number of values.
        values: usize,
    },
    /// None or several of the ways to give a value.
    #[error("`{key}` must be given in exactly one way: {ways}")]
    OneWay {
        /// The key.
        key: String,
        /// The ways.
        ways: &'static str,
    },
    /// A name that is not in a list.
    #[error("`{key}` is `{value}`{} allowed: {}", meant(near), allowed.join(", "))]
    UnknownName {
        /// The key.
        key: String,
        /// The name.
        value: String,
        /// Names allowed.
        allowed: Vec<String>,
        /// The most similar of them.
        near: Option<String>,
    },
    /// A key that has no meaning with another choice.
    #[error("`{key}` cannot be used with {with}")]
    NotWith {
        /// The key.
        key: String,
        /// The other choice.
        with: String,
    },
    /// Two values in the wrong order.
    #[error("`{lower_key}` ({lower}) must be below `{upper_key}` ({upper})")]
    WrongOrder {
        /// Key of the value that must be lower.
        lower_key: String,
        /// Its value.
        lower: f64,
        /// Key of the value that must be higher.
        upper_key: String,
        /// Its value.
        upper: f64,
    },
    /// Values of one table too far apart.
    #[error("`{key}` goes from {least} to {most}; allowed: a ratio of at most {allowed} in one table")]
    Spread {
        /// The key.
        key: String,
        /// Least value.
        least: f64,
        /// Greatest value.
        most: f64,
        /// Largest ratio allowed.
        allowed: f64,
    },
    /// Heating and cooling curves that take different heats.
    #[error(
        "specific heat integrates from 20 to {to_c} degC to {heating} J/kg on heating and {cooling} J/kg on cooling; \
         allowed: a difference of at most 1 %"
    )]
    BranchAreas {
        /// Upper end of the integral, degC.
        to_c: f64,
        /// Heat on heating, J/kg.
        heating: f64,
        /// Heat on cooling, J/kg.
        cooling: f64,
    },
}

impl Fault {
    /// A fault at a place in the text.
    pub fn at(text: &str, span: Range<usize>, kind: FaultKind) -> Fault {
        let (line, column) = position(text, span.start);
        Fault {
            span,
            line,
            column,
            kind,
        }
    }
}

/// Line and column (in characters), both from 1, of a byte offset.
pub fn position(text: &str, offset: usize) -> (usize, usize) {
    let mut end = offset.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |i| i + 1);
    (line, before[start..].chars().count() + 1)
}

/// The most similar of some names, if one is similar enough to be meant.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let lower = name.to_lowercase();
    known
        .into_iter()
        .map(|k| (strsim::jaro_winkler(&lower, &k.to_lowercase()), k))
        .filter(|(score, _)| *score > 0.78)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, k)| k.to_string())
}
