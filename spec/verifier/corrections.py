"""Corrections stand beside what they correct (merge.md §6 to 8)."""

from collections import defaultdict
from functools import cache

LONGEST_CHAIN = 64


class Corrections:
    """`entries` are in the order of the log, so that the last of several is the last in that order."""

    def __init__(self, entries, unreadable):
        self._here = {(entry.device, entry.mark): entry for entry in [*unreadable, *entries]}
        self.waiting = []       # what they correct is not here
        self.cut = []           # one correction too many on top of the others
        self.concurrent = []    # lists of standing lines that go back to one line; the last of each stands
        self._target = self._resolve(entries)
        self._strikes, self._replacements = self._by_target(entries)
        self.withdrawn, self.superseded = cache(self._withdrawn), cache(self._superseded)
        self._aside = self._set_aside(entries)

    def word(self, entry):
        if self.withdrawn(key(entry)):
            return "withdrawn"
        if self.superseded(key(entry)):
            return "superseded"
        return "aside" if key(entry) in self._aside else "standing"

    def _resolve(self, entries):
        """From line to the line it corrects, both by key."""
        targets = {}
        for entry in entries:
            target = named(entry)
            if target in self._here:
                targets[key(entry)] = target
            elif target:
                self.waiting.append(entry)
        return self._cut_chains(targets)

    def _cut_chains(self, targets):
        """A chain is cut where it grows too long; what comes after begins another."""
        length = {}
        for start in targets:
            path, at = [], start
            while at in targets and at not in length:
                path.append(at)
                at = targets[at]
            for at in reversed(path):
                length[at] = length.get(targets[at], 0) + 1
                if length[at] > LONGEST_CHAIN:
                    length[at] = 0
                    self.cut.append(self._here[at])
        cut = {key(entry) for entry in self.cut}
        return {at: target for at, target in targets.items() if at not in cut}

    def _by_target(self, entries):
        strikes, replacements = defaultdict(list), defaultdict(list)
        for entry in entries:
            if key(entry) in self._target:
                kind = strikes if entry.line.act == "strike" else replacements
                kind[self._target[key(entry)]].append(key(entry))
        return strikes, replacements

    def _withdrawn(self, at):
        return any(
            not self.withdrawn(strike) and not self.superseded(strike) for strike in self._strikes.get(at, ())
        )

    def _superseded(self, at):
        """A replacement that was replaced itself still holds down what it replaced."""
        return any(not self.withdrawn(replacement) for replacement in self._replacements.get(at, ()))

    def _set_aside(self, entries):
        """Two people who correct one line without knowing of each other (§7)."""
        heirs = defaultdict(list)
        for entry in entries:
            if not self.withdrawn(key(entry)) and not self.superseded(key(entry)):
                heirs[self._first(key(entry))].append(entry)
        self.concurrent = [lines for lines in heirs.values() if len(lines) > 1]
        return {key(entry) for lines in self.concurrent for entry in lines[:-1]}

    def _first(self, at):
        """Back through what is replaced. A withdrawn line replaces nothing, so the way ends there."""
        while at in self._target and not self._is_strike(at) and not self.withdrawn(at):
            at = self._target[at]
        return at

    def _is_strike(self, at):
        return self._here[at].line.act == "strike"


def key(entry):
    """A mark names a line only together with its device (mark.md §8)."""
    return entry.device, entry.mark


def named(entry):
    """The key of the line that this one corrects, or None."""
    line = entry.line
    reference = line.parts if line.act == "strike" else line.replaces
    return reference and (reference["of"] or entry.device, reference["mark"])
