"""python3 -m unittest discover spec/verifier"""

import subprocess
import sys
import unittest
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import days  # noqa: E402  (the folder is not a package, so that it can be run by its name)
import protocol  # noqa: E402
import state_text  # noqa: E402
import vectors  # noqa: E402
from blake3 import Blake3  # noqa: E402
from build import full_mark, head_body, ledger, rows, seal  # noqa: E402
from fold import Fold, by_number  # noqa: E402
from history import History  # noqa: E402
from lameness import When  # noqa: E402
from ledger import Ledger  # noqa: E402
from log_vectors import Case  # noqa: E402
from merge import Log, entries_of, name_of_herd  # noqa: E402
from protocol import Protocol, Protocols  # noqa: E402
from scores import is_lame  # noqa: E402
from vectors_read import read_case  # noqa: E402

VECTORS = HERE.parent / "vectors"


def files(*each):
    return [(device, year, Ledger(data)) for device, year, data in each]


def log(*bodies):
    return Log(list(entries_of(files(("crush-laptop", "2026", ledger(bodies))))))


def bodies(entries):
    return [(entry.line.subject[1], entry.line.act) for entry in entries]


class WhatIsMerged(unittest.TestCase):
    one = ledger(["2026-03-14 1 score 2 by kj"])

    def cows(self, *each):
        return [entry.line.subject[1] for entry in entries_of(files(*each))]

    def test_the_head_must_name_the_device(self):
        other = ledger(["2026-03-14 2 score 2 by kj"])
        self.assertEqual(self.cows(("crush-laptop", "2026", self.one), ("vet-tablet", "2026", other)), ["1"])

    def test_the_head_must_name_the_herd(self):
        strange = ledger(["2026-03-14 2 score 2 by kj"], device="farm-office", herd="elsewhere")
        vet = ledger(["2026-03-14 3 score 2 by mw"], device="vet-tablet")
        each = ("crush-laptop", "2026", self.one), ("farm-office", "2026", strange), ("vet-tablet", "2026", vet)
        self.assertEqual(self.cows(*each), ["1", "3"])
        self.assertEqual(name_of_herd(files(*each)), "quillmere")
        self.assertIsNone(name_of_herd([]))

    def test_only_what_is_vouched_for(self):
        three = rows(ledger([f"2026-03-14 {cow} score 2 by kj" for cow in (1, 2, 3)]))
        three[2] = three[2].replace(b"score 2", b"score 3")
        self.assertEqual(self.cows(("crush-laptop", "2026", b"".join(three))), ["1"])

    def test_files_are_in_the_order_of_their_years(self):
        later = ledger(["2026-03-14 2 score 2 by kj"], follows=f" follows 2026 {full_mark(self.one)}")
        merged = Log(list(entries_of(files(("crush-laptop", "2027", later), ("crush-laptop", "2026", self.one)))))
        self.assertEqual([entry.line.subject[1] for entry in merged.entries], ["1", "2"])

    def test_a_correction_reaches_into_the_year_before(self):
        struck = rows(self.one)[1][-17:-1].decode()
        later = seal(b"", head_body(follows=f" follows 2026 {full_mark(self.one)}"), 50)
        later = seal(later, f"2027-01-02 1 strike {struck} by kj: wrong", 51)
        merged = Log(list(entries_of(files(("crush-laptop", "2026", self.one), ("crush-laptop", "2027", later)))))
        self.assertEqual([merged.word(entry) for entry in merged.entries], ["withdrawn", "standing"])

    def test_the_head_is_no_line_of_the_log(self):
        head = rows(self.one)[0][-17:-1].decode()
        merged = log(f"2026-03-14 1 strike {head} by kj: wrong")
        self.assertEqual(bodies(merged.corrections.waiting), [("1", "strike")])


class Listed(unittest.TestCase):
    """What the log lists beside the lines that stand."""

    def of(self, name):
        return Case(*read_case(VECTORS / "merge" / f"{name}.txt")).log

    def test_unreadable(self):
        self.assertEqual(len(self.of("unreadable-is-not-folded").unreadable), 1)

    def test_waiting(self):
        self.assertEqual(len(self.of("target-missing-twice").corrections.waiting), 2)
        self.assertEqual(self.of("unreadable-can-be-replaced").corrections.waiting, [])

    def test_concurrent(self):
        self.assertEqual([len(lines) for lines in self.of("concurrent-corrections").corrections.concurrent], [2])
        self.assertEqual(self.of("concurrent-settled").corrections.concurrent, [])

    def test_cut(self):
        self.assertEqual(self.of("chain-of-64").corrections.cut, [])
        self.assertEqual(len(self.of("chain-of-65-is-cut").corrections.cut), 1)

    def test_lines_nobody_can_read_are_meant(self):
        """Else a slip of the pen in a vector would go unseen."""
        for chapter in ("merge", "fold"):
            for path in (VECTORS / chapter).glob("*.txt"):
                unreadable = Case(*read_case(path)).log.unreadable
                self.assertEqual(bool(unreadable), path.name.startswith("unreadable-"), path.name)


class Reckoning(unittest.TestCase):
    def test_days_between(self):
        self.assertEqual(days.between("2028-02-28", "2028-03-01"), 2)
        self.assertEqual(days.between("2026-02-28", "2026-03-01"), 1)
        self.assertEqual(days.between("2026-01-01", "2025-12-31"), -1)

    def test_holds(self):
        def held(*hold):
            return days.end_of_hold(*hold).strftime(days.WRITTEN)
        self.assertEqual(held("2026-03-14", "09:12", "0d"), "2026-03-14 09:12")
        self.assertEqual(held("2026-03-14", None, "0d"), "2026-03-15 00:00")
        self.assertEqual(held("2026-12-31", "23:59", "1h"), "2027-01-01 00:59")

    def test_numbers(self):
        numbers = ["100", "99B", "9", "99", "99A"]
        self.assertEqual(sorted(numbers, key=by_number), ["9", "99", "99A", "99B", "100"])

    def test_lame(self):
        self.assertFalse(is_lame(None, "1"))
        self.assertTrue(is_lame(None, "2"))
        self.assertFalse(is_lame("five", "2"))
        self.assertTrue(is_lame("wq", "1"))


