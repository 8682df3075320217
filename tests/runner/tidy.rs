//! The house rules that a machine can keep: arrows between modules, a chapter for each, sizes, faults with tests.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::root;

/// What each module of `ledger-format` may use. `limits` and `swar` may be used by all.
const ARROWS: &[(&str, &[&str])] = &[
    ("limits", &[]),
    ("swar", &[]),
    ("text", &[]),
    ("vocabulary", &[]),
    ("line", &["text", "vocabulary"]),
    ("typing", &["line", "text", "vocabulary"]),
    ("mark", &["line"]),
    ("keep", &["line", "mark", "text"]),
    ("merge", &["line", "mark", "vocabulary"]),
    ("members", &["line", "mark", "merge", "vocabulary"]),
    ("fold", &["line", "mark", "members", "merge", "vocabulary"]),
    ("between", &["fold", "line", "merge", "vocabulary"]),
    ("measures", &["fold", "line", "merge", "vocabulary"]),
    ("work", &["between", "fold", "line", "mark", "members", "merge", "text", "vocabulary"]),
];

/// What must be survived so far, faults and attacks, each shown by a test of its name.
const SHOWN: &[&str] = &[
    "f01", "f02", "f03", "f04", "f05", "f06", "f07", "f08", "f09", "f10", "f11", "f12", "f13", "f14", "f15", "f16",
    "f17", "f18", "f19", "f20", "f21", "f22", "f23", "f24", "f25", "f26", "f27", "f28", "f29", "f30", "f31", "f32",
    "f33", "f34", "f35", "f36", "f37", "f38", "f39", "f40", "f41", "f42", "f43", "f44", "f45", "f46", "f47", "f48",
    "f49", "f50", "f51", "f52", "f53", "f54", "f55", "f58", "s1", "s2", "s3", "s4", "s5", "s6", "s8", "s9", "s10",
    "s11", "s12", "s13", "s14", "s15", "s16", "s17", "s19",
];

/// What a test may speak of too: that nobody is told of what is not accepted is shown of worlds, not under power cuts.
const SHOWN_IN_PART: &[&str] = &["f56"];

