//! The ten languages.

/// A language of the message files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, PartialOrd, Ord)]
pub enum Language {
    /// English.
    #[default]
    En,
    /// German.
    De,
    /// French.
    Fr,
    /// Italian.
    It,
    /// Spanish.
    Es,
    /// Polish.
    Pl,
    /// Czech.
    Cs,
    /// Portuguese.
    Pt,
    /// Turkish.
    Tr,
    /// Chinese, simplified characters.
    Zh,
}

impl Language {
    /// All languages in the order in which they are listed.
    pub const ALL: [Language; 10] = [
        Language::En,
        Language::De,
        Language::Fr,
        Language::It,
        Language::Es,
        Language::Pl,
        Language::Cs,
        Language::Pt,
        Language::Tr,
        Language::Zh,
    ];

    /// Two-letter code (ISO 639-1).
    pub fn code(self) -> &'static str {
        match self {
            Language::En => "en",
            Language::De => "de",
            Language::Fr => "fr",
            Language::It => "it",
            Language::Es => "es",
            Language::Pl => "pl",
            Language::Cs => "cs",
            Language::Pt => "pt",
            Language::Tr => "tr",
            Language::Zh => "zh",
        }
    }

    /// The language of a two-letter code, in any case.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|l| l.code().eq_ignore_ascii_case(code))
    }

    /// Whether numbers are usually written with a decimal comma.
    pub fn decimal_comma(self) -> bool {
        !matches!(self, Language::En | Language::Zh)
    }

    /// What parts the members of a list.
    pub fn comma(self) -> &'static str {
        match self {
            Language::Zh => "\u{ff0c}",
            _ => ", ",
        }
    }

    /// What stands between a name and what is said of it.
    pub fn colon(self) -> &'static str {
        match self {
            Language::Zh => "\u{ff1a}",
            Language::Fr => "\u{a0}: ",
            _ => ": ",
        }
    }

    /// Tag for the `lang` attribute of a page (BCP 47).
    pub fn tag(self) -> &'static str {
        match self {
            Language::Zh => "zh-Hans",
            other => other.code(),
        }
    }
}
