//! Texts of users made safe to show.

use super::is_unfit;

/// Text without characters that XML forbids, that could move the cursor of a terminal or that would turn the
/// line around; line breaks and tabs become blanks.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| if matches!(c, '\t' | '\n' | '\r') { ' ' } else { c })
        .filter(|&c| !is_unfit(c) && !is_hidden(c))
        .collect()
}

/// Whether a character has no width and no meaning alone: joiners, invisible operators, marks of byte order.
fn is_hidden(c: char) -> bool {
    matches!(c, '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}')
}

/// A text as part of a file name: words of small letters and digits with one hyphen between them, 60 characters at most;
/// empty where it has none of these.
pub(crate) fn file_word(text: &str) -> String {
    let words = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty());
    let mut name = words.collect::<Vec<_>>().join("-").to_ascii_lowercase();
    name.truncate(60);
    name.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        assert_eq!(clean("a\u{1b}[2Jb"), "a[2Jb");
        assert_eq!(clean("\u{7}\u{202e}>\n\u{2062}"), "> ");
    }

    #[test]
    fn a_file_word_has_single_hyphens_inside() {
        assert_eq!(file_word(" Hub 124 \u{d7} 67, hammer (2)"), "hub-124-67-hammer-2");
        assert_eq!(file_word(&format!("{} b", "a".repeat(59))), "a".repeat(59));
        assert_eq!(file_word("\u{951b}\u{9020}"), "");
    }
}
