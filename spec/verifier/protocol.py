"""Which protocol applies on a day (fold.md §18), as far as it steers the fold."""

import re
from typing import NamedTuple

from history import History


class Protocol(NamedTuple):
    repeat: int = 28    # days after it was last seen in which a lesion is the same case again
    early: int = 7      # days before it is due from which a trim meets a recheck


def read(content, default=Protocol()):
    """From the bytes of a protocol; what it does not give is as in the default."""
    return Protocol(
        repeat=_number(content, rb"repeat_case_days", default.repeat),
        early=_number(content, rb"recheck_early_days", default.early),
    )


def _number(content, name, default):
    told = re.sub(rb"//[^\n]*", b"", content)     # a remark may speak of another number
    found = re.search(rb"\b" + name + rb"\s*:\s*([0-9]+)", told)
    return int(found.group(1)) if found else default


class Protocols:
    """The protocols adopted, in order; `known` holds the bytes of those that are here and rightly named."""

    def __init__(self, known=None, default=Protocol()):
        self._known, self._default = known or {}, default
        self._adopted = History(default)
        self.questions = []     # hashes adopted and not here

    def adopt(self, day, name):
        if name in self._known:
            self._adopted.add(day, read(self._known[name], self._default))
        else:
            self.questions.append(name)

    def on(self, day):
        return self._adopted.at_end_of(day)
