"""A cow's scores: what counts of a day, and since when she is lame (fold.md §5)."""

from vocabulary import LAME_FROM, SCALES_BY_BADNESS


class Scores:
    def __init__(self):
        self._days = {}     # day -> scale -> (who, device) -> value; later lines come later in each

    def take(self, line, device):
        """Whether the people who scored her that day, on that scale, now differ."""
        scales = self._days.setdefault(line.date, {})
        # Taken out and put in again: the scale spoken of last is the last.
        given = scales.pop(line.parts["scale"], {})
        given[line.who, device] = line.parts["value"]
        scales[line.parts["scale"]] = given
        return len(set(given.values())) > 1

    def counted(self):
        """(day, scale, value), one for each scale of each day."""
        for day, scales in self._days.items():
            for scale, given in scales.items():
                yield day, scale, max(given.values(), key=SCALES_BY_BADNESS[scale].index)

    def last(self):
        return list(self.counted())[-1] if self._days else None

    def lame_since(self):
        since = None
        for day, scale, value in self.counted():
            since = (since or day) if is_lame(scale, value) else None
        return since


def is_lame(scale, value):
    order = SCALES_BY_BADNESS[scale]
    return order.index(value) >= order.index(LAME_FROM[scale])
