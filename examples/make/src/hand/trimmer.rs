//! The trimmer types with wet gloves: small letters, short forms, and nothing twice.

use ledger_format::vocabulary::Lesion;

use super::{Hand, Words};

pub(super) static HAND: Hand = Hand {
    feet: [&["lf", "lf", "fl"], &["rf", "rf", "fr"], &["lh", "lh", "LH", "bl"], &["rh", "rh", "RH", "br"]],
    claws: [&["inner", "in", "inner", "inside"], &["outer", "out", "outer", "outside"]],
    lesion,
    trim: &["t", "t", "trim"],
    kinds: [&["r", "routine"], &["l", "lame", "lame"], &["c", "check"]],
    all_feet: &["all", "all", "4 feet"],
    hinds: &["hinds", "both hinds"],
    no_lesion: &["no lesion", "nothing", "clean", "clear"],
    block: &["b", "block"],
    block_off: &["off"],
    block_lost: &["lost", "missing"],
    dressing: &["d", "wrap", "bandage"],
    recheck: &["rc", "rc", "recheck"],
    found: [&["ok", "sound", "healed"], &["better"], &["same"], &["worse"]],
    score: &["s", "", ""],
    tally: &["tally"],
    refer: &["ref", "vet"],
    seen: &["seen"],
    medicine: &["med"],
    bath: &["bath"],
    note: &["n", "note"],
    strike: &["strike", "x"],
    brief: 700,
    together: 0,
    crlf: 60,
};

fn lesion(lesion: Lesion) -> Words {
    match lesion {
        Lesion::SU => &["su", "SU", "sole ulcer"],
        Lesion::WLA => &["wla", "WLA", "abscess"],
        Lesion::WLF => &["wlf", "WLF"],
        Lesion::DD => &["dd", "DD", "mortellaro"],
        Lesion::IP => &["ip", "foul"],
        Lesion::IH => &["ih", "corn", "tyloma"],
        Lesion::HHE => &["hhe", "slurry heel", "heel erosion"],
        Lesion::HFV => &["hfv", "sandcrack"],
        Lesion::HFH => &["hfh", "hardship groove"],
        Lesion::SHD | Lesion::SHC | Lesion::SW => super::say::code(lesion),
        Lesion::SH => &["bruise", "bruising"],
        Lesion::TU => &["tu", "toe ulcer"],
        Lesion::TN => &["tn", "necrotic toe"],
        Lesion::CC => &["cc", "corkscrew"],
        Lesion::TS => &["ts", "thin sole"],
        Lesion::ID => &["idd", "ID"],
        Lesion::WL => &["wl", "wld"],
        other => super::say::code(other),
    }
}
