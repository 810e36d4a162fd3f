//! What can be wrong with a file, with places and numbers.

use std::fmt;
use std::ops::Range;
use std::path::{Path, PathBuf};

use super::key::Allowed;
use super::words::{Shown, micro, more_or_less, spaced};

/// Longest file of tables that is read, in bytes.
pub const SIZE_LIMIT: u64 = 1_000_000;

/// Longest file of data that is read, in bytes: a year of parts at one line each.
pub(crate) const DATA_LIMIT: u64 = 50_000_000;

/// Why a file gives no text.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FileError {
    /// The file could not be read.
    #[error("{}: cannot be read: {reason}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        reason: String,
    },
    /// The file is longer than what is read of its kind.
    #[error("{}: too large: {bytes} bytes, limit {} MB", path.display(), limit / 1_000_000)]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its length in bytes.
        bytes: u64,
        /// The limit in bytes.
        limit: u64,
    },
    /// The file is not text.
    #[error("{}: not a text file: byte {offset} (0x{byte:02X}) is not UTF-8 text", path.display())]
    NotText {
        /// The file.
        path: PathBuf,
        /// Place of the first bad byte, from 0.
        offset: usize,
        /// That byte.
        byte: u8,
    },
    /// The file holds nothing.
    #[error("{}: empty: {needs}", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
        /// What it must have.
        needs: &'static str,
    },
}

/// All that is wrong with one file.
#[derive(Debug, Clone, PartialEq)]
pub struct Problems {
    /// The file, as given.
    pub path: PathBuf,
    /// Its text.
    pub text: String,
    /// The problems in the order of the text; never empty.
    pub list: Vec<Problem>,
}

impl Problems {
    /// Problems of a text, put in its order.
    pub(crate) fn new(path: &Path, text: &str, mut list: Vec<Problem>) -> Problems {
        list.sort_by_key(|problem| problem.span.start);
        Problems {
            path: path.to_owned(),
            text: text.to_owned(),
            list,
        }
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        for (index, problem) in self.list.iter().enumerate() {
            if index > 0 {
                writeln!(out)?;
            }
            let file = self.path.display();
            write!(out, "{file}:{}:{}: {}", problem.line, problem.column, problem.kind)?;
            if let Some(help) = problem.kind.help() {
                write!(out, "; {help}")?;
            }
        }
        Ok(())
    }
}

