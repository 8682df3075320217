//! Every vector of `spec/vectors/` that this crate can check: text, line, typing.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use ledger_format::line::{read as read_line, read_date};
use ledger_format::text::{Encoding, clean, decode, split};
use ledger_format::typing::{Context, Outcome, Typed, read};

/// One case: header, and what stands under each `name:` line.
struct Case {
    name: String,
    header: BTreeMap<String, String>,
    /// What follows the empty line, as it stands.
    rest: String,
}

impl Case {
    fn load(path: &Path) -> Self {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let content = std::fs::read_to_string(path).unwrap_or_else(|why| panic!("{name}: {why}"));
        let (header, rest) = content.split_once("\n\n").unwrap_or_else(|| panic!("{name}: no empty line"));
        let header = header.lines().map(|row| row.split_once(": ").unwrap_or_else(|| panic!("{name}: {row}")));
        let header = header.map(|(key, value)| (key.to_owned(), value.to_owned())).collect();
        Self { header, rest: rest.to_owned(), name }
    }

    fn header(&self, key: &str) -> &str {
        self.header.get(key).unwrap_or_else(|| panic!("{}: no `{key}:`", self.name))
    }

    /// The rows under `name:`, without their two spaces.
    fn section(&self, name: &str) -> Option<Vec<&str>> {
        let mut rows = self.rest.split_terminator('\n').skip_while(|row| row.strip_suffix(':') != Some(name));
        rows.next()?;
        let ends = |row: &&str| !(row.ends_with(':') && row[..row.len() - 1].bytes().all(|b| b.is_ascii_lowercase()));
        Some(rows.take_while(ends).map(|row| row.strip_prefix("  ").unwrap_or(row)).collect())
    }

    fn needed(&self, name: &str) -> Vec<&str> {
        self.section(name).unwrap_or_else(|| panic!("{}: no `{name}:`", self.name))
    }

    fn typed(&self) -> String {
        let json = self.rest.lines().find_map(|row| row.strip_prefix("typed-json: "));
        match json {
            Some(json) => from_json(json),
            None => self.needed("typed").join("\n"),
        }
    }
}

fn from_json(text: &str) -> String {
    serde_json::from_str(text).unwrap_or_else(|why| panic!("{text}: {why}"))
}

/// Every case of a folder; a folder that is there must hold some.
fn cases(folder: &str) -> Vec<Case> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../spec/vectors").join(folder);
    let files = std::fs::read_dir(&root).unwrap_or_else(|why| panic!("{}: {why}", root.display()));
    let mut paths: Vec<PathBuf> = files.map(|file| file.unwrap().path()).collect();
    paths.sort();
    assert!(!paths.is_empty(), "{folder}: no vectors");
    paths.iter().map(|path| Case::load(path)).collect()
}

/// All failures of a folder at once, each with its file.
fn check(folder: &str, least: usize, case: impl Fn(&Case) -> Result<(), String>) {
    let cases = cases(folder);
    assert!(cases.len() >= least, "{folder}: only {} vectors", cases.len());
    let failed: Vec<String> =
        cases.iter().filter_map(|c| case(c).err().map(|why| format!("{folder}/{}: {why}", c.name))).collect();
    assert!(failed.is_empty(), "{} failed\n{}", failed.len(), failed.join("\n"));
}

fn same<T: PartialEq + std::fmt::Debug>(what: &str, expected: &T, got: &T) -> Result<(), String> {
    if expected == got { Ok(()) } else { Err(format!("{what}\n  expected {expected:#?}\n  got {got:#?}")) }
}

fn check_typing(case: &Case) -> Result<(), String> {
    let today = read_date(case.header("today").as_bytes()).ok_or("no date in `today:`")?;
    case.header("comment");
    let context = Context { today, by: case.header("by"), device: case.header("device") };
    let typed = read(&case.typed(), &context);
    let (mut lines, mut doubts, mut remarks) = (Vec::new(), Vec::new(), Vec::new());
    for Typed { number, outcome, .. } in &typed {
        match outcome {
            Outcome::Kept(kept) => {
                for kept in kept {
                    lines.push(kept.body.clone());
                    doubts.extend(kept.doubts.iter().map(|doubt| format!("{number}: {doubt}")));
                }
            }
            Outcome::Refused(found) => remarks.extend(found.iter().map(|remark| format!("{number}: {remark}"))),
            _ => {}
        }
    }
    let owned = |rows: Vec<&str>| rows.into_iter().map(str::to_owned).collect::<Vec<_>>();
    same("remarks", &owned(case.section("remarks").unwrap_or_default()), &remarks)?;
    same("lines", &owned(case.needed("lines")), &lines)?;
    same("doubts", &owned(case.section("doubts").unwrap_or_default()), &doubts)
}

#[test]
fn typing_understands() {
    check("typing/right", 45, |case| {
        if case.needed("lines").is_empty() {
            return Err("expects no lines".to_owned());
        }
        check_typing(case)
    });
}

#[test]
fn typing_refuses() {
    check("typing/wrong", 45, |case| {
        if case.needed("remarks").is_empty() {
            return Err("expects no remarks".to_owned());
        }
        check_typing(case)
    });
}

#[test]
fn lines_have_one_spelling() {
    check("line", 1, |case| {
        let body = case.rest.strip_suffix('\n').ok_or("no line feed at its end")?;
        let got = read_line(body).map(|line| line.to_string());
        match (case.header("expect"), got) {
            ("ok", got) => same("the line written back", &Ok(body.to_owned()), &got),
            ("refused", Err(_)) => Ok(()),
            ("refused", Ok(_)) => Err(format!("accepted against {}", case.header("rule"))),
            (other, _) => Err(format!("expects {other:?}")),
        }
    });
}

#[test]
fn bytes_become_lines() {
    check("text", 1, |case| {
        let bytes = from_hex(&case.needed("bytes").concat()).ok_or("bytes are not hexadecimal")?;
        let decoded = decode(&bytes);
        let encoding = match decoded.encoding {
            Encoding::Utf8 => "utf-8",
            Encoding::Utf16Le => "utf-16le",
            Encoding::Utf16Be => "utf-16be",
            Encoding::Windows1252 => "windows-1252",
        };
        same("encoding", &case.header("encoding"), &encoding)?;
        let cleaned: Vec<_> = split(&decoded.text).map(clean).collect();
        let lines: Vec<String> = cleaned.iter().map(|line| line.text.clone()).collect();
        same("lines", &case.needed("lines").into_iter().map(from_json).collect(), &lines)?;
        let reports = [
            (decoded.guessed, "guessed"),
            (cleaned.iter().any(|line| line.invisible), "invisible"),
            (cleaned.iter().any(|line| line.control), "control"),
            (cleaned.iter().any(|line| line.too_long), "too-long"),
        ];
        let mut reported: Vec<&str> = reports.iter().filter(|(is, _)| *is).map(|(_, word)| *word).collect();
        let mut expected = case.needed("reports");
        reported.sort_unstable();
        expected.sort_unstable();
        same("reports", &expected, &reported)
    });
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let (pairs, rest) = text.as_bytes().as_chunks::<2>();
    let pair = |pair: &[u8; 2]| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok();
    if rest.is_empty() { pairs.iter().map(pair).collect() } else { None }
}
