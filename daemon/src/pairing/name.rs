//! The name under which a newcomer is admitted: a name that was ever used is never another key's (`sync.md` §14).

use std::collections::{BTreeMap, BTreeSet};

const NAME_BYTES: usize = 32;

/// Every device name that a herd ever heard of, each with the keys it was said with.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Names(BTreeMap<String, BTreeSet<String>>);

impl Names {
    /// A head or an admission says that the device has this key.
    pub fn has_key(&mut self, device: &str, key: &str) {
        self.0.entry(device.to_owned()).or_default().insert(key.to_owned());
    }

    /// A folder or a line speaks of the device; with which key is not known.
    pub fn is_named(&mut self, device: &str) {
        self.0.entry(device.to_owned()).or_default();
    }

    fn fits(&self, device: &str, key: &str) -> bool {
        self.0.get(device).is_none_or(|keys| keys.len() == 1 && keys.contains(key))
    }
}

/// The name asked for, or the first of `-2`, `-3` … that is free for this key. None: there is none.
pub fn free_name(asked: &str, key: &str, names: &Names) -> Option<String> {
    let numbered = |n: usize| {
        let end = format!("-{n}");
        let room = NAME_BYTES - end.len();
        // Names are ASCII.
        let begin = asked.get(..asked.len().min(room)).unwrap_or(asked).trim_end_matches('-');
        format!("{begin}{end}")
    };
    std::iter::once(asked.to_owned()).chain((2..1000).map(numbered)).find(|name| names.fits(name, key))
}

#[cfg(test)]
mod tests {
    use ledger_format::line::is_name;

    use super::*;

    fn names() -> Names {
        let mut names = Names::default();
        names.has_key("vet-tablet", "old");
        names.has_key("vet-tablet-2", "older");
        names.is_named("farm-office");
        names
    }

    #[test]
    fn f25_a_lost_laptops_name_is_not_given_to_another_key() {
        assert_eq!(free_name("vet-tablet", "new", &names()).unwrap(), "vet-tablet-3");
        // Its own key comes back under its own name.
        assert_eq!(free_name("vet-tablet", "old", &names()).unwrap(), "vet-tablet");
        assert_eq!(free_name("crush-laptop", "new", &names()).unwrap(), "crush-laptop");
        // Spoken of, with a key that nobody here knows.
        assert_eq!(free_name("farm-office", "new", &names()).unwrap(), "farm-office-2");
    }

    #[test]
    fn f26_of_two_devices_of_one_name_the_later_is_renamed() {
        let mut names = Names::default();
        for (key, expected) in [("a", "tablet"), ("b", "tablet-2"), ("c", "tablet-3"), ("b", "tablet-2")] {
            let name = free_name("tablet", key, &names).unwrap();
            assert_eq!(name, expected);
            names.has_key(&name, key);
        }
    }

    #[test]
    fn a_long_name_is_cut_and_stays_a_name() {
        let (long, mut names) = ("a-long-name-for-a-tablet-of-a-vet", Names::default());
        let long = &long[..32];
        names.has_key(long, "old");
        let name = free_name(long, "new", &names).unwrap();
        assert!(is_name(&name) && name.len() <= 32 && name.ends_with("-2"), "{name}");
        // One that two keys claimed is nobody's.
        names.has_key(long, "new");
        assert_eq!(free_name(long, "new", &names).unwrap(), name);
    }
}
