"""The acts (line.md §10): one function each, taking the cursor just after the act's word.

Every part is asked for in the one order it may stand in, so a part out of order
is left over and the line is refused.
"""

from itertools import pairwise

import vocabulary as words
from refused import require
from values import (
    cow, date, decimal, device, ear_tag, electronic, hex64, hold, mark, name, number, sole, strength, year,
)


def feet(at):
    found = [at.one_of(*words.FEET)]
    while foot := at.maybe(*words.FEET):
        found.append(foot)
    places = [words.FEET.index(foot) for foot in found]
    require(all(a < b for a, b in pairwise(places)), 13, "feet are written once each, in the order LF RF LH RH")
    return found


def foot(at):
    return at.one_of(*words.FEET)


def maybe_foot(at):
    return at.maybe(*words.FEET)


def maybe_scale(at):
    return at.one_of(*words.NAMED_SCALES) if at.maybe("scale") else None


def score(at):
    value, scale = at.word(), maybe_scale(at)
    require(value in words.SCALES[scale], 10, f"{value} is not on the scale")
    return {"value": value, "scale": scale, "foot": maybe_foot(at)}


def tally(at):
    walked = at.after("walked", number(1, 99_999))
    zeros = at.maybe_after("zeros", number(0, 99_999))
    ones = at.maybe_after("ones", number(0, 99_999))
    scale = maybe_scale(at)
    require((zeros or 0) + (ones or 0) <= walked, 11, "zeros and ones are more than walked")
    counted = zeros is not None or ones is not None
    require(not counted or scale in words.SCALES_THAT_COUNT_ZEROS_AND_ONES, 13, f"no zeros or ones with scale {scale}")
    return {"walked": walked, "zeros": zeros, "ones": ones, "scale": scale}


def trim(at):
    return {
        "kind": at.one_of(*words.TRIMS),
        "feet": feet(at),
        "claw": at.maybe(*words.CLAWS),
        "wall": at.maybe_after("wall", number(50, 150, "mm")),
        "sole": at.maybe_after("sole", sole),
        "angle": at.maybe_after("angle", number(20, 80, "deg")),
    }


def lesion(at):
    if at.maybe("none"):
        return {"code": "none", "feet": feet(at)}
    code = at.one_of(*words.LESIONS)
    stage = at.maybe(*words.STAGES)
    require(stage is None or code == words.STAGED_LESION, 13, "a stage stands only with DD")
    return {
        "code": code,
        "stage": stage,
        "foot": foot(at),
        "claw": at.maybe(*words.CLAWS),
        "zone": at.maybe_after("zone", number(0, 12)),
        "grade": at.maybe_after("grade", number(1, 3)),
    }


def block(at):
    state = at.one_of("on", "off", "lost")
    if state == "on":
        return {"state": state, "foot": foot(at), "claw": at.one_of(*words.CLAWS), "kind": at.maybe(*words.BLOCK_KINDS)}
    return {"state": state, "foot": foot(at), "claw": at.maybe(*words.CLAWS)}


def dressing(at):
    return {"state": at.one_of("on", "off"), "foot": foot(at)}


def recheck(at):
    if at.one_of("due", "found") == "due":
        return {"due": date(at.word()), "foot": maybe_foot(at)}
    return {"found": at.one_of(*words.FINDINGS), "foot": maybe_foot(at)}


def refer(at):
    return {"foot": maybe_foot(at)}


def seen(at):
    return {"foot": maybe_foot(at), "due": at.maybe_after("due", date)}


def medicine(at):
    return {
        "product": at.quoted(),
        "batch": at.maybe_quoted_after("batch"),
        "dose": at.after("dose", decimal),
        "unit": at.one_of(*words.UNITS),
        "route": at.one_of(*words.ROUTES) if at.maybe("route") else None,
        "for": at.maybe_quoted_after("for"),
        "milk": at.after("milk", hold),
        "meat": at.after("meat", hold),
    }


def bath(at):
    return {
        "product": at.one_of(*words.BATHS),
        "strength": strength(at.word()) if at.peek().endswith("%") else None,
        "passes": at.maybe_after("passes", number(1, 20)),
    }


def calved(at):
    if at.peek() == "due":
        return {"due": at.after("due", date)}
    return {"lactation": at.maybe_after("lactation", number(1, 20))}


def dried(at):
    return {"due": at.maybe_after("due", date)}


def joined(at):
    return {"lactation": at.maybe_after("lactation", number(1, 20)), "calved": at.maybe_after("calved", date)}


def left(at):
    return {"how": at.one_of(*words.DEPARTURES), "feet": at.maybe("feet") is not None}


def renumbered(at):
    return {"to": at.after("to", cow)}


def tagged(at):
    ear, chip = at.maybe_after("ear", ear_tag), at.maybe_after("electronic", electronic)
    require(ear or chip, 10, "tagged needs an ear or an electronic number")
    return {"ear": ear, "electronic": chip}


def moved(at):
    return {"to": at.after("to", name)}


def note(at):
    return {}


def strike(at):
    return {"mark": mark(at.word()), "of": at.maybe_after("of", device)}


def admit(at):
    return {"device": device(at.word()), "key": at.after("key", hex64), "as": at.after("as", role)}


def role(word):
    require(word in words.ROLES, 10, f"{word} is not a role")
    return word


def revoke(at):
    return {"device": device(at.word()), "after": at.after("after", hex64)}


def adopt(at):
    return {"protocol": hex64(at.word())}


def witness(at):
    return {
        "device": device(at.word()),
        "year": year(at.word()),
        "length": at.after("length", number(1, 4_294_967_295)),
        "mark": at.after("mark", hex64),
    }


OF_A_COW = (
    score, trim, lesion, block, dressing, recheck, refer, seen, medicine, calved, dried, joined, left,
    renumbered, tagged, moved,
)
OF_HERD_OR_GROUP = (tally, bath)
OF_THE_HERD = (admit, revoke, adopt, witness)
OF_ANY = (note, strike)

ACTS = {
    **{act.__name__: (act, {"cow"}) for act in OF_A_COW},
    **{act.__name__: (act, {"herd", "group"}) for act in OF_HERD_OR_GROUP},
    **{act.__name__: (act, {"herd"}) for act in OF_THE_HERD},
    **{act.__name__: (act, {"cow", "herd", "group"}) for act in OF_ANY},
}
NEED_WORDS = {"refer", "note", "strike"}
NO_REFERENCE = {"strike"}
