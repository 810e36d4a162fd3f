//! The messages: one file a language, the same keys in each.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde::Deserialize;

use super::language::Language;

/// The text of a message file.
pub(super) fn file(language: Language) -> &'static str {
    match language {
        Language::En => include_str!("words/en.toml"),
        Language::De => include_str!("words/de.toml"),
        Language::Fr => include_str!("words/fr.toml"),
        Language::It => include_str!("words/it.toml"),
        Language::Es => include_str!("words/es.toml"),
        Language::Pl => include_str!("words/pl.toml"),
        Language::Cs => include_str!("words/cs.toml"),
        Language::Pt => include_str!("words/pt.toml"),
        Language::Tr => include_str!("words/tr.toml"),
        Language::Zh => include_str!("words/zh.toml"),
    }
}

/// One message: words, or one form for each plural category (CLDR) of the language.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub(super) enum Message {
    Plain(String),
    Plural(BTreeMap<String, String>),
}

impl Message {
    /// The form for a count; without a count, or without that form, the general one.
    fn form(&self, language: Language, count: Option<f64>) -> &str {
        match self {
            Message::Plain(text) => text,
            Message::Plural(forms) => {
                let category = count.map_or("other", |n| plural(language, n));
                forms
                    .get(category)
                    .or_else(|| forms.get("other"))
                    .map_or("", String::as_str)
            }
        }
    }
}

/// The messages of one language by key, `group.name`.
#[derive(Debug)]
pub(super) struct Words {
    language: Language,
    pub(super) messages: BTreeMap<String, Message>,
}

impl Language {
    /// The words for a key; empty for an unknown one.
    pub fn say(self, key: &str) -> &'static str {
        Words::of(self).say(key)
    }
}

impl Words {
    /// The words of a language, parsed once. The files are part of the program and a test parses
    /// them, so a fault in them cannot reach a user; if it did, texts would be empty rather than the
    /// program stop.
    pub(super) fn of(language: Language) -> &'static Words {
        static PARSED: OnceLock<Vec<Words>> = OnceLock::new();
        let all = PARSED.get_or_init(|| Language::ALL.into_iter().map(Words::read).collect());
        let index = Language::ALL.iter().position(|l| *l == language).unwrap_or_default();
        &all[index]
    }

    fn read(language: Language) -> Words {
        let groups: BTreeMap<String, BTreeMap<String, Message>> = toml::from_str(file(language)).unwrap_or_default();
        let messages = groups
            .into_iter()
            .flat_map(|(group, entries)| {
                entries
                    .into_iter()
                    .map(move |(name, message)| (format!("{group}.{name}"), message))
            })
            .collect();
        Words { language, messages }
    }

    /// The words for a key; empty for an unknown one, which a test rules out for every key that the
    /// program names.
    pub(super) fn say(&self, key: &str) -> &str {
        self.messages.get(key).map_or("", |m| m.form(self.language, None))
    }

    /// A key as the messages hold it.
    pub(super) fn id(&self, key: &str) -> Option<&str> {
        self.messages.get_key_value(key).map(|(id, _)| id.as_str())
    }

    /// The words for a key with the places in braces filled, the plural form chosen by a count. One
    /// pass, so that a value with braces cannot be taken for a place.
    pub(super) fn fill(&self, key: &str, count: Option<f64>, value: impl Fn(&str) -> Option<String>) -> String {
        let mut rest = self.messages.get(key).map_or("", |m| m.form(self.language, count));
        let mut out = String::new();
        while let Some(open) = rest.find('{') {
            out.push_str(&rest[..open]);
            let Some(close) = rest[open..].find('}') else {
                break;
            };
            out.push_str(&value(&rest[open + 1..open + close]).unwrap_or_default());
            rest = &rest[open + close + 1..];
        }
        out.push_str(rest);
        out
    }
}

/// The plural category of a count (Unicode CLDR 45, cardinal rules, for whole numbers).
pub(super) fn plural(language: Language, n: f64) -> &'static str {
    let whole = n.abs().round() as u64;
    let (ten, hundred) = (whole % 10, whole % 100);
    match language {
        Language::En | Language::De | Language::It | Language::Es | Language::Tr if whole == 1 => "one",
        Language::Fr | Language::Pt if whole < 2 => "one",
        Language::Pl | Language::Cs if whole == 1 => "one",
        Language::Pl if (2..=4).contains(&ten) && !(12..=14).contains(&hundred) => "few",
        Language::Pl => "many",
        Language::Cs if (2..=4).contains(&whole) => "few",
        _ => "other",
    }
}

/// The categories that a message with plural forms has in a language.
#[cfg(test)]
pub(super) fn categories(language: Language) -> &'static [&'static str] {
    match language {
        Language::Zh => &["other"],
        Language::Pl => &["few", "many", "one", "other"],
        Language::Cs => &["few", "one", "other"],
        _ => &["one", "other"],
    }
}
