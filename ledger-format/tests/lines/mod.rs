//! Any line that the format allows: every act, with every part that may be left out.

use chrono::{NaiveDate, TimeDelta};
use ledger_format::line::{
    Act, Bath, CowNumber, Decimal, EarTag, Electronic, Finding, Hold, Line, Mark, Medicine, Observed, Reference, Score,
    Subject, Tally, Trim, is_name,
};
use ledger_format::text::clean;
use ledger_format::vocabulary::{
    BathProduct, BlockKind, Capacity, Claw, Departure, DoseUnit, Feet, Foot, Half, Lesion, RecheckFinding, Route,
    Scale, Stage, TrimKind,
};
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

/// A line borrows its names; those of a test live as long as the test.
fn keep(text: String) -> &'static str {
    Box::leak(text.into_boxed_str())
}

fn text(pattern: &'static str) -> impl Strategy<Value = &'static str> {
    pattern.prop_map(keep)
}

/// Any line of the format.
pub(crate) fn lines() -> impl Strategy<Value = Line<'static>> {
    let about_cow = (cow().prop_map(Subject::Cow), cow_act());
    let about_many = (many(), prop_oneof![tally(), bath()]);
    let about_herd = (Just(Subject::Herd), herd_act());
    let about_any = (prop_oneof![cow().prop_map(Subject::Cow), many()], any_act());
    let said = prop_oneof![12 => about_cow, 2 => about_many, 2 => about_herd, 2 => about_any];
    let frame = (observed(), of(reference()), text("[a-z][a-z0-9-]{0,15}"), of(words()), words());
    (said, frame).prop_map(|((subject, act), (observed, replaces, by, words, needed))| Line {
        observed,
        subject,
        act,
        replaces: replaces.filter(|_| !matches!(act, Act::Strike(_))),
        by,
        words: if act.needs_words() { Some(words.unwrap_or(needed)) } else { words },
    })
}

fn date() -> impl Strategy<Value = NaiveDate> {
    (0i64..109_572).prop_map(|days| NaiveDate::from_ymd_opt(1900, 1, 1).unwrap() + TimeDelta::days(days))
}

fn observed() -> impl Strategy<Value = Observed> {
    (date(), of(0u16..1_440)).prop_map(|(date, minute)| Observed { date, minute })
}

fn cow() -> impl Strategy<Value = CowNumber> {
    "[1-9][0-9]{0,5}[A-Z]?".prop_map(|word| CowNumber::read(&word).unwrap())
}

fn many() -> impl Strategy<Value = Subject<'static>> {
    prop_oneof![Just(Subject::Herd), text("[a-z][a-z0-9-]{0,31}").prop_map(Subject::Group)]
}

fn device() -> impl Strategy<Value = &'static str> {
    text("[a-z][a-z0-9-]{0,30}[a-z0-9]").prop_filter("a file name", |name| is_name(name) && *name != "crush-laptop")
}

fn reference() -> impl Strategy<Value = Reference<'static>> {
    (any::<u64>(), of(device())).prop_map(|(mark, device)| Reference { mark: Mark(mark), device })
}

/// Clean words of any script, with what has a meaning elsewhere in a line.
fn words() -> impl Strategy<Value = &'static str> {
    let bits = prop_oneof![
        4 => "[a-z]{1,8}",
        1 => "[!-~]{1,6}",
        1 => select(vec![": ", "; ", " | ", "\"", ", ", " by kj", "because", "é", "牛", "🐄", "417"]).prop_map(str::to_owned),
    ];
    prop::collection::vec(bits, 1..12).prop_map(|bits| clean(&bits.join(" ")).text).prop_map(keep)
}

fn quoted() -> impl Strategy<Value = &'static str> {
    let text = words().prop_map(|words| keep(clean(&words.replace('"', "").chars().take(40).collect::<String>()).text));
    text.prop_filter("1 to 80 bytes", |text| (1..=80).contains(&text.len()))
}

fn foot() -> impl Strategy<Value = Foot> {
    select(Foot::ALL)
}

fn feet() -> impl Strategy<Value = Feet> {
    prop::collection::vec(foot(), 1..5)
        .prop_map(|feet| feet.into_iter().fold(Feet::NONE, |all, foot| all.and(Feet::one(foot))))
}

fn claw() -> impl Strategy<Value = Claw> {
    select(Claw::ALL)
}

fn cow_act() -> impl Strategy<Value = Act<'static>> {
    prop_oneof![
        score(),
        trim(),
        lesion(),
        feet().prop_map(Act::NoLesion),
        (foot(), claw(), of(select(BlockKind::ALL))).prop_map(|(foot, claw, kind)| Act::BlockOn { foot, claw, kind }),
        (any::<bool>(), foot(), of(claw())).prop_map(|(lost, foot, claw)| Act::BlockGone { lost, foot, claw }),
        foot().prop_map(Act::DressingOn),
        foot().prop_map(Act::DressingOff),
        (date(), of(foot())).prop_map(|(due, foot)| Act::RecheckDue { due, foot }),
        (select(RecheckFinding::ALL), of(foot())).prop_map(|(found, foot)| Act::RecheckFound { found, foot }),
        of(foot()).prop_map(|foot| Act::Refer { foot }),
        (of(foot()), of(date())).prop_map(|(foot, due)| Act::Seen { foot, due }),
        medicine(),
        register_act(),
    ]
}

