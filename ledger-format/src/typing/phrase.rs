//! The vocabulary as typed: every phrase, and what it may say.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::vocabulary::{
    ActWord, BathProduct, BlockKind, Capacity, Claw, Departure, DoseUnit, Feet, Foot, Lesion, RecheckFinding, Route,
    Scale, Stage, TrimKind,
};

/// What a phrase says, where an act has use for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sense {
    Act(ActWord),
    Feet(Feet),
    Claw(Claw),
    Lesion(Lesion),
    NoLesion,
    Stage(Stage),
    Grade(u8),
    Scale(Scale),
    Trim(TrimKind),
    How(How),
    Block(BlockKind),
    Found(RecheckFinding),
    Departure(Departure),
    FeetReason,
    Route(Route),
    Unit(DoseUnit),
    Bath(BathProduct),
    Capacity(Capacity),
    Lead(Lead),
}

/// What happened to a block or a dressing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum How {
    On,
    Off,
    Lost,
}

macro_rules! leads {
    ($($lead:ident = $word:literal $(, $also:literal)*;)+) => {
        /// A word that announces a value.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Lead { $($lead,)+ }

        const LEADS: &[(Lead, &[&str])] = &[$((Lead::$lead, &[$word $(, $also)*]),)+];
    };
}

leads! {
    Zone = "zone", "z";
    Grade = "grade", "g";
    Due = "due";
    Found = "found";
    Walked = "walked";
    Zeros = "zeros", "zeroes", "0s";
    Ones = "ones", "1s";
    Scale = "scale";
    Wall = "wall";
    Sole = "sole";
    Angle = "angle";
    Lactation = "lactation", "lact";
    Passes = "passes";
    To = "to";
    Ear = "ear";
    Electronic = "electronic";
    Key = "key";
    As = "as";
    After = "after";
    Length = "length";
    Mark = "mark";
    Batch = "batch";
    Dose = "dose";
    Route = "route";
    For = "for";
    Milk = "milk";
    Meat = "meat";
    Replaces = "replaces";
}

impl Lead {
    /// The word itself.
    pub(super) fn word(self) -> &'static str {
        LEADS.iter().find(|(lead, _)| *lead == self).map_or("", |(_, words)| words[0])
    }
}

const SETS: &[(Feet, &[&str])] = &[
    (Feet::ALL, &["all", "all four", "all 4", "4 feet", "all feet"]),
    (Feet::FRONTS, &["fronts", "front feet", "both fronts", "both front", "both front feet"]),
    (
        Feet::HINDS,
        &["hinds", "hind feet", "both hinds", "both hind", "both hind feet", "backs", "both back", "back feet"],
    ),
];

const HOWS: &[(How, &[&str])] =
    &[(How::On, &["on"]), (How::Off, &["off", "removed"]), (How::Lost, &["lost", "came off", "fell off", "missing"])];

const GRADES: &[(u8, &[&str])] = &[(1, &["mild"]), (2, &["moderate"]), (3, &["severe"])];

const NO_LESION: &[&str] = &["none", "no lesion", "no lesions", "nothing", "nothing found", "clean", "clear"];

/// Words of the longest phrase (`foul in the foot`).
const LONGEST: usize = 4;

/// No phrase has more bytes.
const MOST_BYTES: usize = 40;

/// A word to compare a misspelt one with.
pub(super) struct Known {
    /// In small letters.
    pub(super) phrase: String,
    /// As it is shown.
    pub(super) shown: String,
    pub(super) sense: Sense,
}

struct Table {
    senses: HashMap<String, Vec<Sense>>,
    known: Vec<Known>,
}

static TABLE: LazyLock<Table> = LazyLock::new(Table::new);

/// What the phrase may say; words in small letters, hyphens as spaces.
pub(super) fn senses(phrase: &str) -> &'static [Sense] {
    TABLE.senses.get(phrase).map_or(&[], Vec::as_slice)
}

