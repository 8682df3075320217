"""Who may read, write and admit, by the ledgers alone (members.md)."""

from collections import Counter
from typing import NamedTuple

from knowledge import Knowledge, Seat, is_in

NONE, READER, WRITER, KEEPER = range(4)
NAMES = ("none", "reader", "writer", "keeper")
BEFORE_THE_FIRST = "0" * 64
MOST = 200    # admissions and revocations of one ledger that may count (§11)


class Admission(NamedTuple):
    seat: Seat
    device: str
    key: str
    right: int

    @property
    def ledger(self):
        return self.device, self.key


class Revocation(NamedTuple):
    seat: Seat
    device: str
    from_the_first: bool
    last: Seat | None    # the last line of the device that stays; None if it is not here


class Members:
    """The rights of all that is here. `files` are those of the herd; `founder` is a key, or None in an open herd."""

    def __init__(self, files, founder):
        self.knowledge, self.founder = Knowledge(files), founder
        self._admissions, revocations, beyond = self._said()
        begun = founder_ledger(self.knowledge, founder)
        self._worlds = lambda known, revoked: World(self.knowledge, begun, founder, known, self._admissions, revoked)
        counting = self._those_that_count(revocations)
        self._world = self._worlds(self.knowledge.of_everybody(), counting)
        count = {said.seat for said in (*self._world.admissions, *counting)}
        said = {said.seat for said in (*self._admissions, *revocations)} | beyond
        self._no_keepers = set() if founder is None else said - count

    def seat_of(self, device, year, row):
        return self.knowledge.seat_of(device, year, row)

    def right(self, seat):
        return KEEPER if self.founder is None else self._world.right_at(seat)

    def why_apart(self, seat):
        """Why a line counts for nothing (§11), or None if it counts."""
        right = self.right(seat)
        if right >= WRITER:
            return None
        if right == READER:
            return "may only read"
        return "revoked" if self._world.right(seat.ledger, [], lifted=True) else "not admitted"

    def word(self, seat):
        why = self.why_apart(seat)
        return f"apart {why}" if why else NAMES[self.right(seat)]

    def is_no_keepers(self, seat):
        """Whether it admits or revokes and does not count."""
        return seat in self._no_keepers

    def now(self, device, key):
        """The right now (§10), whether the device has a ledger here or not."""
        right = KEEPER if self.founder is None else self._world.right((device, key), self._world.revocations_of(device))
        return NAMES[right]

    def apart_in(self, device, year):
        """(line number, why) of the lines of a file that are kept apart."""
        whys = ((row.number, self.why_apart(seat)) for row, seat in self.knowledge.seats_in(device, year))
        return [(number, why) for number, why in whys if why]

    def _said(self):
        """Admissions, revocations, and the seats of those that are too many."""
        admissions, revocations, beyond = [], [], set()
        for of_ledger in self.knowledge.said("admit", "revoke"):
            beyond |= {seat for seat, _ in of_ledger[MOST:]}
            for seat, line in of_ledger[:MOST]:
                parts = line.parts
                if line.act == "admit":
                    admissions.append(Admission(seat, parts["device"], parts["key"], NAMES.index(parts["as"])))
                else:
                    last = self.knowledge.seat_of_mark(parts["device"], parts["after"])
                    revocations.append(Revocation(seat, parts["device"], parts["after"] == BEFORE_THE_FIRST, last))
        return admissions, revocations, beyond

    def _those_that_count(self, revocations):
        """Each is judged by what it knows (§7), and that it knows was judged before it: it knows more than they did."""
        counting = []
        for revocation in sorted(revocations, key=lambda one: sum(self.knowledge.before(one.seat).values())):
            if self._worlds(self.knowledge.before(revocation.seat), counting).is_keeper(revocation.seat):
                counting.append(revocation)
        return counting


class World:
    """Rights by a part of all lines: so many of each ledger, those that are here or those that one line knows."""

    def __init__(self, knowledge, begun, founder, known, admissions, revocations):
        self._knowledge, self._begun, self._founder, self._known = knowledge, begun, founder, known
        self.revocations = [one for one in revocations if is_in(known, one.seat)]
        self.admissions = self._those_that_count([one for one in admissions if is_in(known, one.seat)])

    def revocations_of(self, device):
        return [one for one in self.revocations if one.device == device]

    def is_keeper(self, seat):
        return self._right_by_name(seat.ledger, self._cuts(seat)) == KEEPER

    def right_at(self, seat):
        return self.right(seat.ledger, self._cuts(seat))

    def right(self, ledger, cuts, lifted=False):
        """The right of a ledger where these revocations cut it off; `lifted`: if none had ever been (§11)."""
        return max(self._right_by_name(ledger, cuts), self._right_by_key(ledger, cuts, lifted))

    def _those_that_count(self, admissions):
        """From the founder on, until no more count (§8). Only a right by name is a keeper's."""
        self.admissions, before = [], None
        while before != len(self.admissions):
            before = len(self.admissions)
            self.admissions = [one for one in admissions if self.is_keeper(one.seat)]
        return self.admissions

    def _cuts(self, seat):
        return [one for one in self.revocations_of(seat.device) if self._is_behind(seat, one)]

    def _is_behind(self, seat, revocation):
        if revocation.from_the_first:
            return True
        last = revocation.last
        return last is not None and is_in(self._known, last) and seat.place > last.place

    def _right_by_name(self, ledger, cuts):
        """§8"""
        if ledger == self._begun and not cuts:
            return KEEPER
        given = [one.right for one in self.admissions if one.ledger == ledger and self._knows_all(one, cuts)]
        return max(given, default=NONE)

    def _right_by_key(self, ledger, cuts, lifted):
        """§8a"""
        device, key = ledger
        of_key = [] if lifted else self._revocations_of_key(key)
        if self._begun and key == self._founder and ledger != self._begun and not of_key and not cuts:
            return WRITER
        others = [one for one in self.admissions if one.key == key and one.device != device]
        return max((min(one.right, WRITER) for one in others if self._knows_all(one, [*cuts, *of_key])), default=NONE)

    def _revocations_of_key(self, key):
        devices = {one.device for one in self.admissions if one.key == key}
        if self._begun and key == self._founder:
            devices.add(self._begun[0])
        return [one for one in self.revocations if one.device in devices]

    def _knows_all(self, admission, revocations):
        return all(self._knowledge.knows(admission.seat, one.seat) for one in revocations)


def founder_of(files):
    """The key of who begins the herd (§2), or None if it is open. `files` as (device, year, ledger), in order."""
    first = {}
    for device, _, ledger in files:
        first.setdefault(device, ledger.head)
    if len(first) == 1:
        return next(iter(first.values())).herd_key
    named = Counter(head.founder for head in first.values() if head.founder)
    return min(named, key=lambda key: (-named[key], key), default=None)


def founder_ledger(knowledge, founder):
    """The founder's ledger (§2), or None if it is not here."""
    devices = [device for device, head in knowledge.first_heads() if head.key == founder and not head.founder]
    return (min(devices), founder) if devices else None
