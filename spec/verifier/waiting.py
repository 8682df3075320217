"""What was set to be looked at again: rechecks, and the vet's orders (fold.md §10 and 11)."""

from typing import NamedTuple

import days
from vocabulary import FEET


class Waiting(NamedTuple):
    foot: str | None
    due: str
    set: str

    def is_met_by_finding(self, foot, day):
        return day > self.set and (self.foot is None or foot is None or self.foot == foot)

    def is_met_by_trim(self, feet, day, early):
        """Too early, she was lifted for something else."""
        return day > self.set and (self.foot is None or self.foot in feet) and days.between(day, self.due) <= early


    def place(self):
        """Soonest due first, of one day those of no foot first."""
        return self.due, FEET.index(self.foot) if self.foot else -1, self.set


class WaitingList(list):
    def wait(self, new):
        """One day and foot once: who says it again adds nothing."""
        if not any((one.due, one.foot) == (new.due, new.foot) for one in self):
            self.append(new)
            self.sort(key=Waiting.place)

    def found(self, foot, day):
        self[:] = [one for one in self if not one.is_met_by_finding(foot, day)]

    def trimmed(self, feet, day, early):
        self[:] = [one for one in self if not one.is_met_by_trim(feet, day, early)]

    def seen(self, day):
        self[:] = [one for one in self if day <= one.set]
