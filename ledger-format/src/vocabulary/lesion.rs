//! Lesions and stages (`vocabulary.md` §2): ICAR Claw Health Atlas, 2nd ed. 2020.

words! {
    /// A lesion by its ICAR code.
    Lesion {
        /// Asymmetric claws.
        AC = "AC", "ac", "asymmetric", "asymmetric claws";
        /// Concave dorsal wall.
        CD = "CD", "cd", "concave", "concave dorsal wall";
        /// Corkscrew claw.
        CC = "CC", "cc", "corkscrew", "corkscrew claw";
        /// Scissor claws.
        SC = "SC", "sc", "scissor", "scissor claws";
        /// Digital dermatitis.
        DD = "DD", "dd", "mortellaro", "digital", "digital dermatitis", "wart", "hairy wart", "heel wart", "strawberry";
        /// Interdigital dermatitis.
        ID = "ID", "id", "idd", "interdigital dermatitis";
        /// Interdigital phlegmon.
        IP = "IP", "ip", "foul", "foul in the foot", "foot rot", "footrot", "phlegmon", "interdigital phlegmon", "necrobacillosis";
        /// Heel horn erosion.
        HHE = "HHE", "hhe", "heel erosion", "heel horn erosion", "slurry heel", "erosion";
        /// Interdigital hyperplasia.
        IH = "IH", "ih", "tyloma", "limax", "corn", "growth", "fibroma", "interdigital hyperplasia";
        /// Swelling of coronet or bulb.
        SW = "SW", "sw", "swelling", "swollen";
        /// Double sole.
        DS = "DS", "ds", "double sole";
        /// Horn fissure.
        HF = "HF", "hf", "fissure", "horn fissure";
        /// Axial horn fissure.
        HFA = "HFA", "hfa", "axial fissure", "axial horn fissure";
        /// Horizontal horn fissure.
        HFH = "HFH", "hfh", "horizontal fissure", "horizontal horn fissure", "hardship groove";
        /// Vertical horn fissure.
        HFV = "HFV", "hfv", "sandcrack", "sand crack", "vertical fissure", "vertical horn fissure";
        /// Sole haemorrhage.
        SH = "SH", "sh", "bruise", "bruising", "bruised", "haemorrhage", "hemorrhage", "sole haemorrhage", "sole hemorrhage";
        /// Circumscribed sole haemorrhage.
        SHC = "SHC", "shc", "circumscribed sole haemorrhage";
        /// Diffused sole haemorrhage.
        SHD = "SHD", "shd", "diffused sole haemorrhage";
        /// Any ulcer.
        U = "U", "u", "ulcer";
        /// Sole ulcer.
        SU = "SU", "su", "sole ulcer", "rusterholz";
        /// Bulb ulcer.
        BU = "BU", "bu", "bulb ulcer", "heel ulcer";
        /// Toe ulcer.
        TU = "TU", "tu", "toe ulcer";
        /// Toe necrosis.
        TN = "TN", "tn", "toe necrosis", "necrotic toe", "apical necrosis";
        /// Thin sole.
        TS = "TS", "ts", "thin sole";
        /// White line disease.
        WL = "WL", "wl", "white line", "white line disease", "wld";
        /// White line fissure.
        WLF = "WLF", "wlf", "white line fissure";
        /// White line abscess.
        WLA = "WLA", "wla", "white line abscess", "abscess";
    }
}

/// Where a lesion belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// One claw.
    Claw,
    /// The foot as a whole.
    Foot,
}

/// What kind of lesion, for counting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Group {
    /// Of the horn.
    Horn,
    /// Infectious, or of hygiene.
    Infectious,
    /// Of the claw's shape.
    Shape,
    /// Any other.
    Other,
}

impl Group {
    /// All, in the order in which they are shown.
    pub const ALL: [Self; 4] = [Self::Horn, Self::Infectious, Self::Shape, Self::Other];

    /// In a word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Horn => "horn",
            Self::Infectious => "infectious",
            Self::Shape => "shape",
            Self::Other => "other",
        }
    }
}