const FUNCTION_LINES: usize = 70;
const FILE_LINES: usize = 600;

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() && !path.ends_with("target") {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

fn all_rust() -> Vec<PathBuf> {
    ["ledger-format", "daemon", "cli", "tests", "examples"]
        .iter()
        .flat_map(|folder| rust_files(&root().join(folder)))
        .collect()
}

fn module_of(path: &Path) -> String {
    let within = path.strip_prefix(root().join("ledger-format/src")).unwrap();
    let first = within.components().next().unwrap().as_os_str().to_str().unwrap();
    first.trim_end_matches(".rs").to_owned()
}

#[test]
fn arrows_point_one_way() {
    let mut wrong = Vec::new();
    for path in rust_files(&root().join("ledger-format/src")) {
        let module = module_of(&path);
        let Some((_, may)) = ARROWS.iter().find(|(name, _)| *name == module) else {
            assert_eq!(module, "lib", "a module that the table of arrows does not know");
            continue;
        };
        let text = fs::read_to_string(&path).unwrap();
        for used in text.split("crate::").skip(1) {
            let used: String = used.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            let known = ARROWS.iter().any(|(name, _)| *name == used);
            if known && used != module && !["limits", "swar"].contains(&used.as_str()) && !may.contains(&used.as_str())
            {
                wrong.push(format!("{} uses {used}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn each_module_has_its_chapter_and_each_chapter_is_listed() {
    let spec = root().join("spec");
    let table = fs::read_to_string(spec.join("README.md")).unwrap();
    for (module, _) in ARROWS.iter().filter(|(module, _)| !["limits", "swar"].contains(module)) {
        assert!(spec.join(format!("{module}.md")).is_file(), "no chapter for module {module}");
        assert!(table.contains(&format!("({module}.md)")), "{module}.md is not in the table of chapters");
    }
    for entry in fs::read_dir(&spec).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        if path.extension().is_some_and(|extension| extension == "md") && name != "README.md" {
            assert!(table.contains(&format!("({name})")), "{name} is not in the table of chapters");
        }
    }
}

/// The faults and attacks that a function's name begins with: `f29_f30_every_call_…` shows two.
fn claims(name: &str) -> Vec<&str> {
    let is_number = |rest: &str| (1..=2).contains(&rest.len()) && rest.bytes().all(|b| b.is_ascii_digit());
    let is_claim = |part: &&str| part.strip_prefix(['f', 's']).is_some_and(is_number);
    name.split('_').take_while(is_claim).collect()
}

#[test]
fn each_fault_and_attack_has_a_test_of_its_name_and_no_test_names_another() {
    let text: String = all_rust().iter().map(|path| fs::read_to_string(path).unwrap()).collect();
    let names = text.split("fn ").skip(1).map(|rest| rest.split('(').next().unwrap_or_default());
    let claimed: Vec<(&str, Vec<&str>)> = names.map(|name| (name, claims(name))).collect();
    let first: BTreeSet<&str> = claimed.iter().filter_map(|(_, claims)| claims.first().copied()).collect();
    let missing: Vec<_> = SHOWN.iter().filter(|fault| !first.contains(**fault)).collect();
    assert!(missing.is_empty(), "no test whose name begins with {missing:?}");
    let is_known = |claim: &&str| SHOWN.contains(claim) || SHOWN_IN_PART.contains(claim);
    let unknown: Vec<_> = claimed.iter().filter(|(_, claims)| !claims.iter().all(is_known)).collect();
    assert!(unknown.is_empty(), "these name what is on no list: {unknown:?}");
}

/// Each function of a file: name, number of lines, whether it is a test, its text.
fn functions(text: &str) -> Vec<(String, usize, bool, String)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (start, line) in lines.iter().enumerate() {
        let trimmed = line.trim_start();
        let indent = line.len() - trimmed.len();
        let is_function = ["fn ", "pub fn ", "pub(crate) fn ", "pub(super) fn ", "const fn ", "pub const fn "];
        if !is_function.iter().any(|begin| trimmed.starts_with(begin)) || trimmed.ends_with(';') {
            continue;
        }
        let close = format!("{}}}", " ".repeat(indent));
        let Some(length) = lines[start..].iter().position(|line| **line == close) else { continue };
        let name = trimmed.split("fn ").nth(1).unwrap_or_default().split(['(', '<']).next().unwrap_or_default();
        let is_test = lines[start.saturating_sub(3)..start].iter().any(|line| line.trim() == "#[test]");
        found.push((name.to_owned(), length + 1, is_test, lines[start..=start + length].join("\n")));
    }
    found
}

#[test]
fn functions_fit_on_a_screen_and_files_hold_one_idea() {
    let mut wrong = Vec::new();
    for path in all_rust() {
        let text = fs::read_to_string(&path).unwrap();
        let lines = text.lines().count();
        if lines > FILE_LINES {
            wrong.push(format!("{} has {lines} lines", path.display()));
        }
        let long = functions(&text).into_iter().filter(|(_, length, is_test, _)| *length > FUNCTION_LINES && !is_test);
        wrong.extend(long.map(|(name, length, ..)| format!("{}: {name} has {length} lines", path.display())));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Whether a text asserts by itself; `ends`, `fine` and `says` are the black box's assertions, `near` is that of figures.
fn asserts(text: &str) -> bool {
    ["assert", "near(", "check(", "check_forms!(", "unwrap_err", ".ends(", ".fine()", ".says("]
        .iter()
        .any(|word| text.contains(word))
}

#[test]
fn no_test_is_without_an_assertion() {
    let mut wrong = Vec::new();
    for path in all_rust() {
        let functions = functions(&fs::read_to_string(&path).unwrap());
        let helpers = functions.iter().filter(|(_, _, is_test, text)| !is_test && asserts(text));
        let helpers: Vec<String> = helpers.map(|(name, ..)| format!("{name}(")).collect();
        for (name, _, is_test, text) in &functions {
            if *is_test && !asserts(text) && !helpers.iter().any(|helper| text.contains(helper.as_str())) {
                wrong.push(format!("{}: {name}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "tests that cannot fail: {wrong:#?}");
}

#[test]
fn every_vector_folder_holds_vectors() {
    let mut count = 0;
    for entry in fs::read_dir(root().join("spec/vectors")).unwrap() {
        let folder = entry.unwrap().path();
        let inside = files_below(&folder);
        assert!(inside > 0, "{} is empty", folder.display());
        count += inside;
    }
    assert!(count >= 150, "{count} vectors");
}

fn files_below(folder: &Path) -> usize {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| if path.is_dir() { files_below(&path) } else { 1 })
        .sum()
}

#[test]
fn the_top_level_is_as_agreed() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "rust-toolchain.toml",
        "ledger-format",
        "daemon",
        "cli",
        "tests",
        "examples",
        "spec",
        "target",
        "quillmere",
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || allowed.contains(&name.as_str()), "{name} at the top level");
    }
}
