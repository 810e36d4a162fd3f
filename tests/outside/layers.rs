//! The house rules of `DEVELOPERS.md`: layers import downward only, files form no circles, functions stay short.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Layers, lowest first.
const LAYERS: [&str; 20] = [
    "units",
    "text",
    "numeric",
    "steel",
    "body",
    "conduction",
    "surface",
    "heater",
    "die",
    "judge",
    "line",
    "condition",
    "draft",
    "output",
    "ask",
    "measured",
    "picture",
    "show",
    "report",
    "page",
];

type Module = Vec<String>;

struct Source {
    file: PathBuf,
    /// Without comments and without unit tests.
    text: String,
    /// Imported paths, and whether each is passed on by `pub use`.
    uses: Vec<(bool, String)>,
}

/// Names one `use` after the other: `a::{b, c::{d}}` is `a::b` and `a::c::d`.
fn spread(tree: &str) -> Vec<String> {
    let tree = tree.trim();
    let Some((before, inside)) = tree
        .split_once('{')
        .and_then(|(before, rest)| Some((before, rest.strip_suffix('}')?)))
    else {
        return vec![tree.split(" as ").next().unwrap().trim().to_owned()];
    };
    let (mut parts, mut depth) = (vec![String::new()], 0);
    for c in inside.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(String::new());
                continue;
            }
            _ => {}
        }
        parts.last_mut().unwrap().push(c);
    }
    let whole = |part: &String| spread(&format!("{}{}", before.trim(), part.trim()));
    parts
        .iter()
        .filter(|part| !part.trim().is_empty())
        .flat_map(whole)
        .collect()
}

/// Paths that a file names: in `use` lines, and written out.
fn uses(text: &str) -> Vec<(bool, String)> {
    let mut found = Vec::new();
    for (at, _) in text.match_indices("use ") {
        let before = text[..at].rsplit('\n').next().unwrap().trim();
        let rest = &text[at + 4..];
        if let (true, Some(end)) = (before.is_empty() || before.starts_with("pub"), rest.find(';')) {
            let tree = rest[..end].split_whitespace().collect::<Vec<_>>().join(" ");
            found.extend(spread(&tree).into_iter().map(|path| (!before.is_empty(), path)));
        }
    }
    for start in ["crate::", "super::"] {
        let whole = |at: &usize| !text[..*at].ends_with("::");
        for at in text.match_indices(start).map(|(at, _)| at).filter(whole) {
            let path = text[at..].split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':'));
            found.push((false, path.into_iter().next().unwrap().trim_end_matches(':').to_owned()));
        }
    }
    found
}

fn sources() -> BTreeMap<Module, Source> {
    fn walk(folder: &Path, out: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                out.push(path);
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    walk(&root, &mut files);
    let mut out = BTreeMap::new();
    for file in files {
        let relative = file.strip_prefix(&root).unwrap().with_extension("");
        let mut module: Module = relative.iter().map(|p| p.to_str().unwrap().to_owned()).collect();
        if module.last().unwrap() == "mod" {
            module.pop();
        }
        if ["lib", "main", "tests"].contains(&module.last().unwrap().as_str()) {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap();
        let text = text.split("#[cfg(test)]\nmod").next().unwrap();
        let lines: Vec<&str> = text.lines().map(|l| l.split("//").next().unwrap()).collect();
        let text = lines.join("\n");
        let uses = uses(&text);
        out.insert(module, Source { file, text, uses });
    }
    out
}

/// The module that a path leads to, as deep as there are files for it; `passed` has what modules pass on.
fn target(
    sources: &BTreeMap<Module, Source>,
    passed: &BTreeMap<(Module, String), Module>,
    me: &Module,
    path: &str,
) -> Option<Module> {
    let mut words = path.split("::").peekable();
    let mut at: Module = Vec::new();
    match *words.peek()? {
        "crate" => {
            words.next();
        }
        "super" | "self" => {
            at.clone_from(me);
            while let Some(&word) = words.peek().filter(|w| ["super", "self"].contains(w)) {
                if word == "super" {
                    at.pop();
                }
                words.next();
            }
        }
        first => {
            let child = [me.clone(), vec![first.to_owned()]].concat();
            sources.contains_key(&child).then(|| at.clone_from(me))?;
        }
    }
    for word in words {
        let child = [at.clone(), vec![word.to_owned()]].concat();
        if sources.contains_key(&child) {
            at = child;
            continue;
        }
        while let Some(next) = passed.get(&(at.clone(), word.to_owned())) {
            at.clone_from(next);
        }
        break;
    }
    (!at.is_empty() && at != *me).then_some(at)
}

/// Which file imports from which.
fn graph(sources: &BTreeMap<Module, Source>) -> BTreeMap<Module, BTreeSet<Module>> {
    let mut passed = BTreeMap::new();
    for _ in 0..4 {
        for (module, source) in sources {
            for (_, path) in source.uses.iter().filter(|(public, _)| *public) {
                if let Some(to) = target(sources, &passed, module, path) {
                    let name = path.rsplit("::").next().unwrap().to_owned();
                    passed.insert((module.clone(), name), to);
                }
            }
        }
    }
    let mut graph = BTreeMap::new();
    for (module, source) in sources {
        // What a folder passes on, it does not itself need.
        let index = sources.keys().any(|m| m.len() > module.len() && m.starts_with(module));
        let own = source.uses.iter().filter(|(public, _)| !(*public && index));
        let to: BTreeSet<Module> = own
            .filter_map(|(_, path)| target(sources, &passed, module, path))
            .collect();
        graph.insert(module.clone(), to);
    }
    graph
}

#[test]
fn layers_import_downward_only() {
    let sources = sources();
    let rank = |module: &Module| LAYERS.iter().position(|layer| *layer == module[0]);
    for (module, to) in graph(&sources) {
        // The command is above all.
        let Some(mine) = rank(&module) else {
            assert_eq!(module[0], "cli", "{module:?} is in no layer");
            continue;
        };
        for to in to {
            assert!(
                rank(&to).is_some_and(|other| other <= mine),
                "{module:?} imports {to:?}"
            );
        }
    }
}

#[test]
fn files_form_no_circles() {
    let mut graph = graph(&sources());
    // What imports nothing that is left goes, and what nothing left imports: circles stay.
    loop {
        let left: BTreeSet<Module> = graph.keys().cloned().collect();
        for to in graph.values_mut() {
            to.retain(|module| left.contains(module));
        }
        let needed: BTreeSet<Module> = graph.values().flatten().cloned().collect();
        graph.retain(|module, to| !to.is_empty() && needed.contains(module));
        if graph.len() == left.len() {
            break;
        }
    }
    assert!(graph.is_empty(), "in circles, or between two: {graph:?}");
}

#[test]
fn functions_are_shorter_than_a_hundred_lines() {
    for source in sources().values() {
        let mut begun: Vec<(usize, usize)> = Vec::new();
        for (number, line) in source.text.lines().enumerate() {
            let word = line.trim_start();
            let depth = line.len() - word.len();
            let modifiers = ["pub ", "pub(crate) ", "pub(super) ", "const ", "async "];
            let name = modifiers
                .iter()
                .fold(word, |word, m| word.strip_prefix(m).unwrap_or(word));
            if name.starts_with("fn ") {
                begun.push((number, depth));
            } else if word == "}" && begun.last().is_some_and(|(_, d)| *d == depth) {
                let (start, _) = begun.pop().unwrap();
                let long = number - start;
                assert!(long < 100, "{}:{}: {long} lines", source.file.display(), start + 1);
            }
        }
    }
}