impl Lesion {
    /// Whether it sits on one claw or on the foot.
    pub const fn level(self) -> Level {
        match self {
            Self::AC | Self::SC | Self::DD | Self::ID | Self::IP | Self::IH | Self::SW => Level::Foot,
            _ => Level::Claw,
        }
    }

    /// Its group.
    pub const fn group(self) -> Group {
        match self {
            Self::AC | Self::CD | Self::CC | Self::SC => Group::Shape,
            Self::DD | Self::ID | Self::IP | Self::HHE | Self::IH => Group::Infectious,
            Self::SW => Group::Other,
            _ => Group::Horn,
        }
    }

    /// The zones where it usually sits; empty where any zone may be (ILC brochure 2008; Shearer).
    pub const fn zones(self) -> &'static [u8] {
        match self {
            Self::DD => &[0, 9, 10],
            Self::ID => &[0, 10],
            Self::IP => &[0, 9],
            Self::HHE | Self::BU => &[6],
            Self::IH => &[0],
            Self::HFA => &[11, 12],
            Self::HFV => &[7, 8],
            Self::U | Self::SU => &[4, 5, 6],
            Self::TU | Self::TN => &[1, 5],
            Self::TS => &[4, 5],
            Self::WL | Self::WLF | Self::WLA => &[1, 2, 3],
            _ => &[],
        }
    }

    /// The code it is counted under: fissure and abscess under white line, and so on.
    #[must_use]
    pub const fn rolled_up(self) -> Self {
        match self {
            Self::WLF | Self::WLA => Self::WL,
            Self::SHC | Self::SHD => Self::SH,
            Self::HFA | Self::HFH | Self::HFV => Self::HF,
            Self::SU | Self::BU | Self::TU => Self::U,
            other => other,
        }
    }

    /// Painful and in need of follow-up (Fürmann 2024; the ulcers spelt out: common practice).
    pub const fn is_alarm(self, stage: Option<Stage>, grade: Option<u8>) -> bool {
        match self {
            Self::U | Self::SU | Self::BU | Self::TU | Self::TN | Self::WLA | Self::IP | Self::SW => true,
            Self::DD => matches!(stage, Some(Stage::M2)),
            Self::WLF => matches!(grade, Some(2 | 3)),
            _ => false,
        }
    }

    /// Its name in words.
    pub fn name(self) -> &'static str {
        match self {
            Self::AC => "asymmetric claws",
            Self::CD => "concave dorsal wall",
            Self::CC => "corkscrew claw",
            Self::SC => "scissor claws",
            Self::DD => "digital dermatitis",
            Self::ID => "interdigital dermatitis",
            Self::IP => "interdigital phlegmon",
            Self::HHE => "heel horn erosion",
            Self::IH => "interdigital hyperplasia",
            Self::SW => "swelling of coronet or bulb",
            Self::DS => "double sole",
            Self::HF => "horn fissure",
            Self::HFA => "axial horn fissure",
            Self::HFH => "horizontal horn fissure",
            Self::HFV => "vertical horn fissure",
            Self::SH => "sole haemorrhage",
            Self::SHC => "circumscribed sole haemorrhage",
            Self::SHD => "diffused sole haemorrhage",
            Self::U => "ulcer",
            Self::SU => "sole ulcer",
            Self::BU => "bulb ulcer",
            Self::TU => "toe ulcer",
            Self::TN => "toe necrosis",
            Self::TS => "thin sole",
            Self::WL => "white line disease",
            Self::WLF => "white line fissure",
            Self::WLA => "white line abscess",
        }
    }
}

words! {
    /// Stage of digital dermatitis (Berry 2012 after Döpfer 1997). Labels in this order, not numbers.
    Stage {
        /// Normal skin.
        M0 = "M0", "m0";
        /// Early, under 2 cm.
        M1 = "M1", "m1";
        /// Active ulcer, over 2 cm, painful.
        M2 = "M2", "m2";
        /// Healing under a scab.
        M3 = "M3", "m3";
        /// Chronic.
        M4 = "M4", "m4";
        /// Chronic with a small active focus.
        M4_1 = "M4.1", "m4.1";
    }
}

impl Stage {
    /// Whether the stage is an active one.
    pub const fn is_active(self) -> bool {
        matches!(self, Self::M1 | Self::M2 | Self::M4_1)
    }
}
