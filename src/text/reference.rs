//! The reference of all keys of a file, in Markdown, made from the declarations of its tables.

use super::describe::{Described, Form};
use super::key::{Key, Without};
use super::schema::{meaning, sentences};
use super::table::Table;
use super::value::described;

/// The reference of a file whose top table is `T`: one heading a table, one item a key.
pub(crate) fn reference<T: Table>(title: &str) -> String {
    let mut text = format!("# {title}\n");
    let mut told: Vec<String> = Vec::new();
    tell(&described::<T>(), "", &mut told, &mut text);
    text
}

/// Tells a table and those inside it; one that stands in several places is told once, at the first of them.
fn tell(table: &Described, path: &str, told: &mut Vec<String>, text: &mut String) {
    let place = if path.is_empty() {
        "the file".to_owned()
    } else {
        format!("`{path}`")
    };
    text.push_str(&format!(
        "\n## {} ({place})\n\n{}\n\n",
        table.name,
        sentences(table.about)
    ));
    for (key, form) in &table.keys {
        text.push_str(&format!(
            "- `{}` ({}): {}\n",
            key.name,
            kind(key, form),
            meaning(key, form)
        ));
    }
    told.push(table.name.to_owned());
    for (key, form) in &table.keys {
        inner(form, &join(path, key.name), &mut |table, path| {
            if !told.iter().any(|name| name == table.name) {
                tell(table, path, told, text);
            }
        });
    }
}

fn join(path: &str, name: &str) -> String {
    if path.is_empty() {
        name.to_owned()
    } else {
        format!("{path}.{name}")
    }
}

/// Visits the tables of a type.
fn inner(form: &Form, path: &str, visit: &mut dyn FnMut(&Described, &str)) {
    match form {
        Form::Table(described) => visit(&described(), path),
        Form::List(of) => inner(of, path, visit),
        Form::OneOf(forms) => forms.iter().for_each(|form| inner(form, path, visit)),
        _ => {}
    }
}

/// Type of a key in words, and whether it must be given.
fn kind(key: &Key, form: &Form) -> String {
    let must = if key.without == Without::Required {
        ", required"
    } else {
        ""
    };
    format!("{}{must}", words(key, form))
}

fn words(key: &Key, form: &Form) -> String {
    match form {
        Form::Number => "number".to_owned(),
        Form::Whole => "whole number".to_owned(),
        Form::Flag => "true or false".to_owned(),
        Form::Text if !key.words.is_empty() => key.words.join(" | "),
        Form::Text => "text".to_owned(),
        Form::Word(words) => words.join(" | "),
        Form::List(of) => format!("list of {}", words(key, of)),
        Form::Table(described) => format!("table {}", described().name),
        Form::OneOf(forms) => {
            let forms: Vec<String> = forms.iter().map(|form| words(key, form)).collect();
            forms.join(" or ")
        }
    }
}
