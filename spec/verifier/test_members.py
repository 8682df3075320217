"""python3 -m unittest discover spec/verifier"""

import random
import sys
import unittest
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import state_text  # noqa: E402  (the folder is not a package, so that it can be run by its name)
from blake3 import Blake3  # noqa: E402
from build import Growing, full_mark, head_body, ledger  # noqa: E402
from fold import Fold  # noqa: E402
from ledger import Ledger  # noqa: E402
from members import NAMES, Members, founder_of  # noqa: E402
from merge import Log, entries_of, files_of_herd  # noqa: E402

DEVICES = ("crush-laptop", "farm-office", "vet-tablet", "trimmer-phone")
FOUNDER = DEVICES[0]


def key(device):
    return Blake3(device.encode()).hexdigest()


def ledger_of(device):
    return device, key(device)


def founder_named(device):
    return "" if device == FOUNDER else f" founder {key(FOUNDER)}"


def files(written, year="2026"):
    """`written`: the bodies of each device."""
    return [
        (device, year, Ledger(ledger(bodies, device=device, key=key(device), follows=founder_named(device))))
        for device, bodies in written.items()
    ]


def admit(device, role="writer"):
    return f"2026-03-01 herd admit {device} key {key(device)} as {role} by kj"


class Founder(unittest.TestCase):
    def founder(self, *heads):
        """Each head as (device, key, founder's key or None)."""
        return founder_of([
            (device, "2026", Ledger(ledger([], device=device, key=own * 64, follows=f" founder {named * 64}" if named else "")))
            for device, own, named in heads
        ])

    def test_who_begins_alone(self):
        self.assertEqual(self.founder(("a", "1", None)), "1" * 64)

    def test_one_alone_that_names_another(self):
        self.assertEqual(self.founder(("b", "2", "1")), "1" * 64)

    def test_several_that_name_none_are_open(self):
        self.assertIsNone(self.founder(("a", "1", None), ("b", "2", None)))
        self.assertIsNone(self.founder())

    def test_most_then_smallest(self):
        self.assertEqual(self.founder(("a", "1", None), ("b", "2", "5"), ("c", "3", "4"), ("d", "4", "5")), "5" * 64)
        self.assertEqual(self.founder(("b", "2", "5"), ("c", "3", "4")), "4" * 64)

    def test_two_herds_of_one_name_are_two_herds(self):
        strange = ledger([], device="vet-tablet", key=key("vet-tablet"), follows=" founder " + "f" * 64)
        each = [*files({device: [] for device in DEVICES[:2]}), ("vet-tablet", "2026", Ledger(strange))]
        merged, founder = files_of_herd(each)
        self.assertEqual((founder, [device for device, *_ in merged]), (key(FOUNDER), ["crush-laptop", "farm-office"]))

    def test_a_file_of_another_device_does_not_open_the_herd(self):
        alone = files({FOUNDER: ["2026-03-14 1 score 2 by kj"]})
        misplaced = [*alone, ("vet-tablet", "2026", alone[0][2])]
        self.assertEqual(files_of_herd(misplaced)[1], key(FOUNDER))


class KeptApart(unittest.TestCase):
    """What is kept apart is an open question, and nothing else comes of it."""

    def fold(self, written, day="2026-03-31", known=None):
        return Fold(Log(list(entries_of(files(written))), known), day)

    def facts(self, *arguments, **more):
        return list(state_text.lines(self.fold(*arguments, **more)))

    def test_each_reason(self):
        for opening, words in (
            ([admit("farm-office")], "not admitted"),
            ([admit("vet-tablet", "reader")], "may only read"),
            ([admit("vet-tablet"), f"2026-03-02 herd revoke vet-tablet after {self.head_of('vet-tablet')} by kj"], "revoked"),
        ):
            written = {FOUNDER: [*opening, "2026-03-13 417 score 1 by kj"], "vet-tablet": ["2026-03-14 417 score 3 by mw"]}
            self.assertEqual(self.facts(written), ["417 present", "417 score 1 on 2026-03-13", f"417 question {words}"])

    def head_of(self, device):
        return full_mark(ledger([], device=device, key=key(device), follows=founder_named(device)))

    def test_a_cow_that_nobody_else_wrote_about(self):
        written = {FOUNDER: [], "vet-tablet": ["2026-03-14 417 score 3 by mw"]}
        self.assertEqual(self.facts(written), ["417 question not admitted"])

    def test_it_corrects_nothing(self):
        score = "2026-03-13 417 score 3 by kj"
        mark = ledger([score], key=key(FOUNDER))[-17:-1].decode()
        for body in (
            f"2026-03-14 417 strike {mark} of {FOUNDER} by mw: no",
            f"2026-03-14 417 score 1 replaces {mark} of {FOUNDER} by mw",
        ):
            facts = self.facts({FOUNDER: [score], "vet-tablet": [body]})
            self.assertIn("417 score 3 on 2026-03-13", facts)
            self.assertEqual(facts[-1], "417 question not admitted")

    def test_who_corrects_it_corrects_what_is_here(self):
        theirs = "2026-03-13 417 score 3 by mw"
        mark = ledger([theirs], device="vet-tablet", key=key("vet-tablet"), follows=founder_named("vet-tablet"))[-17:-1].decode()
        facts = self.facts({
            FOUNDER: [f"2026-03-14 417 score 1 replaces {mark} of vet-tablet by kj"], "vet-tablet": [theirs],
        })
        self.assertEqual(facts, ["417 present", "417 score 1 on 2026-03-14", "417 question not admitted"])

    def test_it_adopts_nothing_and_is_nobodys_second_saying(self):
        lesion = "2026-03-13 417 lesion WLA RH outer by kj"
        theirs = "2026-03-13 417 lesion WLA RH outer grade 3 by mw"
        facts = self.facts({FOUNDER: [lesion], "vet-tablet": [f"2026-03-01 herd adopt {'a' * 64} by mw", theirs]})
        self.assertIn("417 RH outer lesion WLA first 2026-03-13 last 2026-03-13", facts)

    def test_not_before_its_day_nor_before_it_was_known(self):
        written = {FOUNDER: [], "vet-tablet": ["2026-03-14 417 score 3 by mw"]}
        self.assertEqual(self.facts(written, day="2026-03-13"), [])
        self.assertEqual(self.facts(written, known="2026-03-14T09:00:30Z"), [])

    def test_rights_are_those_of_all_that_is_here(self):
        """An admission sealed after the moment asked for counts (§13)."""
        written = {FOUNDER: ["2026-03-13 1 score 1 by kj", admit("vet-tablet")], "vet-tablet": ["2026-03-14 417 score 1 by mw"]}
        self.assertEqual(self.facts(written, known="2026-03-14T09:01:30Z"), [
            "1 present", "1 score 1 on 2026-03-13", "417 present", "417 score 1 on 2026-03-14",
        ])

    def test_no_keeper_is_a_question_about_no_cow(self):
        fold = self.fold({FOUNDER: [admit("vet-tablet")], "vet-tablet": [admit("farm-office")]})
        self.assertEqual([(question.words, question.number) for question in fold.questions()], [("not a keeper", None)])


