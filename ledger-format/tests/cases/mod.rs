//! Vectors of `spec/vectors/`: one file, one case.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// One case: header, and what stands under each `name:` line.
pub(crate) struct Case {
    pub(crate) name: String,
    pub(crate) header: BTreeMap<String, String>,
    /// What follows the empty line, as it stands.
    pub(crate) rest: String,
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

    pub(crate) fn header(&self, key: &str) -> &str {
        self.header.get(key).unwrap_or_else(|| panic!("{}: no `{key}:`", self.name))
    }

    /// The rows under `name:`, without their two spaces.
    pub(crate) fn section(&self, name: &str) -> Option<Vec<&str>> {
        let mut rows = self.rest.split_terminator('\n').skip_while(|row| row.strip_suffix(':') != Some(name));
        rows.next()?;
        let is_word = |b: u8| b.is_ascii_lowercase() || b == b' ';
        let ends =
            |row: &&str| !(row.ends_with(':') && !row.starts_with(' ') && row[..row.len() - 1].bytes().all(is_word));
        Some(rows.take_while(ends).map(|row| row.strip_prefix("  ").unwrap_or(row)).collect())
    }

    pub(crate) fn needed(&self, name: &str) -> Vec<&str> {
        self.section(name).unwrap_or_else(|| panic!("{}: no `{name}:`", self.name))
    }
}

/// Every case of a folder; a folder that is there must hold some.
fn cases(folder: &str) -> Vec<Case> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../spec/vectors").join(folder);
    let files = std::fs::read_dir(&root).unwrap_or_else(|why| panic!("{}: {why}", root.display()));
    let mut paths: Vec<PathBuf> = files.map(|file| file.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "txt"));
    paths.sort();
    assert!(!paths.is_empty(), "{folder}: no vectors");
    paths.iter().map(|path| Case::load(path)).collect()
}

/// All failures of a folder at once, each with its file.
pub(crate) fn check(folder: &str, least: usize, case: impl Fn(&Case) -> Result<(), String>) {
    let cases = cases(folder);
    assert!(cases.len() >= least, "{folder}: only {} vectors", cases.len());
    let failed: Vec<String> =
        cases.iter().filter_map(|c| case(c).err().map(|why| format!("{folder}/{}: {why}", c.name))).collect();
    assert!(failed.is_empty(), "{} failed\n{}", failed.len(), failed.join("\n"));
}

pub(crate) fn same<T: PartialEq + std::fmt::Debug>(what: &str, expected: &T, got: &T) -> Result<(), String> {
    if expected == got { Ok(()) } else { Err(format!("{what}\n  expected {expected:#?}\n  got {got:#?}")) }
}
