//! The tables of JSON fields of the herd figures, made from the documentation of their rows.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use crate::root;

/// One field of a row.
struct Field {
    name: String,
    holds: String,
    says: String,
}

/// One kind of row.
struct Table {
    name: String,
    says: String,
    fields: Vec<Field>,
}

#[test]
fn every_field_of_the_figures_is_in_the_tables() {
    let page = page();
    let path = root().join("spec/measures-fields.md");
    if std::env::var_os("FOOTFOLD_WRITE").is_some() {
        fs::write(&path, &page).unwrap();
    }
    let stands = fs::read_to_string(&path).unwrap_or_default();
    assert!(stands == page, "spec/measures-fields.md is stale: FOOTFOLD_WRITE=1 cargo test -p footfold --test runner");
}

#[test]
fn tables_are_read_from_documentation() {
    let text = "/// A row.\n#[derive(Debug, Serialize)]\npub struct Row {\n    /// How many.\n    pub part: Option<u64>,\n    /// Which.\n    #[serde(flatten)]\n    pub seen: Seen,\n}\n";
    let [table] = &tables(text)[..] else { panic!("one table") };
    let fields: Vec<_> = table.fields.iter().map(|field| (field.name.as_str(), field.holds.as_str())).collect();
    assert_eq!((table.name.as_str(), table.says.as_str()), ("Row", "A row."));
    assert_eq!(fields, [("part", "number or null"), ("*", "the fields of Seen")]);
}

fn page() -> String {
    let mut files = Vec::new();
    rust_files(&root().join("ledger-format/src/measures"), &mut files);
    files.push(root().join("ledger-format/src/fold/words.rs"));
    files.sort();
    let mut tables: Vec<Table> = files.iter().flat_map(|file| tables(&fs::read_to_string(file).unwrap())).collect();
    tables.sort_by(|a, b| a.name.cmp(&b.name));
    let mut page = "# Measures: the fields of the JSON\n\nMade from the documentation of the rows (`DEVELOPERS.md`, Testing); the rules are in [measures](measures.md). *Or why none*: in place of the value stands an object with the one field `cannot_be_computed_because`, a text.\n".to_owned();
    for table in &tables {
        let _ =
            write!(page, "\n## {}\n\n{}\n\n| field | holds | says |\n| --- | --- | --- |\n", table.name, table.says);
        for Field { name, holds, says } in &table.fields {
            let _ = writeln!(page, "| `{name}` | {holds} | {says} |");
        }
    }
    page
}

fn rust_files(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
}

/// The rows of a file: public structures that can be written out.
fn tables(text: &str) -> Vec<Table> {
    let (mut tables, mut says, mut is_row) = (Vec::new(), String::new(), false);
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if let Some(doc) = line.strip_prefix("///") {
            join(&mut says, doc);
        } else if line.starts_with("#[") {
            is_row |= line.contains("Serialize");
        } else if let Some(name) = line.strip_prefix("pub struct ").filter(|_| is_row) {
            let name = name.split([' ', '<', '(', ';']).next().unwrap_or_default().to_owned();
            let fields = if line.ends_with('{') { fields(&mut lines) } else { Vec::new() };
            tables.push(Table { name, says: std::mem::take(&mut says), fields });
            is_row = false;
        } else {
            (says, is_row) = (String::new(), false);
        }
    }
    tables.retain(|table| !table.fields.is_empty());
    tables
}

fn fields<'a>(lines: &mut impl Iterator<Item = &'a str>) -> Vec<Field> {
    let (mut fields, mut says, mut attribute) = (Vec::new(), String::new(), String::new());
    for line in lines.take_while(|line| *line != "}").map(str::trim) {
        if let Some(doc) = line.strip_prefix("///") {
            join(&mut says, doc);
        } else if line.starts_with("#[") {
            line.clone_into(&mut attribute);
        } else if let Some((name, kind)) = line.strip_prefix("pub ").and_then(|field| field.split_once(": ")) {
            let kind = kind.trim_end_matches(',');
            let is_flat = attribute.contains("flatten");
            let (name, holds) = if is_flat {
                ("*".to_owned(), format!("the fields of {kind}"))
            } else {
                (name.to_owned(), holds(kind))
            };
            if !attribute.contains("skip") {
                fields.push(Field { name, holds, says: std::mem::take(&mut says) });
            }
            (says, attribute) = (String::new(), String::new());
        }
    }
    fields
}

fn join(says: &mut String, doc: &str) {
    if !says.is_empty() {
        says.push(' ');
    }
    says.push_str(doc.trim());
}

/// A Rust type in words.
fn holds(kind: &str) -> String {
    let inside = |name: &str| kind.strip_prefix(name).and_then(|rest| rest.strip_suffix('>'));
    if let Some(of) = inside("Option<") {
        return format!("{} or null", holds(of));
    }
    if let Some(of) = inside("Vec<") {
        return format!("list of {}", holds(of));
    }
    if let Some(of) = inside("Figure<") {
        return format!("{} or why none", holds(of));
    }
    match kind {
        "String" | "&'static str" => "text".to_owned(),
        "bool" => "yes/no".to_owned(),
        "u8" | "u16" | "u32" | "u64" | "usize" | "i64" | "f64" => "number".to_owned(),
        row => format!("[{row}](#{})", row.to_lowercase()),
    }
}