class OverTheYears(unittest.TestCase):
    def test_knowledge_and_cuts_go_over_files(self):
        """The first file's lines are before the second's, and a mark of the first cuts off all of the second."""
        old = ledger(["2025-03-14 1 score 2 by mw"], device="vet-tablet", key=key("vet-tablet"), follows=founder_named("vet-tablet"))
        link = f"{founder_named('vet-tablet')} follows 2025 {full_mark(old)}"
        new = ledger(["2026-03-14 1 score 2 by mw"], device="vet-tablet", key=key("vet-tablet"), follows=link)
        revoke = f"2026-03-15 herd revoke vet-tablet after {full_mark(old)} by kj"
        witness = f"2026-03-15 herd witness vet-tablet 2026 length {len(new)} mark {full_mark(new)} by kj"
        each = [
            *files({FOUNDER: [admit("vet-tablet"), revoke, witness, "2026-03-16 1 score 2 by kj"]}),
            ("vet-tablet", "2025", Ledger(old)), ("vet-tablet", "2026", Ledger(new)),
        ]
        members = Members(*files_of_herd(each))
        self.assertEqual(members.apart_in("vet-tablet", "2025"), [])
        self.assertEqual(members.apart_in("vet-tablet", "2026"), [(2, "revoked")])
        last = members.seat_of(FOUNDER, "2026", each[0][2].lines[-1])
        self.assertEqual(members.knowledge.before(last), {ledger_of(FOUNDER): 4, ledger_of("vet-tablet"): 4})

    def other_key(self, *bodies):
        """The vet's tablet in 2025 with its key, in 2026 with another; and what the founder says."""
        old = ledger(["2025-03-14 1 score 2 by mw"], device="vet-tablet", key=key("vet-tablet"), follows=founder_named("vet-tablet"))
        new = ledger(["2026-03-14 1 score 2 by mw"], device="vet-tablet", key=key("new"), follows=founder_named("vet-tablet"))
        revoke = f"2026-03-15 herd revoke vet-tablet after {full_mark(old)} by kj"
        each = [*files({FOUNDER: [admit("vet-tablet"), *bodies, revoke]})]
        members = Members(*files_of_herd([*each, ("vet-tablet", "2025", Ledger(old)), ("vet-tablet", "2026", Ledger(new))]))
        return [members.apart_in("vet-tablet", year) for year in ("2025", "2026")]

    def test_a_right_is_one_of_a_name_with_its_key_and_a_cut_is_one_of_a_name(self):
        admit_new = f"2026-03-01 herd admit vet-tablet key {key('new')} as writer by kj"
        self.assertEqual(self.other_key(), [[], [(2, "not admitted")]])
        self.assertEqual(self.other_key(admit_new), [[], [(2, "revoked")]])


