"""Many ledgers, one log (merge.md): what is merged, in which order, and what of it is said."""

from collections import Counter
from typing import NamedTuple

import twice
from corrections import Corrections
from line import Line


class Place(NamedTuple):
    """Where a line stands: of a device's files, in the order of their years, which one; and which row of it."""
    file: int
    row: int


class Entry(NamedTuple):
    device: str
    place: Place
    sealed: str
    mark: str
    line: Line | None   # None if the body is not canonical

    def order(self):
        """Text against text (§3); that a date alone comes before its times is in how text compares."""
        observed = self.line.date + (f" {self.line.time}" if self.line.time else "")
        return observed, self.sealed, self.device, self.place


class Log:
    """The merged lines as they stood at `known`, or as they stand, if no moment is given."""

    def __init__(self, entries, known=None):
        there = [entry for entry in entries if known is None or entry.sealed <= known]
        self.unreadable = [entry for entry in there if entry.line is None]
        self.entries = sorted((entry for entry in there if entry.line), key=Entry.order)
        self.corrections = Corrections(self.entries, self.unreadable)
        self.said = twice.say_once([entry for entry in self.entries if self.word(entry) == "standing"])

    def heard(self):
        """The lines that the fold takes, in order, each with the entry it came with."""
        return twice.heard(self.said)

    def questions(self):
        """What is open among the corrections, as (entry it stands at, words)."""
        return self.corrections.questions()

    def word(self, entry):
        """`standing`, `withdrawn`, `superseded` or `aside`."""
        return self.corrections.word(entry)


def entries_of(files):
    """The entries of the files that are merged (§1), given as (device, year, ledger)."""
    herd, counts = name_of_herd(files), Counter()
    for device, _, ledger in sorted(files, key=lambda file: file[:2]):
        if ledger.head is None or (ledger.head.herd, ledger.head.device) != (herd, device):
            continue
        yield from entries_of_file(device, counts[device], ledger)
        counts[device] += 1


def entries_of_file(device, file, ledger):
    lines = {row.number: observation for row, observation in ledger.readable}
    for row in ledger.lines[1:]:    # the head says nothing of cows
        yield Entry(device, Place(file, row.number), row.sealed_time, row.mark, lines.get(row.number))


def name_of_herd(files):
    """A folder does not say whose it is: the name most heads give, the first of them if as many give another."""
    names = Counter(ledger.head.herd for _, _, ledger in files if ledger.head)
    return min(names, key=lambda name: (-names[name], name), default=None)
