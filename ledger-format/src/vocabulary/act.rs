//! Acts and the words of the herd register (`vocabulary.md` §4, §5).

words! {
    /// The word that says what a line is about.
    ActWord {
        /// A mobility score.
        Score = "score", "s", "mobility", "scored";
        /// A scoring round of the herd or a group.
        Tally = "tally", "ta", "round";
        /// Feet trimmed.
        Trim = "trim", "t", "trimmed";
        /// A lesion found, or none.
        Lesion = "lesion", "les";
        /// A block on a claw.
        Block = "block", "b", "blocked";
        /// A dressing on a foot.
        Dressing = "dressing", "d", "bandage", "wrap", "dressed";
        /// A second look, set or done.
        Recheck = "recheck", "rc", "check again";
        /// Handed to the vet.
        Refer = "refer", "ref", "referred", "vet";
        /// Seen by the vet.
        Seen = "seen", "se", "seen by vet", "vet seen";
        /// A medicine given.
        Medicine = "medicine", "med", "treated", "treatment";
        /// A footbath.
        Bath = "bath", "ba", "footbath";
        /// Calved, or due to.
        Calved = "calved", "ca", "calves", "calving";
        /// Dried off, or due to be.
        Dried = "dried", "dr", "dry", "dried off";
        /// Came into the herd.
        Joined = "joined", "jo", "bought", "arrived";
        /// Went out of the herd.
        Left = "left", "le", "gone";
        /// Has another number from now on.
        Renumbered = "renumbered", "ren";
        /// Official ear number or electronic number.
        Tagged = "tagged", "tag";
        /// Went to another group.
        Moved = "moved", "mv";
        /// Anything else.
        Note = "note", "n";
        /// A line withdrawn.
        Strike = "strike", "x";
        /// A device let in.
        Admit = "admit";
        /// A device shut out.
        Revoke = "revoke";
        /// A protocol applies from now on.
        Adopt = "adopt";
        /// Another device's file seen up to here.
        Witness = "witness";
    }
}

words! {
    /// What a second look found.
    RecheckFinding {
        /// Nothing left to see.
        Sound = "sound", "so", "ok", "fine", "healed";
        /// Better, not yet sound.
        Better = "better", "be", "improved";
        /// No change.
        Same = "same", "sa", "no change";
        /// Worse.
        Worse = "worse", "wo";
    }
}

words! {
    /// How a cow left the herd.
    Departure {
        /// Sold alive.
        Sold = "sold";
        /// Culled.
        Culled = "culled", "cull";
        /// Died on the farm.
        Died = "died", "dead";
        /// Went to another holding.
        Moved = "moved", "transferred";
    }
}

words! {
    /// What a device may do in a herd.
    Capacity {
        /// Writes, and lets others in.
        Keeper = "keeper";
        /// Writes.
        Writer = "writer";
        /// Reads.
        Reader = "reader";
    }
}
