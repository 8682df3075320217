"""One animal between joining and leaving: its lines, one after the other, to its state (fold.md §2 to 16)."""

import days
from cases import Cases
from history import History
from lameness import When
from questions import Question
from scores import Scores
from vocabulary import CLAWS, FEET
from waiting import Waiting, WaitingList


class Animal:
    def __init__(self, number, use):
        self.number, self.use = number, use
        self.joined = self.ear = self.electronic = None
        self.groups, self.dried = History(), History()      # a group; since when she is dry, none if she is not
        self.left, self.left_how, self.left_for_feet = None, None, False
        self.lactation, self.calved = None, None
        self.calving_due = self.drying_due = None
        self.scores, self.cases = Scores(), Cases()
        self.blocks, self.dressings = {}, {}        # (foot, claw) -> (kind, day), foot -> day
        self.rechecks, self.vet_orders = WaitingList(), WaitingList()
        self.referrals = []                         # (foot, day)
        self.trimmed = None                         # (kind, day)
        self.liftings = []                          # When, in order
        self.milk_held, self.meat_held = None, None
        self._questions = []

    @property
    def group(self):
        return self.groups.last

    @property
    def dry(self):
        return self.dried.last

    def questions(self):
        return [*self._questions, *(Question(entry, "scores differ") for entry in self.scores.differing())]

    def ask(self, words, entry):
        self._questions.append(Question(entry, words))

    def left_before(self, day):
        return self.left is not None and self.left < day

    def take(self, line, entry, protocol):
        """A line of an act that has no method here says nothing about her state."""
        fold = getattr(self, f"_{line.act}", None)
        if fold:
            fold(line, entry, protocol)

    # Coming and going

    def _joined(self, line, entry, _):
        """What she came with is older news than what was seen of her here."""
        if self.joined:
            self.ask("joined twice", entry)
            return
        self.joined = line.date
        self.lactation = self.lactation or line.parts["lactation"]
        self.calved = self.calved or line.parts["calved"]

    def _left(self, line, entry, _):
        if self.left:
            self.ask("left twice", entry)
            return
        self.left, self.left_how, self.left_for_feet = line.date, line.parts["how"], line.parts["feet"]

    def _moved(self, line, *_):
        self.groups.add(line.date, line.parts["to"])

    def _tagged(self, line, *_):
        self.ear = line.parts["ear"] or self.ear
        self.electronic = line.parts["electronic"] or self.electronic

    # Feet

    @property
    def lifted(self):
        return self.liftings[-1].day if self.liftings else None

    def _lift(self, line):
        self.liftings.append(When(line.date, line.time))

    def _score(self, _line, entry, _protocol):
        self.scores.take(entry)

    def _trim(self, line, _, protocol):
        feet, day = line.parts["feet"], line.date
        self._lift(line)
        self.trimmed = line.parts["kind"], day
        self.cases.not_found(feet, day, "trim")
        for waiting in (self.rechecks, self.vet_orders):
            waiting.trimmed(feet, day, protocol.early)

    def _lesion(self, line, _, protocol):
        self._lift(line)
        if line.parts["code"] == "none":
            self.cases.not_found(line.parts["feet"], line.date, "lesion none")
        else:
            self.cases.see(line, protocol.repeat)

    def _block(self, line, entry, _):
        foot, claw = line.parts["foot"], line.parts["claw"]
        if line.parts["state"] == "on":
            self._lift(line)
            self.blocks[foot, claw] = line.parts["kind"], line.date
        else:
            self._take_off(self.blocks, [(foot, claw)] if claw else [(foot, each) for each in CLAWS], entry)

    def _dressing(self, line, entry, _):
        foot = line.parts["foot"]
        if line.parts["state"] == "on":
            self._lift(line)
            self.dressings[foot] = line.date
        else:
            self._take_off(self.dressings, [foot], entry)

    def _take_off(self, things, places, entry):
        taken = [things.pop(place) for place in places if place in things]
        if not taken:
            self.ask("nothing to take off", entry)

    def _recheck(self, line, *_):
        foot, day = line.parts["foot"], line.date
        if "due" in line.parts:
            self.rechecks.wait(Waiting(foot, line.parts["due"], day))
            return
        self._lift(line)
        if line.parts["found"] == "sound":
            self.cases.not_found([foot] if foot else FEET, day, "recheck found")
        for waiting in (self.rechecks, self.vet_orders):
            waiting.found(foot, day)

    # The vet

    def _refer(self, line, *_):
        self.referrals.append((line.parts["foot"], line.date))

    def _seen(self, line, *_):
        """What was referred is done, and what the vet ordered on an earlier day."""
        self._lift(line)
        self.referrals.clear()
        self.vet_orders.seen(line.date)
        if line.parts["due"]:
            self.vet_orders.wait(Waiting(line.parts["foot"], line.parts["due"], line.date))

    def _medicine(self, line, *_):
        milk, meat = (days.end_of_hold(line.date, line.time, line.parts[what]) for what in ("milk", "meat"))
        self.milk_held = max(milk, self.milk_held or milk)
        self.meat_held = max(meat, self.meat_held or meat)

    # Lactation

    def _calved(self, line, *_):
        if "due" in line.parts:
            self.calving_due = line.parts["due"]
        else:
            self._calve(line.date, line.parts["lactation"])

    def _calve(self, day, lactation):
        """Nobody knows how often she calved before: then a count from here would only look like a number."""
        self.calved, self.lactation = day, lactation or (self.lactation and self.lactation + 1)
        self.dried.add(day, None)
        self.calving_due = self.drying_due = None

    def _dried(self, line, *_):
        if line.parts["due"]:
            self.drying_due = line.parts["due"]
        else:
            self.dried.add(line.date, line.date)
            self.drying_due = None
