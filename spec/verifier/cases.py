"""A cow's lesions as cases, which open, close and open again (fold.md §7 and 8)."""

import days
from vocabulary import CLAWS, FEET, LESIONS


class Case:
    def __init__(self, code, foot, claw, day):
        self.code, self.foot, self.claw = code, foot, claw
        self.first = self.last = day
        self.stage = self.zone = self.grade = None
        self.closed_by = None       # the act
        self.closed_on = None

    def see(self, line):
        self.last, self.closed_by, self.closed_on = line.date, None, None
        for detail in ("stage", "zone", "grade"):
            if line.parts[detail] is not None:
                setattr(self, detail, line.parts[detail])

    def is_taken_up_on(self, day, repeat):
        """Whether a lesion seen that day is this case still, or again."""
        # A trim does not close what is recorded that day, whichever of the two lines comes first.
        not_closed = self.closed_by is None or (self.closed_by, self.closed_on) == ("trim", day)
        return not_closed or days.between(self.last, day) <= repeat


class Cases:
    def __init__(self):
        self._latest = {}       # (foot, claw, code) -> Case: an older one is never taken up again

    def see(self, line, repeat):
        parts = line.parts
        key = parts["foot"], parts["claw"], parts["code"]
        case = self._latest.get(key)
        if case is None or not case.is_taken_up_on(line.date, repeat):
            case = self._latest[key] = Case(parts["code"], parts["foot"], parts["claw"], line.date)
        case.see(line)

    def not_found(self, feet, day, act):
        """The feet were lifted by an act that would have shown a lesion."""
        for case in self._latest.values():
            if case.closed_by is None and case.foot in feet and day > case.last:
                case.closed_by, case.closed_on = act, day

    def open(self):
        """By foot, claw and code, each in the order of the vocabulary."""
        return sorted((case for case in self._latest.values() if case.closed_by is None), key=place_in_text)


def place_in_text(case):
    claw = CLAWS.index(case.claw) if case.claw else -1
    return FEET.index(case.foot), claw, LESIONS.index(case.code)
