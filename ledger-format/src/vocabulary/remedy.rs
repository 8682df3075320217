//! What is done to feet: trims, blocks, medicines, baths (`vocabulary.md` §5).

words! {
    /// Why feet were trimmed.
    TrimKind {
        /// As planned.
        Routine = "routine", "r";
        /// Because she was lame.
        Lame = "lame", "l";
        /// A look between times.
        Check = "check", "c", "checked";
    }
}

words! {
    /// What a block is made of.
    BlockKind {
        /// Glued wood.
        Wood = "wood", "w", "wooden";
        /// A plastic shoe, which must be taken off.
        Shoe = "shoe", "sh", "plastic", "slipper";
        /// Rubber.
        Rubber = "rubber", "ru";
        /// Wears away by itself.
        Bio = "bio", "bi", "biodegradable";
    }
}

words! {
    /// How a medicine was given.
    Route {
        /// Into muscle.
        Im = "im", "intramuscular";
        /// Into a vein.
        Iv = "iv", "intravenous";
        /// Under the skin.
        Sc = "sc", "subcut", "subcutaneous";
        /// By mouth.
        Oral = "oral";
        /// On the skin.
        Topical = "topical", "spray";
        /// Into a vein of the tied-off limb.
        Regional = "regional";
    }
}

words! {
    /// Unit of a dose.
    DoseUnit {
        /// Millilitre.
        Ml = "ml", "mls", "cc";
        /// Litre.
        L = "l";
        /// Milligram.
        Mg = "mg";
        /// Gram.
        G = "g";
        /// International unit.
        Iu = "iu";
        /// Tube, tablet, bolus.
        Piece = "piece", "pieces", "tube", "tubes", "tablet", "tablets";
    }
}

words! {
    /// What a footbath holds.
    BathProduct {
        /// Copper sulphate.
        Copper = "copper", "copper sulphate", "copper sulfate";
        /// Zinc sulphate.
        Zinc = "zinc", "zinc sulphate", "zinc sulfate";
        /// Formalin.
        Formalin = "formalin", "formaldehyde";
        /// Peracetic acid.
        Peracetic = "peracetic", "peracetic acid";
        /// Iodophor.
        Iodophor = "iodophor", "iodine";
        /// Hypochlorite.
        Hypochlorite = "hypochlorite", "chlorine";
        /// Salt.
        Salt = "salt";
        /// Anything else, named in the words.
        Other = "other";
    }
}
