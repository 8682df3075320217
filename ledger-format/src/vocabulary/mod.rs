//! The closed word lists (`spec/vocabulary.md`): one table per file.
//!
//! Each list is an enum made by one macro: the first text is the canonical word, the ones after it
//! are the short form and the trade words that are understood when typed.

macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $($(#[$vmeta:meta])* $variant:ident = $word:literal $(, $also:literal)* ;)+ }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vmeta])* $variant,)+ }

        impl $name {
            /// Every word of this list, in the order of the specification.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The one canonical spelling.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            /// What a person may type instead, short form first, all in lower case.
            pub const fn also(self) -> &'static [&'static str] {
                match self { $(Self::$variant => &[$($also,)*],)+ }
            }

            /// Reads the canonical spelling.
            pub fn from_word(word: &str) -> Option<Self> {
                let first = crate::swar::Word::first(word);
                if first.end == word.len() { Self::read(first) } else { None }
            }

            /// The same of a word in a line.
            #[inline]
            pub(crate) fn read(word: crate::swar::Word<'_>) -> Option<Self> {
                Self::begun(word.key()).filter(|found| found.word().len() < 8 || found.word() == word.text())
            }

            /// The same by the key of a word of up to seven bytes.
            #[inline]
            pub(crate) fn begun(key: u64) -> Option<Self> {
                static PLACES: crate::swar::Places = crate::swar::Places::of(&[$($word),+]);
                Some(Self::ALL[PLACES.find(key)?])
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                to.serialize_str(self.word())
            }
        }
    };
}

mod act;
mod foot;
mod lesion;
mod remedy;
mod score;

pub use act::{ActWord, Capacity, Departure, RecheckFinding};
pub use foot::{Claw, Feet, Foot};
pub use lesion::{Group, Lesion, Level, Stage};
pub use remedy::{BathProduct, BlockKind, DoseUnit, Route, TrimKind};
pub use score::{Half, Scale};