class AnyHistory:
    """Lines drawn by chance, of devices that admit, revoke and witness each other."""

    def __init__(self, number):
        self.chance = random.Random(number)
        self.growing = {device: begun(device) for device in DEVICES}
        for _ in range(40):
            device = self.chance.choice(DEVICES)
            self.growing[device].add(self.body(device))

    def body(self, writer):
        device = self.chance.choice([device for device in DEVICES if device != writer])
        kind = self.chance.choice(("admit", "admit", "revoke", "witness", "witness", "note"))
        if kind == "admit":
            return admit(device, self.chance.choice(("keeper", "keeper", "writer", "reader")))
        if kind == "note":
            return "2026-03-14 417 score 2 by kj"
        seen = self.chance.choice(self.growing[device].seen)
        return saw(device, seen) if kind == "witness" else f"2026-03-14 herd revoke {device} after {seen.split()[-1]} by kj"

    def files(self):
        return [(device, "2026", Ledger(growing.data)) for device, growing in self.growing.items()]


def begun(device):
    return Growing(head_body(device, key=key(device), follows=founder_named(device)))


def saw(device, seen):
    return f"2026-03-14 herd witness {device} 2026 {seen} by kj"


class ByTheLetter:
    """The rules again with sets of whole lines, slowly: a line is (device, number from 0)."""

    def __init__(self, each):
        self.ledgers = {device: ledger for device, _, ledger in each}
        self.lines = {
            (device, row.number - 1): dict(ledger.readable).get(row)
            for device, _, ledger in each for row in ledger.lines
        }
        self.known_by, self.counted = {}, {}

    def known(self, at):
        if at not in self.known_by:
            found = {(at[0], before) for before in range(at[1])}
            for line in list(found):
                found |= self.witnessed(self.lines[line])
            self.known_by[at] = found
        return self.known_by[at]

    def witnessed(self, line):
        if not line or line.act != "witness":
            return set()
        seen = line.parts
        last = next(row.number for row in self.ledgers[seen["device"]].lines if row.end == seen["length"])
        return self.known((seen["device"], last))

    def said(self, act, world):
        return [at for at in world if self.lines[at] and self.lines[at].act == act]

    def revocations(self, world):
        return [at for at in self.said("revoke", world) if self.counts(at)]

    def counts(self, at):
        if at not in self.counted:
            world = self.known(at)
            self.counted[at] = self.right(at, world, self.admissions(world)) == "keeper"
        return self.counted[at]

    def admissions(self, world):
        counting, more = set(), {None}
        while more:
            more = {at for at in self.said("admit", world) if self.right(at, world, counting) == "keeper"} - counting
            counting |= more
        return counting

    def right(self, at, world, counting):
        cuts = {revocation for revocation in self.revocations(world) if self.cuts(revocation, at, world)}
        given = {self.lines[one].parts["as"] for one in counting
                 if self.lines[one].parts["device"] == at[0] and cuts <= self.known(one)}
        if at[0] == FOUNDER and not cuts:
            return "keeper"
        return next((word for word in ("keeper", "writer", "reader") if word in given), "none")

    def cuts(self, revocation, at, world):
        parts = self.lines[revocation].parts
        if parts["device"] != at[0]:
            return False
        rows_of = self.ledgers[at[0]].lines
        mark = next(row.number - 1 for row in rows_of if self.ledgers[at[0]].full_mark(row) == parts["after"])
        return (at[0], mark) in world and at[1] > mark


class Histories(unittest.TestCase):
    def test_by_the_letter(self):
        words = set()
        for number in range(100):
            each = AnyHistory(number).files()
            members, letter = Members(*files_of_herd(each)), ByTheLetter(each)
            world = set(letter.lines)
            counting = letter.admissions(world)
            for device, number_of_line in letter.lines:
                seat = members.seat_of(device, "2026", letter.ledgers[device].lines[number_of_line])
                word = letter.right((device, number_of_line), world, counting)
                words.add((word, members.why_apart(seat)))
                self.assertEqual(NAMES[members.right(seat)], word, (number, seat))
        self.assertEqual(words, {
            ("keeper", None), ("writer", None), ("reader", "may only read"), ("none", "revoked"), ("none", "not admitted"),
        })

    def test_more_admissions_take_no_right_away(self):
        for number in range(40):
            history = AnyHistory(number)
            before = Members(*files_of_herd(history.files()))
            history.growing[FOUNDER].add(admit(DEVICES[1], "keeper"))
            after = Members(*files_of_herd(history.files()))
            for lines in before.knowledge.written.values():
                for written in lines:
                    rights = [members.right(written.seat) for members in (before, after)]
                    self.assertLessEqual(rights[0], rights[1], (number, written.seat))

    def test_a_long_talk_of_two(self):
        """Two devices that witness each other in every line: nothing here may go as deep as that is long."""
        one, other = map(begun, DEVICES[:2])
        for _ in range(1000):
            one.add(saw(DEVICES[1], other.seen[-1]))
            other.add(saw(DEVICES[0], one.seen[-1]))
        each = [(device, "2026", Ledger(growing.data)) for device, growing in zip(DEVICES, (one, other))]
        knowledge = Members(*files_of_herd(each)).knowledge
        last = knowledge.written[ledger_of(DEVICES[1])][-1].seat
        self.assertEqual(knowledge.before(last), {ledger_of(DEVICES[0]): 1000, ledger_of(DEVICES[1]): 1000})


if __name__ == "__main__":
    unittest.main()
