//! Open questions: what does not fit, kept until a later line settles it.

use crate::line::CowNumber;
use crate::members::Apart;
use crate::merge::EntryId;
use crate::vocabulary::Foot;

/// One open question.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The cow it is about, if it is about one.
    pub cow: Option<CowNumber>,
    /// The lines concerned, the newest last.
    pub lines: Vec<EntryId>,
    /// What does not fit.
    pub why: Why,
}

/// What does not fit.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is a rule of fold.md or merge.md, in the words of its Display")]
pub enum Why {
    ScoresDiffer,
    HadLeft,
    LeftTwice,
    JoinedTwice,
    NumberInUse(CowNumber),
    NothingToTakeOff { what: &'static str, foot: Foot },
    NotYet,
    TargetNotHere,
    Concurrent,
    TooDeep,
    Apart(Apart),
    ProtocolMissing(String),
    ProtocolUnreadable { name: String, problem: String },
}

impl std::fmt::Display for Why {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::ScoresDiffer => f.write_str("scores differ on one day; the worse counts"),
            Self::HadLeft => f.write_str("she had left; this line changes nothing"),
            Self::LeftTwice => f.write_str("she had left already"),
            Self::JoinedTwice => f.write_str("she had joined already"),
            Self::NumberInUse(number) => write!(f, "number {number} is in use; she keeps hers"),
            Self::NothingToTakeOff { what, foot } => write!(f, "no {what} was on {foot}; nothing changes"),
            Self::NotYet => f.write_str("observed later than it was sealed; waits for its day"),
            Self::TargetNotHere => f.write_str("corrects a line that is not here"),
            Self::Concurrent => f.write_str("one line was corrected more than once; the last counts"),
            Self::TooDeep => f.write_str("corrected too often in a row to follow"),
            Self::Apart(Apart::NotAdmitted) => f.write_str("nobody let its device in; the line does not count"),
            Self::Apart(Apart::MayOnlyRead) => f.write_str("its device may only read; the line does not count"),
            Self::Apart(Apart::Revoked) => f.write_str("sealed behind a revocation; the line does not count"),
            Self::ProtocolMissing(hash) => write!(f, "protocol {hash} is not here; the one before goes on"),
            Self::ProtocolUnreadable { name, problem } => {
                write!(f, "protocols/{name}.ron cannot be read, {problem}; the one before goes on")
            }
        }
    }
}

impl Why {
    /// Its words in the canonical state text.
    pub fn word(&self) -> &'static str {
        match self {
            Self::ScoresDiffer => "scores differ",
            Self::HadLeft => "had left",
            Self::LeftTwice => "left twice",
            Self::JoinedTwice => "joined twice",
            Self::NumberInUse(_) => "number in use",
            Self::NothingToTakeOff { .. } => "nothing to take off",
            Self::NotYet => "not yet",
            Self::TargetNotHere => "corrects what is not here",
            Self::Concurrent => "corrected more than once",
            Self::TooDeep => "corrected too deep",
            Self::Apart(Apart::NotAdmitted) => "not admitted",
            Self::Apart(Apart::MayOnlyRead) => "may only read",
            Self::Apart(Apart::Revoked) => "revoked",
            Self::ProtocolMissing(_) => "protocol missing",
            Self::ProtocolUnreadable { .. } => "protocol unreadable",
        }
    }

    /// What settles it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::ScoresDiffer => "replace or strike one of the two scores",
            Self::HadLeft => "write that she joined, or replace this line with the right number",
            Self::LeftTwice | Self::JoinedTwice => "strike the line that is wrong",
            Self::NumberInUse(_) => "replace the line with a free number",
            Self::NothingToTakeOff { .. } => "write when it was put on, or strike this line",
            Self::NotYet => "replace the line if its date is wrong",
            Self::TargetNotHere => "gather the ledger it names, or strike this line",
            Self::Concurrent => "strike the corrections that are wrong",
            Self::TooDeep => "strike them and write the line anew",
            Self::Apart(_) => "see `footfold members`: a keeper lets its device in, or writes the line anew",
            Self::ProtocolMissing(_) => "gather the folder that holds it",
            Self::ProtocolUnreadable { .. } => "mend a copy, name it by its BLAKE3, adopt the copy, strike this line",
        }
    }
}
