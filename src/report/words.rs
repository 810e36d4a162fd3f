//! The words of sheets, pages and pictures in ten languages, from one message file.

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The message file: one table a message, one key a language.
const MESSAGES: &str = include_str!("words.toml");

/// A language of the message file.
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
    /// All languages in the order of the message file.
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

    /// The words for a key; English where the language has none, empty for an unknown key (a test
    /// makes sure that neither happens).
    pub fn say(self, key: &str) -> &'static str {
        let Some(entry) = messages().get(key) else {
            return "";
        };
        entry
            .get(self.code())
            .or_else(|| entry.get("en"))
            .map_or("", String::as_str)
    }
}

type Messages = BTreeMap<String, BTreeMap<String, String>>;

/// The message file, parsed once. It is part of the program and a test parses it, so a fault in it
/// cannot reach a user; if it did, texts would be empty rather than the program stop.
pub(crate) fn messages() -> &'static Messages {
    static PARSED: OnceLock<Messages> = OnceLock::new();
    PARSED.get_or_init(|| toml::from_str(MESSAGES).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_message_has_every_language_and_the_same_places() {
        let parsed: Messages = toml::from_str(MESSAGES).expect("the message file parses");
        assert!(!parsed.is_empty());
        for (key, entry) in &parsed {
            assert_eq!(entry.len(), Language::ALL.len(), "languages of {key}");
            let places = |text: &str| {
                let mut found: Vec<String> = text
                    .split('{')
                    .skip(1)
                    .filter_map(|rest| rest.split_once('}').map(|(name, _)| name.to_owned()))
                    .collect();
                found.sort();
                found
            };
            let english = places(&entry["en"]);
            for language in Language::ALL {
                let text = entry
                    .get(language.code())
                    .unwrap_or_else(|| panic!("{key} in {}", language.code()));
                assert!(!text.trim().is_empty(), "{key} in {}", language.code());
                assert_eq!(places(text), english, "places of {key} in {}", language.code());
            }
        }
    }
}
