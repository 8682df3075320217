//! Lines that are offered in the tail as comments: whether they are to be kept, a person says (`keep.md` §6, §10, §12).

use ledger_format::keep::{self, Saved};

/// Lines, and what is said above them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Offer {
    said: String,
    lines: Vec<String>,
}

/// How the line above offers ends.
const TAKE: &str = "to keep it here take the `; ` away:";

impl Offer {
    /// What was typed in the ledger of another device.
    pub(super) fn typed_in(device: &str, texts: &[String]) -> Self {
        Self::of(&format!("typed in the ledger of {device}"), texts)
    }

    /// What would change lines back.
    pub(super) fn back(saved: &Saved) -> Self {
        Self::of("changed back, or not seen yet how it was changed", &saved.changed_back)
    }

    fn of(said: &str, texts: &[String]) -> Self {
        let said = keep::offer(&format!("{said}, {TAKE}"));
        Self { said, lines: texts.iter().map(|text| keep::offer(text)).collect() }
    }

    /// Puts the lines in a tail, under one heading for all of a kind.
    pub(super) fn add_to(&self, tail: &mut Vec<String>) {
        if self.lines.is_empty() {
            return;
        }
        let Some(at) = tail.iter().position(|line| *line == self.said) else {
            tail.push(self.said.clone());
            return tail.extend(self.lines.iter().cloned());
        };
        let is_offer = |line: &&String| line.starts_with("; ") && !line.ends_with(TAKE);
        let end = at + 1 + tail[at + 1..].iter().take_while(is_offer).count();
        tail.splice(end..end, self.lines.iter().cloned());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offers_of_one_kind_stand_under_one_heading() {
        let mut tail = vec!["417 wlx".to_owned()];
        let offer = |device, text: &str| Offer::typed_in(device, &[text.to_owned()]);
        offer("office", "417 2").add_to(&mut tail);
        offer("stick", "418 2").add_to(&mut tail);
        offer("office", "419 2").add_to(&mut tail);
        let said = |device| format!("; typed in the ledger of {device}, to keep it here take the `; ` away:");
        assert_eq!(tail, ["417 wlx", &said("office"), "; 417 2", "; 419 2", &said("stick"), "; 418 2"]);
    }
}