class Adopted(unittest.TestCase):
    content = b"(\n    name: \"short\",\n    repeat_case_days: 14,\n    recheck_early_days : 3,\n)\n"
    name = Blake3(content).hexdigest()
    missing = "5e1f" * 16

    def test_numbers_are_read(self):
        self.assertEqual(protocol.read(self.content), Protocol(14, 3))
        self.assertEqual(protocol.read(b"()"), Protocol(28, 7))
        self.assertEqual(protocol.read(b"// repeat_case_days: 14 was too short\n(repeat_case_days: 21)"), Protocol(21, 7))

    def test_it_applies_from_its_day(self):
        protocols = Protocols({self.name: self.content})
        protocols.adopt("2026-03-02", self.name)
        protocols.adopt("2026-03-10", self.missing)
        found = [protocols.on(day).repeat for day in ("2026-03-01", "2026-03-02", "2026-03-11")]
        self.assertEqual((found, protocols.questions), ([28, 14, 14], [self.missing]))

    def test_it_applies_to_earlier_lines_of_its_day(self):
        """And not to a case of the time before it."""
        one_cow = (
            "2026-01-01 1 lesion WLA RH by kj", "2026-01-02 1 lesion none RH by kj",
            "2026-01-20 1 lesion WLA RH by kj", "2026-01-21 1 lesion none RH by kj",
            "2026-02-10 1 lesion WLA RH by kj", f"2026-02-10 18:00 herd adopt {self.name} by kj",
        )
        protocols = Protocols({self.name: self.content})
        facts = list(state_text.lines(Fold(log(*one_cow), "2026-02-09", protocols)))
        self.assertEqual(facts, ["1 present", "1 lifted 2026-01-21"])
        facts = list(state_text.lines(Fold(log(*one_cow), "2026-02-10", protocols)))
        self.assertIn("1 RH lesion WLA first 2026-02-10 last 2026-02-10", facts)
        facts = list(state_text.lines(Fold(log(*one_cow[:-1]), "2026-02-10")))
        self.assertIn("1 RH lesion WLA first 2026-01-01 last 2026-02-10", facts)


class QuestionsOfNoCow(unittest.TestCase):
    def test_they_are_not_in_the_text(self):
        fold = Fold(log(f"2026-03-14 herd strike {'5e1f' * 4} by kj: wrong"), "2026-03-31")
        self.assertEqual([question.words for question in fold.questions()], ["corrects what is not here"])
        self.assertEqual(list(state_text.lines(fold)), [])


class Changes(unittest.TestCase):
    def test_what_holds_at_the_end_of_a_day(self):
        history = History("before")
        for day, value in (("2026-03-02", "morning"), ("2026-03-02", "evening"), ("2026-03-10", None)):
            history.add(day, value)
        found = [history.at_end_of(day) for day in ("2026-03-01", "2026-03-02", "2026-03-09", "2026-03-10")]
        self.assertEqual((found, history.last), (["before", "evening", "evening", None], None))

    def test_before_is_told_by_the_day_or_by_two_times(self):
        untimed, seven, eight = (When("2026-03-02", time) for time in (None, "07:00", "08:00"))
        self.assertEqual([seven.is_before(other) for other in (untimed, seven, eight)], [False, False, True])
        self.assertEqual([untimed.is_before(other) for other in (seven, When("2026-03-03", None))], [False, True])


class CommandLine(unittest.TestCase):
    def setUp(self):
        folder = TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = Path(folder.name)
        path = self.root / "ledgers/crush-laptop/2026.txt"
        path.parent.mkdir(parents=True)
        path.write_bytes(ledger(["2026-03-14 417 score 3 by kj", "2026-03-20 417 score 1 by kj"]))

    def says(self, *options):
        return subprocess.run([sys.executable, HERE, self.root, *options], capture_output=True, text=True)

    def test_state(self):
        self.assertEqual(self.says("--state", "2026-03-31").stdout, "417 present\n417 score 1 on 2026-03-20\n")
        lame = "417 present\n417 score 3 on 2026-03-14\n417 lame since 2026-03-14\n"
        self.assertEqual(self.says("--state", "2026-03-19").stdout, lame + "417 question not yet\n")
        self.assertEqual(self.says("--state", "2026-03-31", "--known", "2026-03-14T09:01:11Z").stdout, lame)

    def test_what_cannot_be_asked(self):
        for options in (("--state", "2026-02-30"), ("--known", "2026-03-14T09:01:11Z"), ("--state", "2026-03-31", "--known", "x")):
            self.assertEqual(self.says(*options).returncode, 2)


class Vectors(unittest.TestCase):
    def test_one_that_says_something_unknown_fails(self):
        with TemporaryDirectory() as folder:
            path = Path(folder) / "fold" / "odd.txt"
            path.parent.mkdir()
            path.write_text("comment: x\nrule: fold.md §1\non: 2026-03-31\n\nlines:\nstates:\n")
            _, failures = vectors.run(Path(folder))
        self.assertTrue(any(failure.startswith("fold/odd.txt") for failure in failures))


if __name__ == "__main__":
    unittest.main()