/// Every word of the vocabulary.
pub(super) fn known() -> impl Iterator<Item = &'static Known> {
    TABLE.known.iter()
}

/// The longest phrase at the start of these words that has a sense wanted here, and of how many words it is.
pub(super) fn longest(words: &[&str], mut want: impl FnMut(Sense) -> bool) -> Option<(Sense, usize)> {
    let mut key = String::new();
    let mut best = None;
    for (count, word) in words.iter().take(LONGEST).enumerate() {
        if key.len() + word.len() > MOST_BYTES {
            break;
        }
        if count > 0 {
            key.push(' ');
        }
        key.extend(word.chars().map(|c| if c == '-' { ' ' } else { c }));
        if let Some(sense) = senses(&key).iter().find(|sense| want(**sense)) {
            best = Some((*sense, count + 1));
        }
    }
    best
}

impl Table {
    fn new() -> Self {
        let mut table = Self { senses: HashMap::new(), known: Vec::new() };
        macro_rules! lists {
            ($($list:ident => $sense:expr;)+) => {
                $(for word in $list::ALL {
                    table.add(word.word(), $sense(*word));
                    word.also().iter().for_each(|also| table.add(also, $sense(*word)));
                })+
            };
        }
        lists! {
            ActWord => Sense::Act;
            Foot => |foot| Sense::Feet(Feet::one(foot));
            Claw => Sense::Claw;
            Lesion => Sense::Lesion;
            Stage => Sense::Stage;
            Scale => Sense::Scale;
            TrimKind => Sense::Trim;
            BlockKind => Sense::Block;
            RecheckFinding => Sense::Found;
            Departure => Sense::Departure;
            Route => Sense::Route;
            DoseUnit => Sense::Unit;
            BathProduct => Sense::Bath;
            Capacity => Sense::Capacity;
        }
        table.add_groups(SETS, Sense::Feet);
        table.add_groups(HOWS, Sense::How);
        table.add_groups(GRADES, Sense::Grade);
        table.add_groups(LEADS, Sense::Lead);
        table.add_groups(&[((), NO_LESION)], |()| Sense::NoLesion);
        table.add_groups(&[((), &["feet", "lame", "foot"])], |()| Sense::FeetReason);
        table
    }

    fn add_groups<T: Copy>(&mut self, groups: &[(T, &[&str])], sense: impl Fn(T) -> Sense) {
        for (value, phrases) in groups {
            phrases.iter().for_each(|phrase| self.add(phrase, sense(*value)));
        }
    }

    fn add(&mut self, shown: &str, sense: Sense) {
        let phrase = shown.to_ascii_lowercase();
        let senses = self.senses.entry(phrase.clone()).or_default();
        if senses.contains(&sense) {
            return;
        }
        senses.push(sense);
        self.known.push(Known { phrase, shown: shown.to_owned(), sense });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_phrase_wins() {
        let all = |words: &[&str]| longest(words, |_| true);
        assert_eq!(all(&["white", "line", "abscess", "rh"]), Some((Sense::Lesion(Lesion::WLA), 3)));
        assert_eq!(all(&["white-line", "rh"]), Some((Sense::Lesion(Lesion::WL), 1)));
        assert_eq!(all(&["left", "hind"]), Some((Sense::Feet(Feet::one(Foot::LH)), 2)));
        assert_eq!(all(&["left", "sold"]), Some((Sense::Act(ActWord::Left), 1)));
    }

    #[test]
    fn no_phrase_is_longer_than_what_is_looked_at() {
        for known in known() {
            assert!(known.phrase.split(' ').count() <= LONGEST && known.phrase.len() <= MOST_BYTES, "{}", known.phrase);
        }
    }

    #[test]
    fn within_one_list_no_phrase_says_two_things() {
        for known in known() {
            let same = senses(&known.phrase)
                .iter()
                .filter(|s| std::mem::discriminant(*s) == std::mem::discriminant(&known.sense));
            assert!(same.count() <= 1, "{}", known.phrase);
        }
    }
}
