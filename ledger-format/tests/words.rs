//! Every word of `spec/vocabulary.md` is understood in each of its forms, in capitals or not.

use ledger_format::line::read_date;
use ledger_format::typing::{Context, Outcome, read};
use ledger_format::vocabulary::{
    ActWord, BathProduct, BlockKind, Claw, Departure, DoseUnit, Foot, Lesion, RecheckFinding, Route, Scale, Stage,
    TrimKind,
};

/// What one typed line gives, without date and person; its remarks if it is refused.
fn typed(text: &str) -> String {
    let today = read_date(b"2026-03-14").unwrap();
    let context = Context { today, by: "kj", device: "crush-laptop" };
    match &read(text, &context)[0].outcome {
        Outcome::Kept(kept) if kept.len() == 1 => kept[0].body.replace("2026-03-14 ", "").replace(" by kj", ""),
        other => format!("{text}: {other:?}"),
    }
}

/// Types every form of every word within a text, and expects what the canonical word says.
macro_rules! check_forms {
    ($list:ident, $text:expr, $says:expr) => {
        for word in $list::ALL {
            for form in std::iter::once(&word.word()).chain(word.also()) {
                let expected = $says(word.word());
                assert_eq!(typed(&$text(form)), expected);
                assert_eq!(typed(&$text(&form.to_uppercase().as_str())), expected);
                assert_eq!(typed(&$text(&form.replace(' ', "-").as_str())), expected);
            }
        }
    };
}

#[test]
fn lesions_feet_and_claws() {
    check_forms!(Lesion, |w: &&str| format!("417 {w} RH outer"), |w| format!("417 lesion {w} RH outer"));
    check_forms!(Lesion, |w: &&str| format!("417 lesion RH {w} outer"), |w| format!("417 lesion {w} RH outer"));
    check_forms!(Foot, |w: &&str| format!("417 SU {w} inner"), |w| format!("417 lesion SU {w} inner"));
    check_forms!(Foot, |w: &&str| format!("417 {w} DD"), |w| format!("417 lesion DD {w}"));
    check_forms!(Claw, |w: &&str| format!("417 SU RH {w}"), |w| format!("417 lesion SU RH {w}"));
    check_forms!(Stage, |w: &&str| format!("417 {w} RH"), |w| format!("417 lesion DD {w} RH"));
}

#[test]
fn what_is_done_to_feet() {
    check_forms!(TrimKind, |w: &&str| format!("417 trim {w} RH"), |w| format!("417 trim {w} RH"));
    check_forms!(BlockKind, |w: &&str| format!("417 block RH inner {w}"), |w| format!("417 block on RH inner {w}"));
    check_forms!(RecheckFinding, |w: &&str| format!("417 recheck {w} RH"), |w| format!("417 recheck found {w} RH"));
    check_forms!(Scale, |w: &&str| format!("417 score 1 {w}"), |w: &str| match w {
        "mobility" => "417 score 1".to_owned(),
        other => format!("417 score 1 scale {other}"),
    });
}

#[test]
fn remedies_and_departures() {
    let rest = "batch 7 milk 0 meat 0";
    check_forms!(Route, |w: &&str| format!("417 med Pedirel 2ml {w} {rest}"), |w| format!(
        "417 medicine \"Pedirel\" batch \"7\" dose 2 ml route {w} milk 0d meat 0d"
    ));
    check_forms!(DoseUnit, |w: &&str| format!("417 med Pedirel 2 {w} {rest}"), |w| format!(
        "417 medicine \"Pedirel\" batch \"7\" dose 2 {w} milk 0d meat 0d"
    ));
    check_forms!(BathProduct, |w: &&str| format!("herd bath {w} 5%"), |w| format!("herd bath {w} 5%"));
    check_forms!(Departure, |w: &&str| format!("417 left {w} feet"), |w| format!("417 left {w} feet"));
}

/// What follows an act's word so that the act is whole, and what it then says.
fn whole(act: ActWord) -> Option<(&'static str, &'static str)> {
    Some(match act {
        ActWord::Score => ("417 * 2", "417 score 2"),
        ActWord::Tally => ("herd * 90", "herd tally walked 90"),
        ActWord::Trim => ("417 * RH", "417 trim routine RH"),
        ActWord::Lesion => ("417 * DD RH", "417 lesion DD RH"),
        ActWord::Block => ("417 * on RH inner", "417 block on RH inner"),
        ActWord::Dressing => ("417 * on RH", "417 dressing on RH"),
        ActWord::Recheck => ("417 * ok", "417 recheck found sound"),
        ActWord::Refer => ("417 * RH: hot", "417 refer RH: hot"),
        ActWord::Seen => ("417 * RH", "417 seen RH"),
        ActWord::Medicine => (
            "417 * Pedirel 2ml batch 7 milk 0 meat 0",
            "417 medicine \"Pedirel\" batch \"7\" dose 2 ml milk 0d meat 0d",
        ),
        ActWord::Bath => ("herd * salt", "herd bath salt"),
        ActWord::Calved => ("417 * lactation 3", "417 calved lactation 3"),
        ActWord::Dried => ("417 *", "417 dried"),
        ActWord::Joined => ("417 * lactation 1", "417 joined lactation 1"),
        ActWord::Left => ("417 * sold", "417 left sold"),
        ActWord::Renumbered => ("417 * to 1417", "417 renumbered to 1417"),
        ActWord::Tagged => ("417 * UK123450600001", "417 tagged ear UK123450600001"),
        ActWord::Moved => ("417 * to dry", "417 moved to dry"),
        ActWord::Note => ("417 *: wet", "417 note: wet"),
        ActWord::Strike => ("417 * 3f9c2a7d51be4c08: no", "417 strike 3f9c2a7d51be4c08: no"),
        ActWord::Admit | ActWord::Revoke | ActWord::Adopt | ActWord::Witness => return None,
    })
}

#[test]
fn acts() {
    for act in ActWord::ALL {
        let Some((text, says)) = whole(*act) else { continue };
        for form in std::iter::once(&act.word()).chain(act.also()) {
            assert_eq!(typed(&text.replace('*', form)), says);
            assert_eq!(typed(&text.replace('*', &form.to_uppercase())), says);
        }
    }
}

#[test]
fn alarm_lesions_are_those_of_fuermann_2024() {
    use ledger_format::vocabulary::{Lesion, Stage};
    let always: Vec<&str> = Lesion::ALL.iter().filter(|it| it.is_alarm(None, None)).map(|it| it.word()).collect();
    assert_eq!(always, ["IP", "SW", "U", "SU", "BU", "TU", "TN", "WLA"]);
    let stages: Vec<&Stage> = Stage::ALL.iter().filter(|stage| Lesion::DD.is_alarm(Some(**stage), None)).collect();
    assert_eq!(stages, [&Stage::M2]);
    let grades = [1, 2, 3].map(|grade| Lesion::WLF.is_alarm(None, Some(grade)));
    assert_eq!(grades, [false, true, true]);
}

#[test]
fn active_stages_are_those_of_berry_2012() {
    use ledger_format::vocabulary::Stage;
    let active: Vec<&Stage> = Stage::ALL.iter().filter(|stage| stage.is_active()).collect();
    assert_eq!(active, [&Stage::M1, &Stage::M2, &Stage::M4_1]);
}
