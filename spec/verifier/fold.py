"""The standing lines of a log, up to a day, to the animals of the herd (fold.md)."""

import re
from collections import Counter

import questions
from animal import Animal
from lameness import Round
from protocol import Protocols


class Fold:
    def __init__(self, log, day, protocols=None):
        self.day, self.protocols = day, protocols or Protocols()
        self._animals, self._holder, self._uses = [], {}, Counter()
        heard = [(line, entry) for line, entry in log.heard() if line.date <= day]
        self._adopt(heard)
        self.rounds = [Round.of(line) for line, _ in heard if line.act == "tally"]
        for line, entry in heard:
            # What a strike does is done already: it says nothing of the cow.
            if line.subject[0] == "cow" and line.act != "strike":
                self._take(line, entry)
        self._questions = [*questions.of_log(log, day), *questions.not_yet(log, day)]

    @property
    def numbers(self):
        """Of animals, and those that only questions are about."""
        asked = {question.number for question in self.questions()} - {None}
        return sorted(asked | {animal.number for animal in self._animals}, key=by_number)

    def animals_of(self, number):
        """By which use of the number."""
        return sorted((animal for animal in self._animals if animal.number == number), key=lambda animal: animal.use)

    def questions(self):
        """In the order of the lines at which they stand."""
        of_animals = (question for animal in self._animals for question in animal.questions())
        return sorted([*of_animals, *self._questions], key=questions.Question.order)

    def _adopt(self, heard):
        """First of all: a protocol applies from the beginning of its day."""
        for line, _ in heard:
            if line.act == "adopt":
                self.protocols.adopt(line.date, line.parts["protocol"])

    def _take(self, line, entry):
        number = line.subject[1]
        animal = self._holder.get(number)
        if animal is None or (animal.left and line.act == "joined"):
            animal = self._begin(number)
        if animal.left_before(line.date):
            animal.ask("left twice" if line.act == "left" else "had left", entry)
        elif line.act == "renumbered":
            self._renumber(animal, line.parts["to"], entry)
        else:
            animal.take(line, entry, self.protocols.on(line.date))

    def _begin(self, number):
        animal = Animal(number, None)
        self._animals.append(animal)
        self._give_number(animal, number)
        return animal

    def _renumber(self, animal, number, entry):
        other = self._holder.get(number)
        if other is animal:
            return
        if other and not other.left:
            animal.ask("number in use", entry)
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