/// One thing wrong, with its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// What is wrong.
    pub kind: ProblemKind,
    /// Where, as bytes of the text.
    pub span: Range<usize>,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// The second place of a conflict, with a word on it.
    pub other: Option<(Range<usize>, &'static str)>,
}

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ProblemKind {
    /// Not TOML.
    #[error("not valid TOML: {message}")]
    Syntax {
        /// What the TOML reader says.
        message: String,
    },
    /// A key that does not exist.
    #[error("unknown key `{key}`")]
    UnknownKey {
        /// The key.
        key: String,
        /// The keys of this table.
        allowed: Vec<String>,
        /// The closest of them.
        nearest: Option<String>,
    },
    /// A value of the wrong type.
    #[error("wrong type: found {found}, expected {expected}")]
    WrongType {
        /// What was found.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// A word that is not one of the words allowed here.
    #[error("unknown {what} \"{word}\"")]
    UnknownWord {
        /// What the word names: `section`, `node`, `stage`, ...
        what: &'static str,
        /// The word.
        word: String,
        /// The words allowed.
        allowed: Vec<String>,
        /// The closest of them.
        nearest: Option<String>,
    },
    /// A table or key that must be there.
    #[error("{what} is missing")]
    Missing {
        /// What is missing.
        what: String,
        /// What to write.
        hint: String,
    },
    /// A number outside its range, NaN and infinities included.
    #[error("{key} = {}{} is out of range: allowed {allowed}{}", Shown(*value), spaced(unit), spaced(unit))]
    OutOfRange {
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// Its range.
        allowed: Allowed,
    },
    /// A text that is too short or too long.
    #[error("{key} has {characters} characters, allowed {low} to {high}")]
    TextLength {
        /// The key.
        key: &'static str,
        /// Its length.
        characters: usize,
        /// Shortest.
        low: usize,
        /// Longest.
        high: usize,
    },
    /// A name with characters that would break tables or paths.
    #[error("{key} holds a control character (code {code})")]
    ControlCharacter {
        /// The key.
        key: &'static str,
        /// The code point.
        code: u32,
    },
    /// Two keys that say the same thing in two ways.
    #[error("`{key}` and `{other}` cannot both be given")]
    Exclusive {
        /// One key.
        key: &'static str,
        /// The other.
        other: &'static str,
    },
    /// A key that has no meaning here.
    #[error("`{key}` has no meaning {place}")]
    NotHere {
        /// The key.
        key: String,
        /// Where it stands: `for a carry stage`, ...
        place: String,
        /// What would have one.
        hint: String,
    },
    /// A rule of one table that is broken.
    #[error("{detail}")]
    Rule {
        /// Short name for programs.
        code: &'static str,
        /// What is wrong, with numbers.
        detail: String,
        /// What to do about it; empty where there is nothing to say.
        help: String,
    },
    /// No stage at all.
    #[error("no stages: a line has at least one [[stage]]")]
    NoStages,
    /// More of something than the program takes.
    #[error("{count} {what}, at most {most} are allowed")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// How many.
        count: usize,
        /// How many are allowed.
        most: usize,
    },
    /// Two stages with one name.
    #[error("two stages are named \"{name}\"")]
    DuplicateStage {
        /// The name.
        name: String,
    },
    /// A stage name that has another meaning.
    #[error("a stage cannot be named \"{name}\"")]
    ReservedName {
        /// The name.
        name: String,
    },
    /// A stage without the blows that a limit speaks of.
    #[error("stage \"{stage}\" has no moment \"{moment}\": {why}")]
    NoSuchMoment {
        /// Stage.
        stage: String,
        /// Moment.
        moment: String,
        /// Why not.
        why: String,
    },
    /// A node that the part does not have there.
    #[error("node `{node}` does not exist {place}")]
    NoSuchNode {
        /// Node.
        node: String,
        /// Where.
        place: String,
        /// The nodes that do.
        allowed: Vec<String>,
    },
    /// A blow that lasts longer than the time to the next.
    #[error("a blow of {} s is longer than its interval of {} s", micro(*contact_s), micro(*interval_s))]
    BlowTooLong {
        /// Contact time, s.
        contact_s: f64,
        /// Interval, s.
        interval_s: f64,
    },
    /// Two limits that cannot both hold.
    #[error("limits exclude each other: at least {min_c} degC but at most {max_c} degC for {place}")]
    LimitsExclude {
        /// Minimum, degC.
        min_c: f64,
        /// Maximum, degC.
        max_c: f64,
        /// Node, stage and moment.
        place: String,
    },
    /// Grips that need more bar than there is.
    #[error("grips take {gripped_mm} mm of a part {length_mm} mm long")]
    GripTooLong {
        /// Gripped length, mm.
        gripped_mm: f64,
        /// Length there, mm.
        length_mm: f64,
    },
    /// One end held twice.
    #[error("the same end is gripped twice at one time")]
    GrippedTwice,
    /// A shape whose volume is not that of the part.
    #[error(
        "volume of the shape is {shape_cm3:.3} cm3, of the part before {part_cm3:.3} cm3: {} (tolerance {tolerance_percent} %)",
        more_or_less(*shape_cm3, *part_cm3)
    )]
    VolumeMismatch {
        /// Volume of the shape, cm³.
        shape_cm3: f64,
        /// Volume of the part before, cm³.
        part_cm3: f64,
        /// Tolerance, percent.
        tolerance_percent: f64,
        /// A height or diameter that would fit, in words.
        fit: String,
    },
    /// A cross-section whose volume is not its share of the part's.
    #[error(
        "section `{section}` of the shape has {shape_cm3:.3} cm3, its share of the part is {part_cm3:.3} cm3: {} (tolerance {tolerance_percent} %)",
        more_or_less(*shape_cm3, *part_cm3)
    )]
    SectionVolume {
        /// Name of the section.
        section: String,
        /// Its volume, area times length, cm³.
        shape_cm3: f64,
        /// What it should be, cm³.
        part_cm3: f64,
        /// Tolerance, percent.
        tolerance_percent: f64,
        /// Heights that would fit, in words.
        fit: String,
    },
    /// Shares of the mass that do not make the whole.
    #[error("the sections have {percent:.2} % of the mass together, not 100 %")]
    SectionShares {
        /// Their sum, percent.
        percent: f64,
    },
    /// Two sections with one name.
    #[error("two sections are named \"{name}\"")]
    DuplicateSection {
        /// The name.
        name: String,
    },
    /// A symmetric section whose given half does not reach its middle.
    #[error("the half of a symmetric section begins at left_mm = {left_mm}, not at its middle, 0")]
    OffTheMiddle {
        /// Where its first strip begins, mm.
        left_mm: f64,
    },
    /// A ring with no material in it.
    #[error("{low_key} = {low_mm} mm is not below {high_key} = {high_mm} mm")]
    EmptyRing {
        /// Key of the smaller.
        low_key: &'static str,
        /// Its value, mm.
        low_mm: f64,
        /// Key of the larger.
        high_key: &'static str,
        /// Its value, mm.
        high_mm: f64,
    },
    /// Two rings or strips in the same place.
    #[error("{what}s {first} and {second} of the shape overlap: {place}")]
    RingsOverlap {
        /// `ring` or `strip`.
        what: &'static str,
        /// One of them, from 1.
        first: usize,
        /// The other, from 1.
        second: usize,
        /// What both take, in words.
        place: String,
    },
    /// A ring or strip that touches no other.
    #[error("{what} {ring} touches no other {what} of {of}")]
    LooseRing {
        /// `ring` or `strip`.
        what: &'static str,
        /// It, from 1.
        ring: usize,
        /// The shape, or a section of it.
        of: String,
    },
    /// A shape that one of the dies does not touch.
    #[error("nothing of the shape touches the {die} die, so the blow strikes nothing")]
    NoDie {
        /// `upper` or `lower`.
        die: &'static str,
    },
    /// A zone name that cannot stand in a node name.
    #[error("\"{zone}\" is no zone name: 1 to 40 letters, digits, `_` or `-`")]
    BadZone {
        /// The name.
        zone: String,
    },
    /// A name that stands for something else already.
    #[error("{what} \"{name}\" has the name of {taken_by}")]
    NameTaken {
        /// `zone` or `section`.
        what: &'static str,
        /// The name.
        name: String,
        /// What has it.
        taken_by: &'static str,
    },
    /// A zone that is removed already.
    #[error("zone \"{zone}\" is removed twice")]
    RemovedTwice {
        /// The zone as written.
        zone: String,
    },
    /// What removing some zones leaves hangs together no more.
    #[error("removing {zones} would leave the part in pieces: zone `{loose}` touches nothing that is left")]
    FallsApart {
        /// The zones.
        zones: String,
        /// A zone that would fall off.
        loose: String,
    },
    /// One gripper with two descriptions.
    #[error(
        "gripper `{gripper}` has {key} = {here}{} here and {there}{} in an earlier grip",
        spaced(unit),
        spaced(unit)
    )]
    GripperDiffers {
        /// Its name.
        gripper: String,
        /// The key.
        key: &'static str,
        /// Value here.
        here: f64,
        /// Value before.
        there: f64,
        /// Their unit.
        unit: &'static str,
    },
    /// All material would leave the part.
    #[error("removing {zones} would leave nothing of the part")]
    NothingLeft {
        /// The zones.
        zones: String,
    },
    /// Shares of the blows that do not make the whole.
    #[error("blow_shares sum to {sum:.3}; allowed is 0.99 to 1.01")]
    SharesSum {
        /// Their sum.
        sum: f64,
    },
    /// A heap whose outside would be larger than the surface of its parts.
    #[error("the outside of a heap of {parts} parts would be {ratio} times their surface; it is below 1 in a heap")]
    LooseHeap {
        /// Parts given.
        parts: f64,
        /// Outside over surface of the parts.
        ratio: f64,
    },
    /// Points that are not in rising order from 0 to 1.
    #[error("points must rise from at = 0 (core) to at = 1 (surface): {detail}")]
    PointOrder {
        /// What is out of order.
        detail: String,
    },
    /// Something that needs a round billet with a length.
    #[error("{what} needs {needs}")]
    Needs {
        /// What.
        what: String,
        /// What it needs.
        needs: &'static str,
    },
    /// The metal was refused.
    #[error("steel: {message}")]
    Steel {
        /// The steel layer's message.
        message: String,
    },
}

