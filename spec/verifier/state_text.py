"""The canonical state text (fold.md): one fact a line, so that two programs can be compared byte for byte."""

import days
from vocabulary import CLAWS, FEET


def lines(fold):
    for animal in fold.animals:
        facts = only_first_line(animal) if animal.left else all_facts(animal, fold.day)
        for fact in facts:
            yield " ".join(str(word) for word in (animal.number, *fact) if word is not None)


def only_first_line(animal):
    yield presence(animal)


def all_facts(animal, day):
    """Each fact is a tuple of words, None where there is nothing to say."""
    yield presence(animal)
    yield from lactation(animal)
    yield from identity(animal)
    yield from lameness(animal)
    yield from on_feet(animal)
    yield from waiting(animal)
    yield from lifting(animal)
    yield from held(animal, days.end_of(day))
    for words in animal.questions:
        yield "question", words


def presence(animal):
    use = ("use", animal.use) if animal.use > 1 else ()
    left = ("left", animal.left, animal.left_how, "feet" if animal.left_for_feet else None)
    return *use, *(left if animal.left else ("present",)), *named("joined", animal.joined), *named("group", animal.group)


def named(name, value):
    return (name, value) if value is not None else ()


def lactation(animal):
    if animal.dry:
        yield "dry", "since", animal.dry
    elif animal.calved:
        yield "milk", "lactation", animal.lactation, "calved", animal.calved
    if animal.calving_due:
        yield "calving", "due", animal.calving_due
    if animal.drying_due:
        yield "drying", "due", animal.drying_due


def identity(animal):
    if animal.ear:
        yield "ear", animal.ear
    if animal.electronic:
        yield "electronic", animal.electronic


def lameness(animal):
    if last := animal.scores.last():
        day, scale, value = last
        yield "score", value, *named("scale", scale), "on", day
    if since := animal.scores.lame_since():
        yield "lame", "since", since


def on_feet(animal):
    for case in animal.cases.open():
        details = *named("zone", case.zone), *named("grade", case.grade)
        yield case.foot, case.claw, "lesion", case.code, case.stage, *details, "first", case.first, "last", case.last
    for foot in FEET:
        for claw in CLAWS:
            if (foot, claw) in animal.blocks:
                kind, since = animal.blocks[foot, claw]
                yield foot, claw, "block", kind, "since", since
    for foot in FEET:
        if foot in animal.dressings:
            yield foot, "dressing", "since", animal.dressings[foot]


def waiting(animal):
    """Several of a kind in the order they were set."""
    for kind, orders in (("recheck", animal.rechecks), ("vet", animal.vet_orders)):
        for order in orders:
            yield order.foot, kind, "due", order.due, "set", order.set
    for foot, day in animal.referrals:
        yield foot, "referred", day


def lifting(animal):
    if animal.trimmed:
        yield "trimmed", *animal.trimmed
    if animal.lifted:
        yield "lifted", animal.lifted


def held(animal, end_of_day):
    for what, until in (("milk", animal.milk_held), ("meat", animal.meat_held)):
        if until and until > end_of_day:
            yield what, "held", "to", until.strftime(days.WRITTEN)
