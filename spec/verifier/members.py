"""Who may read, write and admit, by the ledgers alone (members.md)."""

from collections import Counter
from typing import NamedTuple

from knowledge import Knowledge, Seat

NONE, READER, WRITER, KEEPER = range(4)
NAMES = ("none", "reader", "writer", "keeper")


class Admission(NamedTuple):
    seat: Seat
    device: str
    key: str
    right: int


class Revocation(NamedTuple):
    seat: Seat
    device: str
    last: int | None    # which line of the device is the last that stays; None if it is not here


class Members:
    """The rights of all that is here. `files` are those of the herd; `founder` is a key, or None in an open herd."""

    def __init__(self, files, founder):
        self.knowledge, self.founder = Knowledge(files), founder
        self._admissions, revocations = self._said()
        self._revocations = [] if founder is None else self._those_that_count(revocations)
        self._world = self._world_of(self.knowledge.of_everybody())
        counting = {said.seat for said in (*self._world.admissions, *self._revocations)}
        self._no_keepers = set() if founder is None else {
            said.seat for said in (*self._admissions, *revocations) if said.seat not in counting
        }

    def seat_of(self, device, year, row):
        return self.knowledge.seat_of(device, year, row)

    def right(self, seat):
        return WRITER if self.founder is None else self._world.right(seat)

    def why_apart(self, seat):
        """Why a line counts for nothing (§11), or None if it counts."""
        right = self.right(seat)
        if right >= WRITER:
            return None
        if right == READER:
            return "may only read"
        return "revoked" if self._world.is_cut_off(seat) else "not admitted"

    def word(self, seat):
        why = self.why_apart(seat)
        return f"apart {why}" if why else NAMES[self.right(seat)]

    def is_no_keepers(self, seat):
        """Whether it admits or revokes without its writer's being a keeper."""
        return seat in self._no_keepers

    def now(self, device, key=None):
        """The right to a line that would follow the last one. Who has written nothing has a key all the same."""
        seat = self.knowledge.next_seat(device) if device in self.knowledge.written else Seat(device, 0, key)
        return NAMES[self.right(seat)]

    def apart_in(self, device, year):
        """(line number, why) of the lines of a file that are kept apart."""
        whys = ((row.number, self.why_apart(seat)) for row, seat in self.knowledge.seats_in(device, year))
        return [(number, why) for number, why in whys if why]

    def _said(self):
        admissions, revocations = [], []
        for seat, line in self.knowledge.seats("admit", "revoke"):
            parts = line.parts
            if line.act == "admit":
                admissions.append(Admission(seat, parts["device"], parts["key"], NAMES.index(parts["as"])))
            else:
                last = self.knowledge.index_of_mark(parts["device"], parts["after"])
                revocations.append(Revocation(seat, parts["device"], last))
        return admissions, revocations

    def _those_that_count(self, revocations):
        """Each is judged by what it knows (§7), and that it knows was judged before it: it knows more than they did."""
        self._revocations = []
        for revocation in sorted(revocations, key=lambda one: sum(self.knowledge.before(one.seat).values())):
            if self._world_of(self.knowledge.before(revocation.seat)).is_keeper(revocation.seat):
                self._revocations.append(revocation)
        return self._revocations

    def _world_of(self, known):
        return World(self.knowledge, self.founder, known, self._admissions, self._revocations)


class World:
    """Rights by a part of all lines: so many of each device, those that are here or those that one line knows."""

    def __init__(self, knowledge, founder, known, admissions, revocations):
        self._knowledge, self._founder, self._known = knowledge, founder, known
        self._revocations = [one for one in revocations if self._holds(one.seat)]
        self.admissions = self._those_that_count([one for one in admissions if self._holds(one.seat)])

    def is_keeper(self, seat):
        """Only the founder and who was admitted by name can be a keeper (§4)."""
        cuts = self._cuts_by_name(seat)
        if self._is_founder(seat) and not cuts:
            return True
        return any(one.right == KEEPER and self._knows_all(one, cuts) for one in self._by_name(seat))

    def right(self, seat):
        if self.is_keeper(seat):
            return KEEPER
        cuts = self._cuts_by_name(seat)
        named = [one.right for one in self._by_name(seat) if self._knows_all(one, cuts)]
        return max([NONE, *named, *self._rights_by_key(seat)])

    def is_cut_off(self, seat):
        return bool(self._cuts_by_name(seat)) or not self._is_named(seat) and bool(self._cuts_by_key(seat))

    def _holds(self, seat):
        return self._known.get(seat.device, 0) > seat.index

    def _those_that_count(self, admissions):
        """From the founder on, until no more count (§8)."""
        self.admissions, before = [], None
        while before != len(self.admissions):
            before = len(self.admissions)
            self.admissions = [one for one in admissions if self.is_keeper(one.seat)]
        return self.admissions

    def _is_founder(self, seat):
        return seat.key == self._founder and self._begins_the_herd(seat.device)

    def _begins_the_herd(self, device):
        written = self._knowledge.written.get(device)
        return bool(written) and written[0].ledger.head.key == self._founder and not written[0].ledger.head.founder

    def _by_name(self, seat):
        return [one for one in self.admissions if (one.device, one.key) == (seat.device, seat.key)]

    def _is_named(self, seat):
        return bool(self._by_name(seat))

    def _rights_by_key(self, seat):
        """What the right of another device with the same key gives (§4), if that device was not revoked."""
        cuts = self._cuts_by_name(seat)
        by_key = self._cuts_by_key(seat)
        if seat.key == self._founder and not self._is_founder(seat) and not cuts and not by_key:
            yield WRITER
        for one in self.admissions:
            if one.key == seat.key and one.device != seat.device:
                also = [cut for cut in by_key if cut.device == one.device] if self._is_named(seat) else by_key
                if self._knows_all(one, [*cuts, *also]):
                    yield min(one.right, WRITER)

    def _cuts_by_name(self, seat):
        return [one for one in self._revocations if one.device == seat.device and self._is_behind(seat, one)]

    def _is_behind(self, seat, revocation):
        last = revocation.last
        return last is not None and last < self._known.get(revocation.device, 0) and seat.index > last

    def _cuts_by_key(self, seat):
        """Those that cut off all other ledgers with a key of the revoked device (§7)."""
        return [one for one in self._revocations if one.device != seat.device and self._has_key(one.device, seat.key)]

    def _has_key(self, device, key):
        if key == self._founder and self._begins_the_herd(device):
            return True
        return any((one.device, one.key) == (device, key) for one in self.admissions)

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
