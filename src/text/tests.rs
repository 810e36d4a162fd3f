//! A table of every type of key: what is read, refused with its place, changed and described.

use std::path::Path;

use toml::Spanned;

use super::*;

table! {
    /// A box.
    struct Crate = "Crate";

    /// Its name.
    name: String = text(5.0).required();
    /// Its width.
    width_mm: f64 = above("mm", (0.0, 10.0)).or(2.0, "as built");
    /// How many.
    count: i64 = whole((1.0, 9.0)).of(&["many"]);
    /// Whether it is open.
    open: bool = flag();
    /// The lid.
    lid: Lid = any();
    /// What is in it.
    item: Vec<Spanned<Lid>> = any();
    /// One handle, or several.
    handle: OneOrMany<Lid> = any();
}

table! {
    /// A lid.
    struct Lid = "Lid";

    /// Its height.
    height_mm: f64 = number("mm", (0.0, 1.0));
}

/// What a text is read as, with what was refused as `line:column message`.
fn read(text: &str) -> (Crate, Vec<String>) {
    let source = Source::new(text);
    let reading = parse::<Crate>(&source, Path::new("x.toml")).unwrap();
    let told = reading
        .refused
        .iter()
        .map(|p| format!("{}:{} {}", p.line, p.column, p.kind));
    (reading.table.clone(), told.collect())
}

#[test]
fn every_type_is_read_with_its_place() {
    let text = "name = \"ä\"\nwidth_mm = 3\ncount = 0x7\nopen = true\nhandle = { height_mm = 1 }\n\
                [lid]\nheight_mm = 0.5\n[[item]]\n[[item]]\nheight_mm = 1e-1\n";
    let (table, told) = read(text);
    assert_eq!(told, Vec::<String>::new());
    assert_eq!((table.width_mm.value(), table.count.value()), (Some(&3.0), Some(&7)));
    assert_eq!(&text[table.width_mm.span().unwrap()], "3");
    assert_eq!(table.item.items().len(), 2);
    assert_eq!(table.item.items()[1].get_ref().height_mm.value(), Some(&0.1));
    assert!(!table.handle.value().unwrap().many);
}

#[test]
fn all_that_is_refused_is_told_in_the_order_of_the_text() {
    let (table, told) =
        read("open = 1\nwidht_mm = 3\nname = \"ä\" # ä\ncount = 2.5\n[[lid]]\nheight_mm = 1\n[item]\nheight_mm = 1\n");
    let want = [
        "1:8 wrong type: found number `1`, expected true or false",
        "2:1 unknown key `widht_mm`",
        "4:9 wrong type: found number `2.5`, expected a whole number",
        "5:1 wrong type: found a list, [[lid]], expected one table, [lid]",
        "7:1 wrong type: found one table, [item], expected a list of tables, [[item]]",
    ];
    assert_eq!(told, want);
    assert_eq!(table.name.value().map(String::as_str), Some("ä"));
}

#[test]
fn numbers_are_set_by_path_and_tables_made_on_the_way() {
    let (mut table, _) = read("name = \"a\"\nitem = [{ height_mm = 1 }]\n");
    for path in [&["width_mm"][..], &["lid", "height_mm"], &["item", "1", "height_mm"]] {
        assert_eq!(table.set(path, 0.25), Some(()), "{path:?}");
    }
    assert_eq!(table.lid.value().unwrap().height_mm.value(), Some(&0.25));
    assert_eq!(table.count.value(), None);
    for path in [
        &["item", "2", "height_mm"][..],
        &["handle", "height_mm"],
        &["name"],
        &["count"],
        &["lid"],
        &[],
    ] {
        assert_eq!(table.set(path, 0.25), None, "{path:?}");
    }
}

#[test]
fn ranges_kinds_and_lengths_are_told_by_what_is_declared() {
    let text = "name = \"abcdef\"\nwidth_mm = 0\ncount = 10\n";
    let source = Source::new(text);
    let table = parse::<Crate>(&source, Path::new("x.toml")).unwrap().table;
    let mut found = Found::new(&source);
    assert!(found.number(&table.width_mm).unwrap().is_nan());
    assert_eq!(found.whole(&table.count), None);
    found.text(&table.name);
    found.only(&table, "single", "here", |_| String::new());
    let told: Vec<String> = found.problems.iter().map(|p| p.kind.to_string()).collect();
    let want = [
        "width_mm = 0 mm is out of range: allowed above 0 to 10 mm",
        "count = 10 is out of range: allowed 1 to 9",
        "name has 6 characters, allowed 1 to 5",
        "`count` has no meaning here",
    ];
    assert_eq!(told, want);
}

#[test]
fn the_schema_and_the_reference_say_what_is_declared() {
    let schema = schema::schema::<Crate>("crate");
    assert_eq!(schema["required"], serde_json::json!(["name"]));
    let width = &schema["properties"]["width_mm"];
    assert_eq!(width["exclusiveMinimum"], 0.0);
    assert_eq!(width["default"], 2.0);
    assert_eq!(
        width["description"],
        "Its width. Unit: mm. Allowed: above 0 to 10. Default: 2 (as built)."
    );
    assert_eq!(schema["$defs"]["Lid"]["additionalProperties"], false);
    let reference = reference::reference::<Crate>("Keys");
    assert!(
        reference.contains("- `count` (whole number): How many. Allowed: 1 to 9. Only for many."),
        "{reference}"
    );
    assert!(reference.contains("## Lid (`lid`)"), "{reference}");
}
