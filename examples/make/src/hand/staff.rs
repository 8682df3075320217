//! Staff type in the office, in whole words, between the parlour and supper.

use ledger_format::vocabulary::Lesion;

use super::{Hand, Words};

pub(super) static HAND: Hand = Hand {
    feet: [
        &["LF", "left front", "front left"],
        &["RF", "right front", "front right"],
        &["LH", "lh", "left hind", "back left", "left back"],
        &["RH", "rh", "right hind", "back right", "right back"],
    ],
    claws: [&["inner", "inside"], &["outer", "outside"]],
    lesion,
    trim: &["trim", "trimmed"],
    kinds: [&["routine"], &["lame"], &["check"]],
    all_feet: &["all four", "all"],
    hinds: &["hind feet", "both hinds"],
    no_lesion: &["nothing found", "no lesion"],
    block: &["block"],
    block_off: &["off", "removed"],
    block_lost: &["lost", "came off", "missing", "fell off"],
    dressing: &["bandage"],
    recheck: &["check again", "recheck"],
    found: [&["ok", "fine"], &["better", "improved"], &["same", "no change"], &["worse"]],
    score: &["", "", "score", "mobility"],
    tally: &["tally", "round", "tally"],
    refer: &["vet", "referred"],
    seen: &["seen by vet"],
    medicine: &["med", "treated", "medicine"],
    bath: &["footbath", "bath"],
    note: &["note"],
    strike: &["strike"],
    brief: 250,
    together: 480,
    crlf: 130,
};

fn lesion(lesion: Lesion) -> Words {
    match lesion {
        Lesion::IP => &["foul", "foul in the foot", "foot rot"],
        Lesion::DD => &["digital", "mortellaro", "DD", "hairy wart"],
        Lesion::WLA => &["abscess", "white line abscess", "WLA"],
        Lesion::WLF => &["white line fissure", "WLF"],
        Lesion::WL => &["white line"],
        Lesion::SU => &["sole ulcer", "SU"],
        Lesion::BU => &["heel ulcer", "BU"],
        Lesion::TU => &["toe ulcer"],
        Lesion::U => &["ulcer"],
        Lesion::SW => &["swollen", "swelling"],
        Lesion::IH => &["growth", "corn"],
        Lesion::SH => &["bruising", "bruised"],
        other => super::say::code(other),
    }
}
