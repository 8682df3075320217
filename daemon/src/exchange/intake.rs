//! A tail on its way in. It may be cut anywhere, and is asked for again from where it stopped.

use std::ops::Range;

use super::{BODY_BYTES, Said};

/// Bytes of a tail that came so far. They count for nothing before they are judged.
#[derive(Clone, Debug)]
pub struct Intake {
    from: u64,
    said: Said,
    bytes: Vec<u8>,
}

/// Bytes that do not go on from those that came before, or reach too far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutOfPlace;

impl Intake {
    /// A tail from there up to the statement's length.
    pub fn new(from: u64, said: Said) -> Self {
        Self { from, said, bytes: Vec::new() }
    }

    /// Where it is to end.
    pub fn said(&self) -> &Said {
        &self.said
    }

    /// Where it begins.
    pub fn from(&self) -> u64 {
        self.from
    }

    /// The bytes to ask for next, no more than one body holds; none if all have come.
    pub fn wants(&self) -> Option<Range<u64>> {
        let at = self.from + self.bytes.len() as u64;
        (at < self.said.length).then(|| at..self.said.length.min(at + BODY_BYTES))
    }

    /// Takes in bytes that stand at a place of the file.
    pub fn put(&mut self, at: u64, piece: &[u8]) -> Result<(), OutOfPlace> {
        let next = self.from + self.bytes.len() as u64;
        if at != next || next + piece.len() as u64 > self.said.length {
            return Err(OutOfPlace);
        }
        self.bytes.extend_from_slice(piece);
        Ok(())
    }

    /// What came.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Whether it still leads to this statement from what is held now.
    pub fn fits(&self, from: u64, said: &Said) -> bool {
        self.from == from && self.said == *said
    }
}
