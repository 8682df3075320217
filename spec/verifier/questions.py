"""Open questions: at which line each stands, and in which words (fold.md, canonical state text)."""

from typing import NamedTuple

# The reasons of members.md §11, as the state text has them.
OF_MEMBERS = ("not admitted", "may only read", "revoked", "not a keeper")
WORDS = (
    "scores differ", "had left", "left twice", "joined twice", "number in use", "nothing to take off", "not yet",
    "corrects what is not here", "corrected more than once", "corrected too deep",
    *OF_MEMBERS,
)


class Question(NamedTuple):
    entry: object   # the newest of the lines it is about
    words: str

    def order(self):
        """Several at one line stand in the order in which the chapter lists them."""
        return self.entry.order(), WORDS.index(self.words)

    @property
    def number(self):
        """The cow's, or None where it is about no cow."""
        subject, name = self.entry.line.subject
        return name if subject == "cow" else None


def of_log(log, day):
    """Those at a line that the fold of that day takes."""
    return [Question(*pair) for pair in log.questions() if pair[0].line.date <= day]


def not_yet(log, day):
    """Lines after the day asked for that were sealed before the day they say."""
    return [
        Question(entry, "not yet") for line, entry in log.heard() if line.date > day and entry.sealed[:10] < line.date
    ]
