//! Kinds of line.

/// What kind of line a file is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Billets of a measured exit temperature under a hammer.
    Hammer,
    /// The same on a crank press with a transfer beam.
    Press,
    /// The same on a screw press.
    ScrewPress,
    /// Billets heated from cold in a furnace.
    Furnace,
    /// Billets heated from cold in a row of coils.
    CoilLine,
    /// A long part, followed by its cross-sections.
    LongPart,
}

impl Kind {
    /// All kinds, in the order of the question.
    pub const ALL: [Kind; 6] = [
        Kind::Hammer,
        Kind::Press,
        Kind::ScrewPress,
        Kind::Furnace,
        Kind::CoilLine,
        Kind::LongPart,
    ];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Hammer => "hammer",
            Kind::Press => "press",
            Kind::ScrewPress => "screw-press",
            Kind::Furnace => "furnace",
            Kind::CoilLine => "coil-line",
            Kind::LongPart => "long-part",
        }
    }

    /// What it means.
    pub fn meaning(self) -> &'static str {
        match self {
            Kind::Hammer => "billets of known exit temperature, hammer",
            Kind::Press => "billets of known exit temperature, crank press with a transfer beam",
            Kind::ScrewPress => "billets of known exit temperature, screw press",
            Kind::Furnace => "billets heated from cold in a furnace",
            Kind::CoilLine => "billets heated from cold in a row of induction coils",
            Kind::LongPart => "a long part, followed by its cross-sections",
        }
    }

    /// The kind of a word.
    pub fn parse(word: &str) -> Option<Kind> {
        let word = word.trim().to_lowercase().replace([' ', '_'], "-");
        Kind::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// Whether the exit temperature is given, not computed.
    pub(super) fn is_measured(self) -> bool {
        !matches!(self, Kind::Furnace | Kind::CoilLine)
    }
}