impl ProblemKind {
    /// What to do about it, where there is something to say.
    pub fn help(&self) -> Option<String> {
        let list = |allowed: &[String]| {
            if allowed.is_empty() {
                None
            } else {
                Some(format!("allowed: {}", allowed.join(", ")))
            }
        };
        let near = |nearest: &Option<String>, allowed: &[String]| match nearest {
            Some(nearest) => {
                let rest = list(allowed).map_or(String::new(), |rest| format!(" ({rest})"));
                Some(format!("did you mean `{nearest}`?{rest}"))
            }
            None => list(allowed),
        };
        match self {
            ProblemKind::UnknownKey { nearest, allowed, .. } | ProblemKind::UnknownWord { nearest, allowed, .. } => {
                near(nearest, allowed)
            }
            ProblemKind::NoSuchNode { allowed, .. } => list(allowed),
            ProblemKind::Missing { hint, .. }
            | ProblemKind::NotHere { hint, .. }
            | ProblemKind::Rule { help: hint, .. } => Some(hint.clone()).filter(|hint| !hint.is_empty()),
            ProblemKind::OutOfRange { value, .. } if !value.is_finite() => Some("a finite number is needed".to_owned()),
            ProblemKind::LooseHeap { .. } => {
                Some("such parts lie apart: more parts, a smaller basket, a steeper heap, or exposed_share".to_owned())
            }
            ProblemKind::NoStages => Some("add a [[stage]] with kind and seconds".to_owned()),
            ProblemKind::ReservedName { .. } => Some("the name stands for the heater in limits".to_owned()),
            ProblemKind::NoDie { die } => Some(format!("touch = \"both\" or \"{die}\" where it strikes")),
            ProblemKind::GripperDiffers { .. } => {
                Some("its jaws are one body: the same values in all its grips".to_owned())
            }
            ProblemKind::VolumeMismatch { fit, .. } | ProblemKind::SectionVolume { fit, .. } => {
                Some(fit.clone()).filter(|fit| !fit.is_empty())
            }
            _ => None,
        }
    }

