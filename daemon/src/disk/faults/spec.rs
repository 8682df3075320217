//! What `FOOTFOLD_FAULT` says.

use super::Op;

/// What happens to a call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    Kill,
    /// Runs the command of `FOOTFOLD_THEN`, at a step.
    Then,
    Cut(Cut),
    Short,
    Fail(rustix::io::Errno),
}

/// What a power cut takes of that which was not synced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cut {
    All,
    Names,
    Data,
    Zeros,
}

/// Where it happens.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Place {
    Step(String),
    /// Of which kind, the how manieth, and whether for ever.
    Call(Option<String>, u32, bool),
}

/// One fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) fate: Fate,
    place: Place,
}

impl Fault {
    /// All faults of a text; a text that makes no sense is a mistake in a test and must not pass as "no fault".
    pub(super) fn all(text: &str) -> Vec<Self> {
        let read = |one| Self::read(one).unwrap_or_else(|| panic!("FOOTFOLD_FAULT: no fault: `{one}`"));
        text.split(',').filter(|one| !one.is_empty()).map(read).collect()
    }

    fn read(text: &str) -> Option<Self> {
        use rustix::io::Errno;
        let (fate, place) = text.split_once('@')?;
        let fate = match fate {
            "kill" => Fate::Kill,
            "then" => Fate::Then,
            "cut" => Fate::Cut(Cut::All),
            "cut-names" => Fate::Cut(Cut::Names),
            "cut-data" => Fate::Cut(Cut::Data),
            "cut-zeros" => Fate::Cut(Cut::Zeros),
            "short" => Fate::Short,
            "EINTR" => Fate::Fail(Errno::INTR),
            "EIO" => Fate::Fail(Errno::IO),
            "EBUSY" => Fate::Fail(Errno::BUSY),
            "EACCES" => Fate::Fail(Errno::ACCESS),
            "ENOSPC" => Fate::Fail(Errno::NOSPC),
            _ => return None,
        };
        let Some((kind, number)) = place.split_once(':') else {
            return Some(Self { fate, place: Place::Step(place.to_owned()) });
        };
        let (number, for_ever) = number.strip_suffix('+').map_or((number, false), |number| (number, true));
        let kind = (kind != "call").then(|| kind.to_owned());
        Some(Self { fate, place: Place::Call(kind, number.parse().ok()?, for_ever) })
    }

    pub(super) fn at_step(&self, name: &str) -> bool {
        matches!(&self.place, Place::Step(step) if step == name)
    }

    /// Whether it strikes a call that is the `number`-th of all and the `of_kind`-th of its kind.
    pub(super) fn at_call(&self, op: Op, number: u32, of_kind: u32) -> bool {
        let strikes = match &self.place {
            Place::Step(_) => false,
            Place::Call(kind, wanted, for_ever) => {
                let name = format!("{op:?}").to_lowercase();
                let counted = kind.as_ref().map_or(Some(number), |kind| (*kind == name).then_some(of_kind));
                counted.is_some_and(|n| n == *wanted || (*for_ever && n > *wanted))
            }
        };
        strikes && self.makes_sense(op)
    }

    /// A full disk still reads, and rights are asked for at the door.
    fn makes_sense(&self, op: Op) -> bool {
        use rustix::io::Errno;
        let takes_room = matches!(
            op,
            Op::Create | Op::MakeFolder | Op::Write | Op::Sync | Op::SyncFolder | Op::Exchange | Op::Rename
        );
        match self.fate {
            Fate::Fail(Errno::NOSPC) => takes_room,
            Fate::Fail(Errno::ACCESS) => !matches!(op, Op::Read | Op::Write | Op::Sync | Op::SyncFolder),
            Fate::Fail(Errno::BUSY) => {
                matches!(op, Op::Open | Op::Create | Op::Exchange | Op::Rename | Op::Remove)
            }
            Fate::Fail(Errno::INTR) | Fate::Short => matches!(op, Op::Read | Op::Write),
            _ => true,
        }
    }
}
