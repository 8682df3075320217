"""One animal between joining and leaving: its lines, one after the other, to its state (fold.md §2 to 16)."""

import days
from cases import Cases
from scores import Scores
from vocabulary import CLAWS, FEET
from waiting import Waiting, WaitingList


class Animal:
    def __init__(self, number, use):
        self.number, self.use = number, use
        self.joined = self.group = self.ear = self.electronic = None
        self.left, self.left_how, self.left_for_feet = None, None, False
        self.lactation, self.calved, self.dry = 0, None, None
        self.calving_due = self.drying_due = None
        self.scores, self.cases = Scores(), Cases()
        self.blocks, self.dressings = {}, {}        # (foot, claw) -> (kind, day), foot -> day
        self.rechecks, self.vet_orders = WaitingList(), WaitingList()
        self.referrals = []                         # (foot, day)
        self.trimmed, self.lifted = None, None      # (kind, day), day
        self.milk_held, self.meat_held = None, None
        self._questions = {}                        # by what they are about, in the order they came up

    @property
    def questions(self):
        return list(self._questions.values())

    def ask(self, words):
        self._questions[len(self._questions), words] = words

    def left_before(self, day):
        return self.left is not None and self.left < day

    def take(self, line, device, protocol):
        """A line of an act that has no method here says nothing about her state."""
        fold = getattr(self, f"_{line.act}", None)
        if fold:
            fold(line, device, protocol)

    # Coming and going

    def _joined(self, line, *_):
        if self.joined:
            self.ask("joined twice")
            return
        self.joined = line.date
        self.lactation = line.parts["lactation"] or self.lactation
        if line.parts["calved"]:
            self._calve(line.parts["calved"], line.parts["lactation"])

    def _left(self, line, *_):
        if self.left:
            self.ask("left twice")
            return
        self.left, self.left_how, self.left_for_feet = line.date, line.parts["how"], line.parts["feet"]

    def _moved(self, line, *_):
        self.group = line.parts["to"]

    def _tagged(self, line, *_):
        self.ear = line.parts["ear"] or self.ear
        self.electronic = line.parts["electronic"] or self.electronic

    # Feet

    def _score(self, line, device, _):
        about = "scores", line.date, line.parts["scale"]
        if not self.scores.take(line, device):
            self._questions.pop(about, None)
        else:
            self._questions.setdefault(about, "scores differ")

    def _trim(self, line, _, protocol):
        feet, day = line.parts["feet"], line.date
        self.lifted, self.trimmed = day, (line.parts["kind"], day)
        self.cases.not_found(feet, day, "trim")
        for waiting in (self.rechecks, self.vet_orders):
            waiting.trimmed(feet, day, protocol.early)

    def _lesion(self, line, _, protocol):
        self.lifted = line.date
        if line.parts["code"] == "none":
            self.cases.not_found(line.parts["feet"], line.date, "lesion none")
        else:
            self.cases.see(line, protocol.repeat)

    def _block(self, line, *_):
        foot, claw = line.parts["foot"], line.parts["claw"]
        if line.parts["state"] == "on":
            self.lifted = line.date
            self.blocks[foot, claw] = line.parts["kind"], line.date
        else:
            self._take_off(self.blocks, [(foot, claw)] if claw else [(foot, each) for each in CLAWS])

    def _dressing(self, line, *_):
        foot = line.parts["foot"]
        if line.parts["state"] == "on":
            self.lifted = line.date
            self.dressings[foot] = line.date
        else:
            self._take_off(self.dressings, [foot])

    def _take_off(self, things, places):
        taken = [things.pop(place) for place in places if place in things]
        if not taken:
            self.ask("nothing to take off")

    def _recheck(self, line, *_):
        foot, day = line.parts["foot"], line.date
        if "due" in line.parts:
            self.rechecks.append(Waiting(foot, line.parts["due"], day))
            return
        self.lifted = day
        if line.parts["found"] == "sound":
            self.cases.not_found([foot] if foot else FEET, day, "recheck found")
        for waiting in (self.rechecks, self.vet_orders):
            waiting.found(foot, day)

    # The vet

    def _refer(self, line, *_):
        self.referrals.append((line.parts["foot"], line.date))

    def _seen(self, line, *_):
        """The vet's word now is the word that holds: what was referred, or ordered before, is done."""
        self.lifted = line.date
        self.referrals.clear()
        self.vet_orders.clear()
        if line.parts["due"]:
            self.vet_orders.append(Waiting(line.parts["foot"], line.parts["due"], line.date))

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
        self.calved, self.lactation = day, lactation or self.lactation + 1
        self.dry = self.calving_due = self.drying_due = None

    def _dried(self, line, *_):
        if line.parts["due"]:
            self.drying_due = line.parts["due"]
        else:
            self.dry, self.drying_due = line.date, None