    /// Short name for programs: `out-of-range`, `unknown-key`, ...
    pub fn code(&self) -> &'static str {
        match self {
            ProblemKind::Syntax { .. } => "syntax",
            ProblemKind::UnknownKey { .. } => "unknown-key",
            ProblemKind::WrongType { .. } => "wrong-type",
            ProblemKind::UnknownWord { .. } => "unknown-word",
            ProblemKind::Missing { .. } => "missing",
            ProblemKind::OutOfRange { .. } => "out-of-range",
            ProblemKind::TextLength { .. } => "text-length",
            ProblemKind::ControlCharacter { .. } => "control-character",
            ProblemKind::Exclusive { .. } => "exclusive",
            ProblemKind::NotHere { .. } => "not-here",
            ProblemKind::Rule { code, .. } => code,
            ProblemKind::NoStages => "no-stages",
            ProblemKind::TooMany { .. } => "too-many",
            ProblemKind::DuplicateStage { .. } => "duplicate-stage",
            ProblemKind::ReservedName { .. } => "reserved-name",
            ProblemKind::NoSuchMoment { .. } => "no-such-moment",
            ProblemKind::NoSuchNode { .. } => "no-such-node",
            ProblemKind::BlowTooLong { .. } => "blow-too-long",
            ProblemKind::LimitsExclude { .. } => "limits-exclude",
            ProblemKind::GripTooLong { .. } => "grip-too-long",
            ProblemKind::GrippedTwice => "gripped-twice",
            ProblemKind::VolumeMismatch { .. } => "volume-mismatch",
            ProblemKind::SectionVolume { .. } => "section-volume",
            ProblemKind::SectionShares { .. } => "section-shares",
            ProblemKind::DuplicateSection { .. } => "duplicate-section",
            ProblemKind::OffTheMiddle { .. } => "off-the-middle",
            ProblemKind::EmptyRing { .. } => "empty-ring",
            ProblemKind::RingsOverlap { what: "strip", .. } => "strips-overlap",
            ProblemKind::RingsOverlap { .. } => "rings-overlap",
            ProblemKind::LooseRing { what: "strip", .. } => "loose-strip",
            ProblemKind::LooseRing { .. } => "loose-ring",
            ProblemKind::NoDie { .. } => "no-die",
            ProblemKind::NameTaken { .. } => "name-taken",
            ProblemKind::RemovedTwice { .. } => "removed-twice",
            ProblemKind::FallsApart { .. } => "falls-apart",
            ProblemKind::GripperDiffers { .. } => "gripper-differs",
            ProblemKind::BadZone { .. } => "bad-zone",
            ProblemKind::NothingLeft { .. } => "nothing-left",
            ProblemKind::SharesSum { .. } => "shares-sum",
            ProblemKind::LooseHeap { .. } => "loose-heap",
            ProblemKind::PointOrder { .. } => "point-order",
            ProblemKind::Needs { .. } => "needs",
            ProblemKind::Steel { .. } => "steel",
        }
    }
}
