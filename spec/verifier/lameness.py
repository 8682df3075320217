"""Since when a cow is lame, and whether she was walked past since (fold.md §5 and 5a)."""

from itertools import zip_longest
from typing import NamedTuple


class When(NamedTuple):
    """The day, and the time if one was written, of a score, a lifting or a round."""
    day: str
    time: str | None

    def is_before(self, other):
        """Of one day only two times can tell."""
        if self.day != other.day:
            return self.day < other.day
        return bool(self.time and other.time) and self.time < other.time


class Round(NamedTuple):
    when: When
    group: str | None   # none: of the herd

    @classmethod
    def of(cls, line):
        return cls(When(line.date, line.time), line.subject[1])

    def is_of(self, animal):
        """As she was at the end of that day: who is dry is not among those the herd's round walks by."""
        if self.group is None:
            return animal.dried.at_end_of(self.when.day) is None
        return animal.groups.at_end_of(self.when.day) == self.group


def lameness(animal, rounds):
    """(lame since, walked past on), each None if not so. `rounds` are in order."""
    since = past = None
    scores = animal.scores.counted()
    for score, following in zip_longest(scores, scores[1:]):
        since = (since or score.day) if score.lame else None
        past = walked_past(animal, score, following, rounds) if score.lame else None
        if past:
            since = None
    return since, past


def walked_past(animal, score, following, rounds):
    """The day of the first round after a lame score, and after a lifting since, before she was scored again."""
    liftings = [lifting for lifting in animal.liftings if not lifting.is_before(When(score.day, score.time))]
    for one in rounds:
        day = one.when.day
        if day <= score.day or (following and day >= following.day) or not one.is_of(animal):
            continue
        if any(lifting.day <= day for lifting in liftings):
            return day
    return None
