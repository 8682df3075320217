//! Tests that cross crates: the house rules, the independent verifier, the story, the README.

mod tidy;

use std::path::PathBuf;

/// The top of the project.
pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}
