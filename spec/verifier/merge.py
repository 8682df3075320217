"""Many ledgers, one log (merge.md): what is merged, in which order, and what of it is said."""

from collections import Counter
from typing import NamedTuple

import twice
from corrections import Corrections
from line import Line
from members import Members, founder_of


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
    apart: str | None = None    # why its writer had no right to it (members.md §11), or None
    no_keeper: bool = False     # it admits or revokes, and its writer was no keeper

    def order(self):
        """Text against text (§3); that a date alone comes before its times is in how text compares."""
        observed = self.line.date + (f" {self.line.time}" if self.line.time else "")
        return observed, self.sealed, self.device, self.place


class Log:
    """The merged lines as they stood at `known`, or as they stand, if no moment is given."""

    def __init__(self, entries, known=None):
        there = [entry for entry in entries if known is None or entry.sealed <= known]
        self.unreadable = [entry for entry in there if entry.line is None]
        self.apart = [entry for entry in there if entry.line and entry.apart]
        self.no_keeper = [entry for entry in there if entry.no_keeper]
        self.entries = sorted((entry for entry in there if entry.line and not entry.apart), key=Entry.order)
        # Who corrects what is kept apart, corrects what is here.
        self.corrections = Corrections(self.entries, [*self.unreadable, *self.apart])
        self.said = twice.say_once([entry for entry in self.entries if self.word(entry) == "standing"])

    def heard(self):
        """The lines that the fold takes, in order, each with the entry it came with."""
        return twice.heard(self.said)

    def questions(self):
        """What is open among corrections and members, as (entry it stands at, words)."""
        yield from self.corrections.questions()
        yield from ((entry, entry.apart) for entry in self.apart)
        yield from ((entry, "not a keeper") for entry in self.no_keeper)

    def word(self, entry):
        """`standing`, `withdrawn`, `superseded` or `aside`."""
        return self.corrections.word(entry)


def entries_of(files):
    """The entries of the files that are merged (§1), given as (device, year, ledger)."""
    merged, founder = files_of_herd(files)
    members, counts = Members(merged, founder), Counter()
    for device, year, ledger in merged:
        yield from entries_of_file(device, year, counts[device], ledger, members)
        counts[device] += 1


def entries_of_file(device, year, file, ledger, members):
    lines = {row.number: observation for row, observation in ledger.readable}
    for row in ledger.lines[1:]:    # the head says nothing of cows
        seat = members.seat_of(device, year, row)
        yield Entry(
            device, Place(file, row.number), row.sealed_time, row.mark, lines.get(row.number),
            members.why_apart(seat), members.is_no_keepers(seat),
        )


def files_of_herd(files):
    """In order, those whose head names this device and this herd; and the founder's key, or None.

    A herd is its name and its founder (members.md §1).
    """
    herd = name_of_herd(files)
    named = [
        (device, year, ledger) for device, year, ledger in sorted(files, key=lambda file: file[:2])
        if ledger.head and (ledger.head.herd, ledger.head.device) == (herd, device)
    ]
    founder = founder_of(named)
    return [file for file in named if founder in (None, file[2].head.herd_key)], founder


def name_of_herd(files):
    """A folder does not say whose it is: the name most heads give, the first of them if as many give another."""
    names = Counter(ledger.head.herd for _, _, ledger in files if ledger.head)
    return min(names, key=lambda name: (-names[name], name), default=None)
