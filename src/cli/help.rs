//! `billet help`: the help of a command, or a text on a topic.

use std::fmt::Write as _;

use clap::Args;

use super::exit::Exit;
use super::{message, out};
use crate::text::nearest;

/// Texts by their names, in the order in which a newcomer meets them.
const TOPICS: [(&str, &str); 15] = [
    ("first-line", include_str!("topics/first-line.md")),
    ("line-file", include_str!("topics/line-file.md")),
    ("limits", include_str!("topics/limits.md")),
    ("handling", include_str!("topics/handling.md")),
    ("dies", include_str!("topics/dies.md")),
    ("cooling", include_str!("topics/cooling.md")),
    ("scale", include_str!("topics/scale.md")),
    ("long-parts", include_str!("topics/long-parts.md")),
    ("heater", include_str!("topics/heater.md")),
    ("measurements", include_str!("topics/measurements.md")),
    ("proof", include_str!("topics/proof.md")),
    ("controller", include_str!("topics/controller.md")),
    ("many", include_str!("topics/many.md")),
    ("textbook", include_str!("topics/textbook.md")),
    ("output", include_str!("topics/output.md")),
];

/// Tell about a command, or a topic: `billet help dies`.
#[derive(Debug, Args)]
pub(super) struct Help {
    /// Name of a command or of a topic; without it, the commands and the topics.
    #[arg(value_name = "TOPIC")]
    topic: Option<String>,
}

/// The names of the topics with their headings.
pub(super) fn topics() -> String {
    let mut list = "Topics (billet help TOPIC):\n".to_owned();
    for (name, text) in TOPICS {
        let heading = text.lines().next().unwrap_or_default().trim_start_matches("# ");
        let _ = writeln!(list, "  {name:<15} {heading}");
    }
    list
}

impl Help {
    pub fn run(&self, mut command: clap::Command) -> Exit {
        command.build();
        let Some(topic) = &self.topic else {
            return out::print(&command.render_help().to_string(), Exit::Fine);
        };
        if let Some((_, text)) = TOPICS.iter().find(|(name, _)| name == topic) {
            return out::print(text, Exit::Fine);
        }
        if let Some(found) = command.find_subcommand_mut(topic) {
            return out::print(&found.render_long_help().to_string(), Exit::Fine);
        }
        let commands = command.get_subcommands().map(|c| c.get_name().to_owned());
        let known: Vec<String> = commands
            .chain(TOPICS.iter().map(|(name, _)| (*name).to_owned()))
            .collect();
        let near = nearest(topic, known.iter().map(String::as_str));
        let hint = near.map_or_else(
            || "`billet help` lists them".to_owned(),
            |near| format!("did you mean `{near}`?"),
        );
        message::error_line(&format!("no command and no topic `{topic}`; {hint}"));
        Exit::WrongInput
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;
    use crate::cli::Cli;

    /// Lines of commands in a text: those that start with `billet`, continued lines joined.
    fn commands(text: &str) -> Vec<String> {
        let text = text.replace("\\\n", " ");
        let lines = text.lines().map(str::trim);
        let own = |line: &&str| line.starts_with("billet ") || line.starts_with("cargo run --release -- ");
        lines
            .filter(own)
            .map(|line| {
                line.split(" #")
                    .next()
                    .unwrap_or_default()
                    .replace("cargo run --release --", "billet")
            })
            .collect()
    }

    #[test]
    fn every_command_that_texts_show_is_understood() {
        let mut shown: Vec<String> = TOPICS.iter().flat_map(|(_, text)| commands(text)).collect();
        shown.extend(commands(include_str!("../../README.md")));
        assert!(shown.len() >= 7, "{shown:?}");
        for line in shown {
            let words = line.split_whitespace();
            assert!(Cli::try_parse_from(words).is_ok(), "{line}");
        }
    }

    #[test]
    fn topics_fit_a_narrow_terminal_and_none_hides_a_command() {
        let command = <Cli as clap::CommandFactory>::command();
        for (name, text) in TOPICS {
            assert!(text.starts_with("# "), "{name}");
            assert!(command.find_subcommand(name).is_none(), "{name} is a command");
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{name}: {line}");
            }
        }
    }
}
