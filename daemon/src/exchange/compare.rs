//! What one machine does about another's list.

use std::collections::{BTreeMap, BTreeSet};

use ledger_format::mark::FullMark;

use super::{List, Said};
use crate::disk::LedgerName;

/// What is held of one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// Accepted bytes.
    pub length: u64,
    /// The newest statement that agrees with them, if there is one.
    pub told: Option<Said>,
}

/// What a machine holds of a herd.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Holding {
    /// The files.
    pub files: BTreeMap<LedgerName, Held>,
    /// The protocols.
    pub protocols: BTreeSet<FullMark>,
    /// The device that writes here: nobody else can add to its files.
    pub own: Option<String>,
}

/// A thing to do, in the order in which it is to be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Move {
    /// Ask for the bytes from there up to the statement's length.
    Ask {
        /// What is held.
        from: u64,
        /// Up to where.
        said: Said,
    },
    /// As much is held already: see whether the statement agrees with it, and keep it.
    Look(Said),
    /// The other holds more of this machine's own file than it does itself.
    OwnIsLonger(Said),
    /// Offer what the other lacks behind what it told.
    Offer {
        /// The file.
        name: LedgerName,
        /// What the other told of it, if anything.
        theirs: Option<Said>,
    },
    /// Ask for a protocol.
    AskProtocol(FullMark),
    /// Offer a protocol.
    OfferProtocol(FullMark),
}

impl Holding {
    /// What others are told.
    pub fn list(&self) -> List {
        let told = self.files.iter().filter_map(|(name, held)| Some((name.clone(), held.told.clone()?)));
        List { files: told.collect(), protocols: self.protocols.clone() }
    }
}

/// What is to be done: first what is asked for, then what is offered.
pub fn compare(ours: &Holding, theirs: &List) -> Vec<Move> {
    let mut moves: Vec<Move> =
        theirs.protocols.difference(&ours.protocols).map(|hash| Move::AskProtocol(*hash)).collect();
    moves.extend(theirs.files.values().filter_map(|said| hear(ours, said)));
    moves.extend(ours.protocols.difference(&theirs.protocols).map(|hash| Move::OfferProtocol(*hash)));
    for (name, held) in &ours.files {
        let Some(told) = &held.told else { continue };
        let known = theirs.files.get(name);
        if known.is_none_or(|known| known.length < told.length) {
            moves.push(Move::Offer { name: name.clone(), theirs: known.cloned() });
        }
    }
    moves
}

fn hear(ours: &Holding, said: &Said) -> Option<Move> {
    let held = ours.files.get(&said.name);
    let length = held.map_or(0, |held| held.length);
    if held.and_then(|held| held.told.as_ref()).is_some_and(|told| told.agrees(said)) {
        return None;
    }
    Some(match length {
        _ if said.length <= length => Move::Look(said.clone()),
        _ if ours.own.as_ref() == Some(&said.name.device) => Move::OwnIsLonger(said.clone()),
        from => Move::Ask { from, said: said.clone() },
    })
}
