//! Feet and claws (`vocabulary.md` §1).

words! {
    /// A foot.
    Foot {
        /// Left front.
        LF = "LF", "lf", "left front", "front left", "fore left", "left fore", "fl";
        /// Right front.
        RF = "RF", "rf", "right front", "front right", "fore right", "right fore", "fr";
        /// Left hind.
        LH = "LH", "lh", "left hind", "hind left", "left back", "back left", "left rear", "rear left", "hl", "bl", "lr", "lb";
        /// Right hind.
        RH = "RH", "rh", "right hind", "hind right", "right back", "back right", "right rear", "rear right", "hr", "br", "rr", "rb";
    }
}

words! {
    /// A claw of a foot.
    Claw {
        /// The claw toward the other foot.
        Inner = "inner", "in", "inside", "medial";
        /// The claw away from it.
        Outer = "outer", "out", "outside", "lateral";
    }
}

impl Claw {
    /// The other claw of the same foot.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::Inner => Self::Outer,
            Self::Outer => Self::Inner,
        }
    }
}

/// A set of feet, written in the order LF RF LH RH.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Feet(u8);

impl Feet {
    /// No foot.
    pub const NONE: Self = Self(0);
    /// All four.
    pub const ALL: Self = Self(0b1111);
    /// Both front feet.
    pub const FRONTS: Self = Self(0b0011);
    /// Both hind feet.
    pub const HINDS: Self = Self(0b1100);

    /// One foot.
    pub const fn one(foot: Foot) -> Self {
        Self(1 << foot as u8)
    }

    /// These feet and those.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether this foot is among them.
    pub const fn has(self, foot: Foot) -> bool {
        self.0 & (1 << foot as u8) != 0
    }

    /// Whether there is none.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many.
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Each foot, in canonical order.
    pub fn iter(self) -> impl Iterator<Item = Foot> {
        Foot::ALL.iter().copied().filter(move |foot| self.has(*foot))
    }
}

impl std::fmt::Display for Feet {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (i, foot) in self.iter().enumerate() {
            if i > 0 {
                f.write_str(" ")?;
            }
            f.write_str(foot.word())?;
        }
        Ok(())
    }
}
