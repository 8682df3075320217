"""What was set to be looked at again: rechecks, and the vet's orders (fold.md §10 and 11)."""

from typing import NamedTuple

import days


class Waiting(NamedTuple):
    foot: str | None
    due: str
    set: str

    def is_met_by_finding(self, foot, day):
        return day > self.set and (self.foot is None or foot is None or self.foot == foot)

    def is_met_by_trim(self, feet, day, early):
        """Too early, she was lifted for something else."""
        return day > self.set and (self.foot is None or self.foot in feet) and days.between(day, self.due) <= early


class WaitingList(list):
    def found(self, foot, day):
        self[:] = [one for one in self if not one.is_met_by_finding(foot, day)]

    def trimmed(self, feet, day, early):
        self[:] = [one for one in self if not one.is_met_by_trim(feet, day, early)]
