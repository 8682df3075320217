//! The vet types with care, nearly as the line will stand.

use super::Hand;

pub(super) static HAND: Hand = Hand {
    feet: [&["LF"], &["RF"], &["LH", "left hind"], &["RH", "right hind"]],
    claws: [&["inner", "medial"], &["outer", "lateral"]],
    lesion: super::say::code,
    trim: &["trim"],
    kinds: [&["routine"], &["lame"], &["check"]],
    all_feet: &["all"],
    hinds: &["hinds"],
    no_lesion: &["lesion none"],
    block: &["block"],
    block_off: &["off"],
    block_lost: &["lost"],
    dressing: &["dressing"],
    recheck: &["recheck"],
    found: [&["sound"], &["better"], &["same"], &["worse"]],
    score: &["score"],
    tally: &["tally"],
    refer: &["refer"],
    seen: &["seen", "seen", "se"],
    medicine: &["medicine", "med"],
    bath: &["bath"],
    note: &["note"],
    strike: &["strike"],
    brief: 60,
    together: 0,
    crlf: 0,
};
