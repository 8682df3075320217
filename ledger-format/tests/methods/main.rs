//! The methods of statistics against values from outside: `spec/vectors/measures/*.json`, and every further file of
//! that form named in `FOOTFOLD_VECTORS`, with `:` between.

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "tests read the vectors and say how many held; the crate itself opens nothing"
)]

mod hold;
mod many;
mod over_time;
mod shares;
mod tables;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

/// What a method gives for a vector's inputs, field by field; none where it must refuse.
pub(crate) type Outputs = Option<Value>;

/// What a vector puts in.
#[derive(Clone, Copy)]
pub(crate) struct Inputs<'a>(&'a Value);

impl<'a> Inputs<'a> {
    pub(crate) fn value(self, name: &str) -> &'a Value {
        &self.0[name]
    }

    pub(crate) fn is_null(self, name: &str) -> bool {
        self.0[name].is_null()
    }

    pub(crate) fn count(self, name: &str) -> u64 {
        whole(&self.0[name]).unwrap_or_else(|| panic!("{name} is no count in {}", self.0))
    }

    pub(crate) fn number(self, name: &str) -> f64 {
        self.0[name].as_f64().unwrap_or_else(|| panic!("{name} is no number in {}", self.0))
    }

    pub(crate) fn text(self, name: &str) -> &'a str {
        self.0[name].as_str().unwrap_or_default()
    }

    pub(crate) fn level(self) -> f64 {
        self.0["level"].as_f64().unwrap_or(0.95)
    }

    pub(crate) fn counts(self, name: &str) -> Vec<u64> {
        list(&self.0[name]).iter().map(|value| whole(value).expect("a count")).collect()
    }

    pub(crate) fn numbers(self, name: &str) -> Vec<f64> {
        list(&self.0[name]).iter().map(|value| value.as_f64().expect("a number")).collect()
    }

    pub(crate) fn table(self) -> Vec<Vec<u64>> {
        rows(&self.0["table"])
    }
}

/// A whole number, written 15 or 15.0.
fn whole(value: &Value) -> Option<u64> {
    value
        .as_u64()
        .or_else(|| value.as_f64().filter(|value| value.fract() == 0.0 && *value >= 0.0).map(|value| value as u64))
}

pub(crate) fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

pub(crate) fn rows(table: &Value) -> Vec<Vec<u64>> {
    list(table).iter().map(|row| list(row).iter().map(|cell| whole(cell).expect("a count")).collect()).collect()
}

fn outputs(method: &str, inputs: Inputs<'_>) -> Option<Outputs> {
    shares::outputs(method, inputs)
        .or_else(|| over_time::outputs(method, inputs))
        .or_else(|| tables::outputs(method, inputs))
        .or_else(|| many::outputs(method, inputs))
}

/// What is wrong with a vector; nothing if it holds.
fn check(vector: &Value) -> Option<String> {
    let method = vector["method"].as_str().unwrap_or_default();
    let Some(outputs) = outputs(method, Inputs(&vector["inputs"])) else { return Some(format!("no method {method}")) };
    let expected = &vector["expected"];
    let fields = expected.as_object().filter(|fields| !fields.is_empty());
    let Some(fields) = fields else { return Some("expects nothing".to_owned()) };
    match outputs {
        _ if fields.contains_key("error") => outputs.map(|found| format!("must be refused, and gives {found}")),
        None => Some("is refused".to_owned()),
        Some(found) => fields.iter().find_map(|(name, expected)| match found.get(name) {
            None => Some(format!("{name} is looked at by no check")),
            Some(found) => differs(found, expected, vector).map(|what| format!("{name}: {what}")),
        }),
    }
}

fn differs(found: &Value, expected: &Value, vector: &Value) -> Option<String> {
    let told = || Some(format!("{found} where {expected} is expected"));
    match (found, expected) {
        (Value::Array(found), Value::Array(expected)) if found.len() == expected.len() => {
            found.iter().zip(expected).find_map(|(found, expected)| differs(found, expected, vector))
        }
        // One limit that all points have.
        (Value::Array(found), Value::Number(_)) => found.iter().find_map(|found| differs(found, expected, vector)),
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64()?, b.as_f64()?);
            let tolerance = vector["tolerance"].as_f64().unwrap_or_default();
            let scale = if vector["tolerance_kind"] == "relative" { b.abs() } else { 1.0 };
            // What two ways of adding up differ by is not asked about.
            let reach = (tolerance * scale).max(4.0 * f64::EPSILON * b.abs());
            if (a - b).abs() <= reach { None } else { told() }
        }
        (found, expected) if found == expected => None,
        _ => told(),
    }
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../spec/vectors/measures");
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files.extend(std::env::var_os("FOOTFOLD_VECTORS").iter().flat_map(std::env::split_paths));
    files
}

#[test]
fn every_vector_holds() {
    let (mut held, mut wrong) = (BTreeMap::<String, u64>::new(), Vec::new());
    for file in files() {
        let text = fs::read_to_string(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let vectors: Vec<Value> =
            serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        for vector in &vectors {
            assert!(vector["source"].is_string(), "{} names no source", vector["id"]);
            match check(vector) {
                None => *held.entry(vector["method"].as_str().unwrap_or_default().to_owned()).or_default() += 1,
                Some(what) => wrong.push(format!("{} ({}): {what}", vector["id"], vector["source"])),
            }
        }
    }
    for (method, n) in &held {
        println!("{n:>7}  {method}");
    }
    let n: u64 = held.values().sum();
    assert!(
        wrong.is_empty(),
        "{} of {} do not hold: {:#?}",
        wrong.len(),
        n as usize + wrong.len(),
        &wrong[..wrong.len().min(20)]
    );
    assert!(n >= 172, "only {n} vectors were found");
}

#[test]
fn a_wrong_value_an_unknown_method_and_an_unread_field_are_noticed() {
    let vector = |method: &str, expected: &str| -> Value {
        let text = format!(
            r#"{{"method": "{method}", "inputs": {{"x": 1, "n": 2}}, "expected": {expected}, "tolerance": 1e-9}}"#
        );
        serde_json::from_str(&text).unwrap()
    };
    assert_eq!(check(&vector("proportion.wilson", r#"{"estimate": 0.5}"#)), None);
    for (method, expected) in [
        ("proportion.wilson", r#"{"estimate": 0.500001}"#),
        ("proportion.wilson", r#"{"estimate": null}"#),
        ("proportion.wilson", r#"{"guess": 0.5}"#),
        ("proportion.wilson", r#"{"error": "refuse"}"#),
        ("proportion.wilson", "{}"),
        ("proportion.guess", r#"{"estimate": 0.5}"#),
    ] {
        assert!(check(&vector(method, expected)).is_some(), "{method} {expected}");
    }
}
