"""A cow's scores: what counts of a day (fold.md §5)."""

from typing import NamedTuple

from vocabulary import LAME_FROM, SCALES_BY_BADNESS


class Score(NamedTuple):
    """What counts of a day."""
    day: str
    time: str | None
    scale: str | None
    value: str

    @property
    def lame(self):
        return is_lame(self.scale, self.value)


class Scores:
    def __init__(self):
        self._days = {}     # day -> scale -> (who, device) -> entry; later lines come later in each

    def take(self, entry):
        """Each person at each device has one account of a day and scale: the last."""
        line = entry.line
        scales = self._days.setdefault(line.date, {})
        # Taken out and put in again: what was spoken of last is the last.
        accounts = scales.pop(line.parts["scale"], {})
        accounts.pop((line.who, entry.device), None)
        accounts[line.who, entry.device] = entry
        scales[line.parts["scale"]] = accounts

    def counted(self):
        """One Score for each day, in order: of several scales, that of the one scored last."""
        return [worst(day, *list(scales.items())[-1]) for day, scales in self._days.items()]

    def differing(self):
        """Where accounts of one day and scale differ, the newest of them."""
        for scales in self._days.values():
            for accounts in scales.values():
                if len({number_of(entry) for entry in accounts.values()}) > 1:
                    yield list(accounts.values())[-1]


def worst(day, scale, accounts):
    """Of equals the newest: so late she was seen to be so bad."""
    badness = SCALES_BY_BADNESS[scale].index
    entry = max(reversed(accounts.values()), key=lambda entry: badness(entry.line.parts["value"]))
    return Score(day, entry.line.time, scale, entry.line.parts["value"])


def number_of(entry):
    """The letter says more of a number, not another number: 2 and 2b do not differ in value."""
    return entry.line.parts["value"].rstrip("ab")


def is_lame(scale, value):
    order = SCALES_BY_BADNESS[scale]
    return order.index(value) >= order.index(LAME_FROM[scale])
