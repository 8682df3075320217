//! Mobility scales (`vocabulary.md` §3).

words! {
    /// A published scale. The 0 to 3 mobility score is the default and is not written.
    Scale {
        /// 0 to 3 (AHDB score sheet).
        Mobility = "mobility";
        /// 1 to 5 (Sprecher 1997).
        Five = "five", "sprecher";
        /// 0 to 3 (New Zealand dairy lameness score).
        Nz = "nz";
        /// 0 to 2 (Welfare Quality 2009).
        Wq = "wq", "welfare quality";
        /// 1 to 3 (US audit scale).
        Three = "three";
    }
}

impl Scale {
    /// The values it has.
    pub const fn range(self) -> std::ops::RangeInclusive<u8> {
        match self {
            Self::Mobility | Self::Nz => 0..=3,
            Self::Five => 1..=5,
            Self::Wq => 0..=2,
            Self::Three => 1..=3,
        }
    }

    /// The first value that means lame. Scales are compared at this cut and nowhere else.
    pub const fn lame_from(self) -> u8 {
        match self {
            Self::Mobility | Self::Nz | Self::Three => 2,
            Self::Five => 3,
            Self::Wq => 1,
        }
    }

    /// The first value that means severely lame.
    pub const fn severe_from(self) -> u8 {
        match self {
            Self::Mobility | Self::Nz | Self::Three => 3,
            Self::Five => 4,
            Self::Wq => 2,
        }
    }
}

words! {
    /// The finer half of a score of 2 or 3, as some scorers give it.
    Half {
        /// The milder half.
        A = "a";
        /// The worse half.
        B = "b";
    }
}
