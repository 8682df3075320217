"""The closed word lists (vocabulary.md), canonical spellings only: nothing else is ever sealed."""

FEET = ("LF", "RF", "LH", "RH")
CLAWS = ("inner", "outer")

STAGED_LESION = "DD"
LESIONS = (
    "AC", "CD", "CC", "SC", "DD", "ID", "IP", "HHE", "IH", "SW", "DS", "HF", "HFA", "HFH", "HFV",
    "SH", "SHC", "SHD", "U", "SU", "BU", "TU", "TN", "TS", "WL", "WLF", "WLA",
)
STAGES = ("M0", "M1", "M2", "M3", "M4", "M4.1")

# None is the scale that is never written.
SCALES = {
    None: ("0", "1", "2", "3", "2a", "2b", "3a", "3b"),
    "five": ("1", "2", "3", "4", "5"),
    "nz": ("0", "1", "2", "3"),
    "wq": ("0", "1", "2"),
    "three": ("1", "2", "3"),
}
# A letter after a score makes it worse than the bare number.
SCALES_BY_BADNESS = {scale: tuple(sorted(values)) for scale, values in SCALES.items()}
LAME_FROM = {None: "2", "five": "3", "nz": "2", "wq": "1", "three": "2"}
NAMED_SCALES = tuple(scale for scale in SCALES if scale)
SCALES_THAT_COUNT_ZEROS_AND_ONES = (None, "nz")

TRIMS = ("routine", "lame", "check")
BLOCK_KINDS = ("wood", "shoe", "rubber", "bio")
FINDINGS = ("sound", "better", "same", "worse")
DEPARTURES = ("sold", "culled", "died", "moved")
ROUTES = ("im", "iv", "sc", "oral", "topical", "regional")
UNITS = ("ml", "l", "mg", "g", "iu", "piece")
BATHS = ("copper", "zinc", "formalin", "peracetic", "iodophor", "hypochlorite", "salt", "other")
ROLES = ("keeper", "writer", "reader")

EU_MEMBERS = (
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "EL", "ES", "FI", "FR", "HR", "HU", "IE",
    "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
)
TAG_COUNTRIES = EU_MEMBERS + ("XI", "CH", "NO", "IS", "LI", "GB", "899")