fn register_act() -> impl Strategy<Value = Act<'static>> {
    let lactation = || of(1u8..=20);
    prop_oneof![
        lactation().prop_map(|lactation| Act::Calved { lactation }),
        date().prop_map(Act::CalvingDue),
        Just(Act::Dried),
        date().prop_map(Act::DryingDue),
        (lactation(), of(date())).prop_map(|(lactation, calved)| Act::Joined { lactation, calved }),
        (select(Departure::ALL), any::<bool>()).prop_map(|(reason, feet)| Act::Left { reason, feet }),
        cow().prop_map(Act::Renumbered),
        tagged(),
        text("[a-z][a-z0-9-]{0,31}").prop_map(Act::Moved),
    ]
}

fn herd_act() -> impl Strategy<Value = Act<'static>> {
    let full = || text("[0-9a-f]{64}");
    prop_oneof![
        (device(), full(), select(Capacity::ALL)).prop_map(|(device, key, capacity)| Act::Admit {
            device,
            key,
            capacity
        }),
        (device(), full()).prop_map(|(device, after)| Act::Revoke { device, after }),
        full().prop_map(Act::Adopt),
        (device(), 0u16..10_000, 1u32.., full()).prop_map(|(device, year, length, mark)| Act::Witness {
            device,
            year,
            length,
            mark
        }),
    ]
}

fn any_act() -> impl Strategy<Value = Act<'static>> {
    prop_oneof![Just(Act::Note), reference().prop_map(Act::Strike)]
}

fn score() -> impl Strategy<Value = Act<'static>> {
    let value = select(Scale::ALL).prop_flat_map(|scale| (Just(scale), scale.range(), of(select(Half::ALL))));
    (value, of(foot())).prop_map(|((scale, value, half), foot)| {
        let half = half.filter(|_| scale == Scale::Mobility && value >= 2);
        Act::Score(Score { value, half, scale, foot })
    })
}

fn tally() -> impl Strategy<Value = Act<'static>> {
    let counts = (1u32..=99_999).prop_flat_map(|walked| (Just(walked), of(0..=walked / 2), of(0..=walked / 2)));
    (counts, select(Scale::ALL)).prop_map(|((walked, zeros, ones), scale)| {
        let counted = matches!(scale, Scale::Mobility | Scale::Nz);
        Act::Tally(Tally { walked, zeros: zeros.filter(|_| counted), ones: ones.filter(|_| counted), scale })
    })
}

fn hundredths(range: std::ops::RangeInclusive<u32>) -> impl Strategy<Value = Decimal> {
    range.prop_map(|hundredths| Decimal::from_hundredths(hundredths).unwrap())
}

fn trim() -> impl Strategy<Value = Act<'static>> {
    let measures = (of(50u8..=150), of(hundredths(100..=4_000)), of(20u8..=80));
    (select(TrimKind::ALL), feet(), of(claw()), measures).prop_map(
        |(kind, feet, claw, (wall_mm, sole_mm, angle_deg))| {
            Act::Trim(Trim { kind, feet, claw, wall_mm, sole_mm, angle_deg })
        },
    )
}

fn lesion() -> impl Strategy<Value = Act<'static>> {
    let place = (foot(), of(claw()), of(0u8..=12), of(1u8..=3));
    (select(Lesion::ALL), of(select(Stage::ALL)), place).prop_map(|(lesion, stage, (foot, claw, zone, grade))| {
        let stage = stage.filter(|_| lesion == Lesion::DD);
        Act::Lesion(Finding { lesion, stage, foot, claw, zone, grade })
    })
}

fn medicine() -> impl Strategy<Value = Act<'static>> {
    let hold = || {
        prop_oneof![0u32..=8_760, (0u32..=365).prop_map(|days| days * 24)].prop_map(|h| Hold::from_hours(h).unwrap())
    };
    let given = (hundredths(1..=9_999_999), select(DoseUnit::ALL), of(select(Route::ALL)));
    (quoted(), of(quoted()), given, of(quoted()), hold(), hold()).prop_map(
        |(product, batch, (dose, unit, route), reason, milk, meat)| {
            Act::Medicine(Medicine { product, batch, dose, unit, route, reason, milk, meat })
        },
    )
}

fn bath() -> impl Strategy<Value = Act<'static>> {
    (select(BathProduct::ALL), of(hundredths(1..=10_000)), of(1u8..=20))
        .prop_map(|(product, percent, passes)| Act::Bath(Bath { product, percent, passes }))
}

fn tagged() -> impl Strategy<Value = Act<'static>> {
    let british = (0u64..1_000_000, 0u64..100_000).prop_map(|(herd, animal)| {
        let check = (herd * 100_000 + animal) % 7 + 1;
        keep(format!("UK{herd:06}{check}{animal:05}"))
    });
    let ear = prop_oneof![british, text("(DE|FR|EL|IE|XI|899)[0-9]{1,12}")].prop_map(|tag| EarTag::read(tag).unwrap());
    let chip = (0u32..1_000, 0u64..1 << 38).prop_map(|(maker, number)| keep(format!("{maker:03}{number:012}")));
    let chip = chip.prop_map(|number| Electronic::read(number).unwrap());
    prop_oneof![
        (ear.clone(), of(chip.clone())).prop_map(|(ear, electronic)| Act::Tagged { ear: Some(ear), electronic }),
        chip.prop_map(|chip| Act::Tagged { ear: None, electronic: Some(chip) }),
    ]
}
