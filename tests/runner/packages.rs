//! The packages that the programs are made with: few, each with a reason, from one place, under free licences.

use std::collections::BTreeSet;
use std::fs;
use std::process::Command;

use serde_json::Value;

use crate::root;

const FROM: &str = "registry+https://github.com/rust-lang/crates.io-index";
/// What permits what this project's own licence permits.
const LICENCES: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// All packages that are built on this machine: those of others need not be here.
fn packages() -> Vec<Value> {
    let asked = ["metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", &host()];
    let out = Command::new(env!("CARGO")).args(asked).current_dir(root()).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let all: Value = serde_json::from_slice(&out.stdout).unwrap();
    all["packages"].as_array().unwrap().clone()
}

/// This machine's platform, as the compiler names it.
fn host() -> String {
    let out = Command::new(std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into())).arg("-vV").output().unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    text.lines().find_map(|line| line.strip_prefix("host: ")).expect("rustc names its host").to_owned()
}

/// Whether a licence in the usual notation lets us choose one of the list for each of its parts.
fn is_free(licence: &str) -> bool {
    let plain = licence.replace('/', " OR ").replace(['(', ')'], " ");
    plain.split(" AND ").all(|part| part.split(" OR ").any(|one| LICENCES.contains(&one.trim())))
}

#[test]
fn s19_every_package_comes_from_one_place_under_a_free_licence() {
    let packages = packages();
    assert!(packages.len() > 100, "{}", packages.len());
    let wrong = packages.iter().filter(|package| {
        let from = package["source"].as_str();
        from.is_some_and(|from| from != FROM) || !is_free(package["license"].as_str().unwrap_or_default())
    });
    let wrong: Vec<String> = wrong.map(|p| format!("{} {} {}", p["name"], p["source"], p["license"])).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    let lock = fs::read_to_string(root().join("Cargo.lock")).unwrap();
    let sources = lock.lines().filter_map(|line| line.strip_prefix("source = ")).collect::<BTreeSet<_>>();
    assert_eq!(sources, BTreeSet::from([format!("{FROM:?}").as_str()]));
    assert_eq!(lock.matches("\nchecksum = ").count(), lock.matches("\nsource = ").count(), "each is pinned");
}

#[test]
fn s19_every_package_that_is_asked_for_has_its_reason() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let asked = manifest.split("[workspace.dependencies]\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let ours = |line: &&str| !line.contains("path = ");
    let names: Vec<&str> = asked.lines().filter(ours).filter_map(|line| line.split(" = ").next()).collect();
    assert!(names.len() > 20, "{names:?}");
    let reasons = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let table = reasons.split("\n## Dependencies").nth(1).unwrap().split("\n## ").next().unwrap();
    let missing: Vec<_> = names.iter().filter(|name| !table.contains(&format!("`{name}`"))).collect();
    assert!(missing.is_empty(), "no reason given in DEVELOPERS.md: {missing:?}");
}
