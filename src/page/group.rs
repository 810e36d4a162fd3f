//! The inputs by stage, in the order of the line.

use crate::judge::{Bound, Limit, Owner};
use crate::line::file::Document;
use crate::line::plan::Input;
use crate::show::{Cell, View, nodes};

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
        // Properties of a metal are the affair of its own file.
        if format!(".{key}").contains(".steel.") {
            continue;
        }
        // A stage may be called as a table is.
        let at = match found.iter().position(|(at, group)| *at == place && group.name == name) {
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

/// Numbers with a range.
fn is_shown(input: &Input) -> bool {
    input.number().is_some() && input.allowed.is_some()
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

/// What the limit of an input is about, in words: its nodes, its stage and its moment; `None` for other inputs.
pub(super) fn limit_words(input: &Input, document: &Document, view: &View) -> Option<String> {
    let is_limit = |input: &&Input| input.path.starts_with("limit.");
    // Each number of a limit makes one limit, in their order.
    let plan = document.plan();
    let number = plan
        .inputs
        .iter()
        .filter(is_limit)
        .position(|one| one.path == input.path)?;
    let mut given = plan.limits.iter().filter(|limit| limit.owner == Owner::Given);
    let limit: &Limit = given.nth(number)?;
    let (Bound::MinC(bound) | Bound::MaxC(bound) | Bound::MaxDifferenceK(bound)) = limit.bound;
    let moment = Cell::Moment(limit.moment).whole(view);
    let place: Vec<String> = [Some(nodes(limit).whole(view)), limit.stage.clone(), Some(moment)]
        .into_iter()
        .flatten()
        .collect();
    (input.number() == Some(bound)).then(|| place.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stage_called_as_a_table_has_a_group_of_its_own() {
        let text = "title = \"t\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 100\n[shop]\nambient_c = 20\n\
                    [heater]\nkind = \"measured\"\nsurface_c = 1200\ncore_below_surface_k = 10\n[[stage]]\nkind = \"carry\"\n\
                    name = \"shop\"\nseconds = 4\n[[stage]]\nkind = \"carry\"\nname = \"a.steel.b\"\nseconds = 5\n[[limit]]\n\
                    moment = \"exit\"\nnode = \"surface\"\nmin_c = 1100\nmax_c = 1250\n";
        let document = Document::parse(text, "t.toml").unwrap();
        let groups = groups(&document);
        let of = |name: &str| groups.iter().filter(|group| group.name == name).collect::<Vec<_>>();
        let [stage, table] = of("shop")[..] else { panic!() };
        assert!(table.inputs.iter().any(|(key, _)| key == "ambient_c"));
        assert!(
            stage
                .inputs
                .iter()
                .all(|(_, input)| input.path.starts_with("stage.shop."))
        );
        assert_eq!(of("a.steel.b")[0].inputs[0].0, "seconds");
        let words = |path: &str| limit_words(document.input(path).unwrap(), &document, &View::default());
        assert_eq!(
            words("limit.1.max_c").as_deref(),
            Some("side face at mid-length, at heater exit")
        );
        assert_eq!(words("heater.surface_c"), None);
    }
}
