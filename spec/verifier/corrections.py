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
        self.superseded, self.withdrawn = cache(self._superseded), cache(self._withdrawn)
        self._aside = self._set_aside(entries)

    def word(self, entry):
        if self.superseded(key(entry)):
            return "superseded"
        if self.withdrawn(key(entry)):
            return "withdrawn"
        return "aside" if key(entry) in self._aside else "standing"

    def questions(self):
        """A line that says nothing asks nothing; of several lines the question stands at the newest."""
        for entries, words in ((self.waiting, "corrects what is not here"), (self.cut, "corrected too deep")):
            yield from ((entry, words) for entry in entries if self.word(entry) == "standing")
        yield from ((lines[-1], "corrected more than once") for lines in self.concurrent)

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

    def _superseded(self, at):
        """A replacement that was replaced itself still holds down what it replaced."""
        return any(not self.withdrawn(replacement) for replacement in self._replacements.get(at, ()))

    def _withdrawn(self, at):
        """Who strikes what was replaced already strikes nothing: they meant what took its place, or did not know."""
        return not self.superseded(at) and any(self._says_something(strike) for strike in self._strikes.get(at, ()))

    def _says_something(self, at):
        return not self.superseded(at) and not self.withdrawn(at)

    def _set_aside(self, entries):
        """Two people who correct one line without knowing of each other (§7)."""
        heirs = defaultdict(list)
        for entry in entries:
            if self._says_something(key(entry)):
                heirs[self._first(key(entry))].append(entry)
        self.concurrent = [lines for lines in heirs.values() if len(lines) > 1]
        return {key(entry) for lines in self.concurrent for entry in lines[:-1]}

    def _first(self, at):
        """Back from a line that says something through what is replaced: all on the way is superseded."""
        while at in self._target and not self._is_strike(at):
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
