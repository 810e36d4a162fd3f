//! The inputs by stage, in the order of the line.

use crate::judge::Owner;
use crate::line::file::Document;
use crate::line::plan::Input;

/// The inputs of one stage or one table.
pub(super) struct Group<'a> {
    /// Name of the stage or table.
    pub name: String,
    /// Whether it is shown at once.
    pub open: bool,
    /// Key inside the group, and the input.
    pub inputs: Vec<(String, &'a Input)>,
}

/// All numbers that can be changed, in groups: heater, stages, limits, then what holds for the whole line.
pub(super) fn groups(document: &Document) -> Vec<Group<'_>> {
    let plan = document.plan();
    let mut stages: Vec<&str> = plan.stages.iter().map(|stage| stage.name.as_str()).collect();
    // Names may hold dots, so the longest that fits is meant.
    stages.sort_by_key(|name| std::cmp::Reverse(name.len()));
    let mut found: Vec<(Place, Group<'_>)> = Vec::new();
    for input in plan.inputs.iter().filter(|input| is_shown(input)) {
        let (place, name, key) = place_of(&input.path, &stages, document);
        let at = match found.iter().position(|(_, group)| group.name == name) {
            Some(at) => at,
            None => {
                let inputs = Vec::new();
                found.push((
                    place,
                    Group {
                        name,
                        open: false,
                        inputs,
                    },
                ));
                found.len() - 1
            }
        };
        found[at].1.inputs.push((key, input));
    }
    found.sort_by_key(|(place, _)| *place);
    for (_, group) in &mut found {
        // How long a stage takes comes first.
        group.inputs.sort_by_key(|(key, _)| key != "seconds");
    }
    let mut groups: Vec<Group<'_>> = found.into_iter().map(|(_, group)| group).collect();
    for group in groups
        .iter_mut()
        .filter(|group| group.inputs.iter().any(|(_, input)| input.owner == Owner::Given))
    {
        group.open = true;
    }
    groups
}

/// Numbers with a range; properties of the metal are the affair of its own file.
fn is_shown(input: &Input) -> bool {
    input.number().is_some() && input.allowed.is_some() && !input.path.contains(".steel.")
}

/// Where a group stands: kind of group, and place inside the kind.
type Place = (u8, usize);

fn place_of(path: &str, stages: &[&str], document: &Document) -> (Place, String, String) {
    if let Some(rest) = path.strip_prefix("stage.") {
        let fits = |name: &&&str| rest.strip_prefix(**name).is_some_and(|rest| rest.starts_with('.'));
        if let Some(name) = stages.iter().find(fits) {
            let order = document
                .plan()
                .stages
                .iter()
                .position(|stage| stage.name == **name)
                .unwrap_or(0);
            return ((1, order), (*name).to_owned(), rest[name.len() + 1..].to_owned());
        }
    }
    let (table, key) = path.split_once('.').unwrap_or(("", path));
    match table {
        "heater" => ((0, 0), table.to_owned(), key.to_owned()),
        "limit" => ((2, 0), table.to_owned(), key.to_owned()),
        _ => {
            let order = ["billet", "shop", "die", "grip", "support", "scale", "section"];
            let place = order.iter().position(|known| *known == table).unwrap_or(order.len());
            ((3, place), table.to_owned(), key.to_owned())
        }
    }
}
