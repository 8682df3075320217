"""The canonical state text (fold.md): one fact a line, so that two programs can be compared byte for byte."""

import days
from lameness import lameness
from vocabulary import CLAWS, FEET


def lines(fold):
    questions = fold.questions()
    for number in fold.numbers:
        for fact in facts_of(number, fold, questions):
            yield " ".join(str(word) for word in (number, *fact) if word is not None)


def facts_of(number, fold, questions):
    """Each fact is a tuple of words, None where there is nothing to say."""
    for animal in fold.animals_of(number):
        yield presence(animal)
        if not animal.left:
            yield from facts_of_present(animal, fold)
    for question in questions:
        if question.number == number:
            yield "question", question.words


def facts_of_present(animal, fold):
    yield from lactation(animal)
    yield from identity(animal)
    yield from lame(animal, fold.rounds)
    yield from on_feet(animal)
    yield from waiting(animal)
    yield from lifting(animal)
    yield from held(animal, days.end_of(fold.day))


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
        yield "milk", *named("lactation", animal.lactation), "calved", animal.calved
    if animal.calving_due:
        yield "calving", "due", animal.calving_due
    if animal.drying_due:
        yield "drying", "due", animal.drying_due


def identity(animal):
    if animal.ear:
        yield "ear", animal.ear
    if animal.electronic:
        yield "electronic", animal.electronic


def lame(animal, rounds):
    if scores := animal.scores.counted():
        yield "score", scores[-1].value, *named("scale", scores[-1].scale), "on", scores[-1].day
    since, past = lameness(animal, rounds)
    if since:
        yield "lame", "since", since
    if past:
        yield "walked", "past", "on", past


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
