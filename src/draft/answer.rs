//! Answers given so far.

use std::collections::BTreeMap;

/// Answers by the key of their question, accepted ones only.
#[derive(Debug, Clone, Default)]
pub struct Answers(BTreeMap<String, Answer>);

#[derive(Debug, Clone)]
struct Answer {
    text: String,
    /// Why it is so, where the user did not say it.
    assumed: Option<String>,
}

/// Why something is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{key}: {why}; allowed: {range}")]
pub struct Refused {
    /// Key of the question.
    pub key: String,
    /// What is wrong.
    pub why: String,
    /// What may be answered.
    pub range: String,
}

impl Answers {
    /// Keeps an accepted answer; `assumed` is the reason of a default.
    pub fn keep(&mut self, key: &str, text: String, assumed: Option<String>) {
        self.0.insert(key.to_owned(), Answer { text, assumed });
    }

    /// Whether a question has been answered.
    pub fn has(&self, key: &str) -> bool {
        self.0.contains_key(key)
    }

    /// The text of an answer; empty where there is none.
    pub fn text(&self, key: &str) -> &str {
        self.0.get(key).map_or("", |answer| answer.text.as_str())
    }

    /// The number of an answer, where it is one.
    pub fn number(&self, key: &str) -> Option<f64> {
        self.text(key).parse().ok()
    }

    /// A count; zero where there is none.
    pub fn count(&self, key: &str) -> usize {
        self.text(key).parse().unwrap_or(0)
    }

    /// Why an answer is what it is, where the user did not say it.
    pub fn assumed(&self, key: &str) -> Option<&str> {
        self.0.get(key)?.assumed.as_deref()
    }
}
