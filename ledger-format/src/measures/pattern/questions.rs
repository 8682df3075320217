//! The patterns that are looked for, and the questions that each brings to the farm.

use super::{is_early, is_horn, is_infectious, is_under};
use crate::measures::lesions::{CaseFound, LesionFigures, Slice};
use crate::vocabulary::{Group, Lesion};

/// A pattern, and what to ask about it.
pub(super) struct Asked {
    pub(super) what: &'static str,
    pub(super) how: How,
    pub(super) questions: &'static [&'static str],
    pub(super) source: &'static str,
}

/// How it is looked for.
#[derive(Clone, Copy)]
pub(super) enum How {
    /// A part of some cases beside the share that would be asked about.
    Share { among: fn(&CaseFound) -> bool, part: fn(&CaseFound) -> bool, usual: f64, words: &'static str },
    /// The rate in some slices beside that in the others.
    Rates { group: Group, slices: fn(&LesionFigures) -> &[Slice], inside: fn(&str) -> bool, words: &'static str },
}

const WINTER: [&str; 6] = ["October", "November", "December", "January", "February", "March"];

fn is_winter(of: &str) -> bool {
    WINTER.contains(&of)
}

fn is_summer(of: &str) -> bool {
    !is_winter(of)
}

fn stages(figures: &LesionFigures) -> &[Slice] {
    &figures.stages
}

fn lactations(figures: &LesionFigures) -> &[Slice] {
    &figures.lactations
}

fn months(figures: &LesionFigures) -> &[Slice] {
    &figures.months
}

/// What is looked for. The shares to be asked about are ours: common practice, not published limits.
pub(super) static QUESTIONS: [Asked; 9] = [
    Asked {
        what: "white line lesions are a large part of the horn lesions",
        how: How::Share {
            among: is_horn,
            part: |case| is_under(case, Lesion::WL),
            usual: 1.0 / 3.0,
            words: "horn lesions are of the white line",
        },
        questions: &[
            "Where do cows turn sharply, push or slip: parlour exit, gateways, a backing gate run too hard?",
            "How do cattle move when they are brought in, and who brings them?",
            "Is concrete broken, stony, or grooved and bare where they walk most?",
        ],
        source: "sharp turns, pushing near the parlour, damaged concrete: Barker 2010; grooved concrete, higher lactations: Barker 2009",
    },
    Asked {
        what: "sole ulcers and bruising are a large part of the horn lesions",
        how: How::Share {
            among: is_horn,
            part: |case| is_under(case, Lesion::U) || is_under(case, Lesion::SH),
            usual: 0.5,
            words: "horn lesions are ulcers or bruising",
        },
        questions: &[
            "How long do cows stand in a day: waiting to be milked, for feed, for a cubicle?",
            "Is there a dry, deep bed for every cow, and do they lie in it?",
            "How thin are cows in early lactation, and how fast do they lose condition?",
        ],
        source: "older cows, concrete tracks, sparse bedding: Barker 2009; standing time, condition: common practice",
    },
    Asked {
        what: "toe lesions and thin soles are more than a few",
        how: How::Share {
            among: is_horn,
            part: |case| matches!(case.lesion, Lesion::TU | Lesion::TN | Lesion::TS),
            usual: 0.1,
            words: "horn lesions are of the toe or thin soles",
        },
        questions: &[
            "Is too much taken off at the trim: what did wall and sole measure afterwards?",
            "How far do cows walk, and on what: new concrete, stone, sand on concrete?",
        ],
        source: "over-trimming lames cows: veterinary press; wear on floors: common practice",
    },
    Asked {
        what: "infectious lesions outnumber all others",
        how: How::Share { among: |_| true, part: is_infectious, usual: 0.5, words: "lesions are infectious" },
        questions: &[
            "How clean and dry are feet at milking: how often are passages scraped, where does slurry stand?",
            "Is the footbath long and deep enough, how many cows before it is changed, how often in a week?",
            "Do bought-in cattle and heifers bring it, and are knives and gloves disinfected between cows?",
        ],
        source: "baths of 3 m, changed every 100 to 300 cows: Cook 2012; clean knives: Gillespie 2020; slurry, bought-in cattle: common practice",
    },
    Asked {
        what: "active digital dermatitis is a large part of what is found",
        how: How::Share {
            among: |case| case.lesion == Lesion::DD && case.stage.is_some(),
            part: |case| case.stage.is_some_and(crate::vocabulary::Stage::is_active),
            usual: 0.25,
            words: "cases of digital dermatitis with a stage are active",
        },
        questions: &[
            "Who looks at feet between trims, how often, and is an active lesion treated that day?",
            "Do heifers have it before they calve?",
        ],
        source: "common practice",
    },
    Asked {
        what: "horn lesions come early in lactation",
        how: How::Rates {
            group: Group::Horn,
            slices: stages,
            inside: is_early,
            words: "days 0 to 100 beside all other days",
        },
        questions: &[
            "What changes for a cow around calving: floor, group, feed, time on her feet?",
            "Are heifers used to cubicles and concrete before they calve?",
            "Were feet trimmed before drying off, with eight weeks to calving?",
        ],
        source: "trim before drying off: AHDB trim list; the change around calving: common practice",
    },
    Asked {
        what: "first-lactation cows have more horn lesions than others",
        how: How::Rates {
            group: Group::Horn,
            slices: lactations,
            inside: |of| of == "lactation 1",
            words: "first lactation beside later ones",
        },
        questions: &[
            "How do heifers come into the herd: singly or in groups, to full cubicles, to what floor?",
            "At what weight and how well grown do they calve?",
        ],
        source: "common practice",
    },
    Asked {
        what: "infectious lesions come in the winter months",
        how: How::Rates {
            group: Group::Infectious,
            slices: months,
            inside: is_winter,
            words: "October to March beside April to September",
        },
        questions: &[
            "What is different when cows are housed: crowding, scraping, damp beds, fewer baths?",
            "Are feet looked at and bathed before housing?",
        ],
        source: "common practice",
    },
    Asked {
        what: "horn lesions come in the summer months",
        how: How::Rates {
            group: Group::Horn,
            slices: months,
            inside: is_summer,
            words: "April to September beside October to March",
        },
        questions: &[
            "How far is the walk to grass, on what track, and how are cows brought along it?",
            "Do cows stand in the heat, in shade that is too small, or waiting to be milked?",
        ],
        source: "cows out by day and in by night: Barker 2009; tracks, heat: common practice",
    },
];
