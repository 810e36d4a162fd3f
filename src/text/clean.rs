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

/// A text as part of a file name: small letters, digits and hyphens, 60 at most.
pub(crate) fn file_word(text: &str) -> String {
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    text.chars().map(plain).take(60).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_do_not_reach_the_terminal() {
        assert_eq!(clean("a\u{1b}[2Jb"), "a[2Jb");
        assert_eq!(clean("\u{7}\u{202e}>\n\u{2062}"), "> ");
    }
}
