"""The standing lines of a log, up to a day, to the animals of the herd (fold.md)."""

import re
from collections import Counter

from animal import Animal
from protocol import Protocols


class Fold:
    def __init__(self, log, day, protocols=None):
        self.day, self.protocols = day, protocols or Protocols()
        self._animals, self._holder, self._uses = [], {}, Counter()
        lines = [(said.line, said.entry.device) for said in log.said if said.entry.line.date <= day]
        self._adopt(lines)
        for line, device in lines:
            subject, number = line.subject
            if subject == "cow":
                self._take(number, line, device)

    @property
    def animals(self):
        """By number, then which use of the number."""
        return sorted(self._animals, key=lambda animal: (*by_number(animal.number), animal.use))

    def _adopt(self, lines):
        """First of all: a protocol applies from the beginning of its day."""
        for line, _ in lines:
            if line.act == "adopt":
                self.protocols.adopt(line.date, line.parts["protocol"])

    def _take(self, number, line, device):
        animal = self._holder.get(number)
        if animal is None or (animal.left and line.act == "joined"):
            animal = self._begin(number)
        if animal.left_before(line.date):
            animal.ask("left twice" if line.act == "left" else "had left")
        elif line.act == "renumbered":
            self._renumber(animal, line.parts["to"])
        else:
            animal.take(line, device, self.protocols.on(line.date))

    def _begin(self, number):
        animal = Animal(number, None)
        self._animals.append(animal)
        self._give_number(animal, number)
        return animal

    def _renumber(self, animal, number):
        other = self._holder.get(number)
        if other is animal:
            return
        if other and not other.left:
            animal.ask("number in use")
            return
        del self._holder[animal.number]
        self._give_number(animal, number)

    def _give_number(self, animal, number):
        self._uses[number] += 1
        self._holder[number] = animal
        animal.number, animal.use = number, self._uses[number]


def by_number(number):
    digits, letter = re.fullmatch("([0-9]+)([A-Z]?)", number).groups()
    return int(digits), letter
