//! One deed in a person's own words: the herd register, baths, notes and the ledger's own acts.

use ledger_format::vocabulary::{BathProduct, Departure};

use super::Hand;
use crate::chance::Chance;
use crate::deed::Deed;

impl Hand {
    pub(super) fn register(&self, deed: &Deed, chance: &mut Chance) -> String {
        match deed {
            Deed::Bath { product, percent, passes } => {
                let passes = passes.map(|passes| format!(" passes {passes}")).unwrap_or_default();
                format!("{} {} {percent}%{passes}", chance.pick(self.bath), bath_word(*product, chance))
            }
            Deed::Calved(lactation) => format!("{} lactation {lactation}", chance.pick(&["calved", "calved", "ca"])),
            Deed::CalvingDue(due) => format!("{} due {due}", chance.pick(&["calved", "calving", "calves"])),
            Deed::Dried => chance.pick(&["dried", "dried off", "dry", "dr"]).to_owned(),
            Deed::DryingDue(due) => format!("{} due {due}", chance.pick(&["dried", "dry", "dried"])),
            Deed::Joined { lactation, calved } => {
                let word = chance.pick(if lactation.is_some() {
                    &["joined", "jo", "joined", "bought"]
                } else {
                    &["joined", "arrived"]
                });
                let lactation = lactation.map(|lactation| format!(" lactation {lactation}")).unwrap_or_default();
                let calved = calved.map(|calved| format!(" calved {calved}")).unwrap_or_default();
                format!("{word}{lactation}{calved}")
            }
            Deed::Left { reason, feet } => left(*reason, *feet, chance),
            Deed::Renumbered(number) => format!("{} to {number}", chance.pick(&["renumbered", "ren"])),
            Deed::Tagged { ear, electronic } => {
                let chip = electronic.as_ref().map(|chip| format!(" electronic {chip}")).unwrap_or_default();
                format!("{} ear {ear}{chip}", chance.pick(&["tagged", "tag"]))
            }
            Deed::Moved(group) => format!("{} to {group}", chance.pick(&["moved", "mv"])),
            Deed::Strike(mark) => format!("{} {mark}", chance.pick(self.strike)),
            Deed::Charter(text) => text.clone(),
            _ => chance.pick(self.note).to_owned(),
        }
    }
}

fn left(reason: Departure, feet: bool, chance: &mut Chance) -> String {
    let reason = match reason {
        Departure::Culled => chance.pick(&["culled", "cull"]),
        Departure::Died => chance.pick(&["died", "dead"]),
        Departure::Moved => chance.pick(&["moved", "transferred"]),
        Departure::Sold => "sold",
    };
    let feet = if feet { chance.pick(&[" feet", " lame"]) } else { "" };
    format!("{} {reason}{feet}", chance.pick(&["left", "left", "gone"]))
}

fn bath_word(product: BathProduct, chance: &mut Chance) -> &'static str {
    match product {
        BathProduct::Copper => chance.pick(&["copper", "copper sulphate"]),
        BathProduct::Zinc => chance.pick(&["zinc", "zinc sulphate"]),
        BathProduct::Formalin => chance.pick(&["formalin", "formaldehyde"]),
        BathProduct::Iodophor => "iodine",
        BathProduct::Hypochlorite => "chlorine",
        other => other.word(),
    }
}
