"""The same thing typed twice, on different devices, counts once (merge.md §4 and 5)."""

from vocabulary import STAGES

NEVER_THE_SAME = {"note", "refer", "strike", "admit", "revoke", "adopt", "witness"}
LEFT_OUT = {
    "lesion": {"stage", "zone", "grade"},
    "trim": {"claw", "wall", "sole", "angle"},
    "block": {"kind"},
    "medicine": {"route", "for", "batch"},
}
FILLED_IN = {"lesion": ("zone",), "block": ("kind",)}
WORSE_OF = {"lesion": (("stage", STAGES.index), ("grade", int))}


class Said:
    """What counts once: the first entry in order, and the others beside it."""

    def __init__(self, entry):
        self.entry, self.others = entry, []

    def devices(self):
        return {entry.device for entry in (self.entry, *self.others)}

    @property
    def line(self):
        """The first line with what it left out filled in from the others."""
        line, parts = self.entry.line, dict(self.entry.line.parts)
        all_parts = [parts, *(other.line.parts for other in self.others)]
        for name in FILLED_IN.get(line.act, ()):
            if name in parts:
                parts[name] = next((one[name] for one in all_parts if one[name] is not None), None)
        for name, badness in WORSE_OF.get(line.act, ()):
            if name in parts:
                given = [one[name] for one in all_parts if one[name] is not None]
                parts[name] = max(given, key=badness, default=None)
        return line._replace(parts=parts) if self.others else line


def say_once(entries):
    """Standing entries, in order, as a list of Said.

    A device that says a thing twice says it twice: each saying is matched with
    at most one saying of every other device.
    """
    said, by_thing = [], {}
    for entry in entries:
        same = by_thing.setdefault(thing(entry.line), []) if entry.line.act not in NEVER_THE_SAME else []
        match = next((one for one in same if entry.device not in one.devices()), None)
        if match:
            match.others.append(entry)
        else:
            said.append(Said(entry))
            same.append(said[-1])
    return said


def heard(said):
    """What the fold hears, as (line, entry) in order: of scores every account, of all else each thing once."""
    once = [(one.line, one.entry) for one in said]
    beside = [(entry.line, entry) for one in said if one.entry.line.act == "score" for entry in one.others]
    return sorted([*once, *beside], key=lambda pair: pair[1].order())


def thing(line):
    """Equal for two lines that say the same of one subject on one day."""
    left_out = LEFT_OUT.get(line.act, ())
    kept = tuple((name, str(value)) for name, value in sorted(line.parts.items()) if name not in left_out)
    return line.subject, line.date, line.act, kept
