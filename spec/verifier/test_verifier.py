"""python3 -m unittest discover spec/verifier"""

import json
import os
import subprocess
import sys
import unittest
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

import line  # noqa: E402  (the folder is not a package, so that it can be run by its name)
import text  # noqa: E402
import vectors  # noqa: E402
from blake3 import Blake3  # noqa: E402
from build import KEY, full_mark, ledger, rows, seal  # noqa: E402
from ledger import Ledger  # noqa: E402
from make_statement_vectors import GOOD as STATED, LINES, signed, stated, upto, said  # noqa: E402
from refused import Refused  # noqa: E402

VECTORS = HERE.parent / "vectors"
BODIES = [f"2026-03-14 {cow} score 2 by kj" for cow in range(401, 413)]
GOOD = ledger(BODIES)
ROWS = rows(GOOD)


class Hash(unittest.TestCase):
    def test_published_way_of_making_vectors(self):
        vectors.blake3_vectors({}, (VECTORS / "mark" / "blake3.json").read_text())

    def test_pieces_give_the_same_as_the_whole(self):
        data = bytes(i % 251 for i in range(5000))
        hasher = Blake3()
        for start in range(0, 5000, 77):
            hasher.update(data[start:start + 77])
            upto = min(start + 77, 5000)
            self.assertEqual(hasher.digest(), Blake3(data[:upto]).digest(), upto)

    def test_a_copy_goes_its_own_way(self):
        hasher = Blake3(b"x" * 3000)
        copied = hasher.copy()
        copied.update(b"y" * 3000)
        self.assertEqual(hasher.digest(), Blake3(b"x" * 3000).digest())
        self.assertEqual(copied.digest(), Blake3(b"x" * 3000 + b"y" * 3000).digest())


class Text(unittest.TestCase):
    def test_any_single_byte_is_read(self):
        for byte in range(256):
            text.read(bytes([byte]))

    def test_cleaning_twice_is_cleaning_once(self):
        for code in range(0x3100):
            cleaned, _ = text.clean(f"a {chr(code)} b")
            self.assertEqual(text.clean(cleaned), (cleaned, set()))

    def test_lines_end_only_at_lf_crlf_cr(self):
        for code in range(0x3100):
            ends = chr(code) in "\n\r"
            self.assertEqual(len(text.split(f"a{chr(code)}b")), 2 if ends else 1, hex(code))


class Line(unittest.TestCase):
    def ok(self, rest, writer=None):
        return line.read(f"2026-03-14 {rest}".encode(), writer)

    def refused(self, section, rest, writer=None):
        self.refused_bytes(section, f"2026-03-14 {rest}".encode(), writer)

    def refused_bytes(self, section, body, writer=None):
        with self.assertRaises(Refused, msg=body) as caught:
            line.read(body, writer)
        self.assertEqual(caught.exception.clause, f"line.md §{section}", body)

    def test_the_value(self):
        value = self.ok("09:12 417 lesion WLA RH outer zone 3 grade 2 by kj: runs | on")
        self.assertEqual(value.time, "09:12")
        self.assertEqual(value.subject, ("cow", "417"))
        self.assertEqual(value.parts, {
            "code": "WLA", "stage": None, "foot": "RH", "claw": "outer", "zone": 3, "grade": 2,
        })
        self.assertEqual((value.who, value.words), ("kj", "runs | on"))

    def test_rule_1(self):
        self.refused(1, "417 score  2 by kj")
        self.refused(1, "417 score 2 by kj ")
        self.refused_bytes(1, b"2026-03-14 417 note by kj: \xff")
        self.refused(1, "417 note by kj: \u2066x")

    def test_rule_3(self):
        for day in ("2026-02-30", "2026-02-29", "1900-02-29", "1899-12-31", "2200-01-01", "2026-3-4", "2026-00-01"):
            self.refused_bytes(3, f"{day} 417 score 2 by kj".encode())
        for day in ("2028-02-29", "2000-02-29", "1900-01-01", "2199-12-31"):
            line.read(f"{day} 417 score 2 by kj".encode())

    def test_rules_4_to_6(self):
        self.ok("999999Z score 2 by kj")
        self.refused(4, "1000000 score 2 by kj")
        self.refused(4, "0417 score 2 by kj")
        self.refused(5, "417 score 2 by abcdefghijklmnopq")
        self.refused(6, "417 score 2 by kj:")

    def test_rule_7(self):
        line_of = "417 score 2 replaces 3f9c2a7d51be4c08 of farm-office by kj"
        self.ok(line_of)
        self.ok(line_of, "vet-tablet")
        self.refused(7, line_of, "farm-office")

    def test_rules_8_and_9(self):
        dose = '417 medicine "{}" dose {} ml milk 0d meat 0d by mw'.format
        self.ok(dose("x" * 80, "0.01"))
        self.refused(8, dose("x" * 81, "1"))
        self.refused(8, dose("", "1"))
        self.refused(8, dose(" x", "1"))
        for wrong in ("0", "7.0", "07", ".5", "7.", "1.234", "100000"):
            self.refused(9, dose("x", wrong))

    def test_rules_11_and_12(self):
        self.refused(11, "417 lesion WLA RH zone 13 by kj")
        self.refused(11, "417 trim lame RH wall 49mm by kj")
        self.refused(11, "herd tally walked 5 zeros 3 ones 3 by ao")
        hold = '417 medicine "x" dose 1 ml milk {} meat 0d by mw'.format
        for right in ("0d", "1d", "365d", "1h", "36h", "8759h"):
            self.ok(hold(right))
        for wrong in ("0h", "24h", "72h", "366d", "8760h", "4", "04d"):
            self.refused(12, hold(wrong))

    def test_rules_13_and_14(self):
        self.refused(13, "417 trim lame RH LH by kj")
        self.refused(13, "417 lesion WLA M2 RH by kj")
        self.refused(13, "herd tally walked 5 zeros 3 scale wq by ao")
        for wrong in ("con", "lpt1", "vet-", "Vet"):
            self.refused(14, f"herd revoke {wrong} after {KEY} by ao")

    def test_rule_15(self):
        tag = "417 tagged ear {} by ao".format
        for herd, numbers in (("123450", (600001, 700002, 100003)), ("284205", (600015, 700016, 100017))):
            for number in numbers:
                self.ok(tag(f"UK{herd}{number}"))
        self.ok(tag("UK230011200123"))
        self.ok(tag("EL1"))
        self.refused(15, tag("GR1"))
        self.refused(15, tag("UK123456600001"))

    def test_only_one_check_digit_is_right(self):
        for digit in range(10):
            (self.ok if digit == 1 else partial(self.refused, 15))(f"417 tagged ear UK123456{digit}00001 by ao")

    def test_rules_16_and_18(self):
        self.ok("417 tagged electronic 276000312312345 by ao")
        self.ok("417 tagged electronic 826274877906943 by ao")
        self.refused(16, "417 tagged electronic 826274877906944 by ao")
        self.refused(16, "417 tagged electronic 826284205700016 by ao")
        self.refused(18, "417 strike 3F9C2A7D51BE4C08 by kj: wrong cow")

    def test_no_prefix_of_a_line_without_words_is_a_line(self):
        whole = b'2026-03-14 417 medicine "Pedirel" batch "B 44" dose 1 ml route im for "WLA" milk 0d meat 4d by mw'
        for cut in range(len(whole) - 1):
            with self.assertRaises(Refused, msg=whole[:cut]):
                line.read(whole[:cut])


class Damage(unittest.TestCase):
    def broken_at(self, number, data):
        found = Ledger(data)
        self.assertEqual((found.unbroken, found.first_broken), (False, number))
        self.assertEqual(found.vouched_bytes, sum(map(len, ROWS[:number - 1])))
        return found

    def test_whole(self):
        found = Ledger(GOOD)
        self.assertTrue(found.unbroken)
        self.assertEqual((found.vouched_bytes, len(found.lines), found.not_canonical), (len(GOOD), 13, []))

    def test_any_flipped_byte_is_found_in_its_line(self):
        start = 0
        for number, row in enumerate(ROWS[:-1], 1):
            for at in range(start, start + len(row), 11):
                self.broken_at(number, GOOD[:at] + bytes([GOOD[at] ^ 1]) + GOOD[at + 1:])
            start += len(row)

    def test_any_deleted_line_is_found(self):
        for number in range(1, len(ROWS)):
            self.broken_at(number, b"".join(ROWS[:number - 1] + ROWS[number:]))

    def test_any_two_lines_swapped(self):
        for i in range(len(ROWS) - 1):
            self.broken_at(i + 1, b"".join(ROWS[:i] + [ROWS[i + 1], ROWS[i]] + ROWS[i + 2:]))

    def test_a_loose_line_anywhere_inside(self):
        for i in range(len(ROWS)):
            self.broken_at(i + 1, b"".join(ROWS[:i] + [b"418 2\n"] + ROWS[i:]))

    def test_cut_at_a_line_end_is_unbroken(self):
        for count in range(1, len(ROWS) + 1):
            found = Ledger(b"".join(ROWS[:count]))
            self.assertTrue(found.unbroken)
            self.assertEqual(len(found.lines), count)

    def test_a_tail_is_not_vouched_for(self):
        found = Ledger(GOOD + b"418 2\n")
        self.assertTrue(found.unbroken)
        self.assertEqual((found.vouched_bytes, found.tail_bytes), (len(GOOD), 6))

    def test_a_sealed_line_pasted_in_the_tail(self):
        self.broken_at(len(ROWS) + 1, GOOD + ROWS[4])
        self.broken_at(len(ROWS) + 1, GOOD + b"418 2\n" + ROWS[4])

    def test_sealed_over_a_loose_line(self):
        """The last mark is right, so nothing changed since; but the file is not well written."""
        found = Ledger(seal(GOOD + b"418 2\n", BODIES[0], 59))
        self.assertTrue(found.unbroken)
        self.assertEqual([number for number, _ in found.not_canonical], [len(ROWS) + 1])

    def test_not_canonical(self):
        data = seal(seal(GOOD, "2026-03-14 417 score 9 by kj", 58), BODIES[0], 59)
        self.assertEqual([number for number, _ in Ledger(data).not_canonical], [len(ROWS) + 1])

    def test_sealed_time_must_be_real(self):
        before = GOOD + BODIES[0].encode() + b" | 2026-02-30T09:00:00Z "
        found = Ledger(before + Blake3(before).hexdigest()[:16].encode() + b"\n")
        self.assertTrue(found.unbroken)
        self.assertEqual(found.not_canonical[0][1].clause, "line.md §18")

    def test_steps_back_of_more_than_a_minute(self):
        self.assertEqual(Ledger(seal(GOOD, BODIES[0], 11)).steps_back(), [])
        self.assertEqual(Ledger(seal(GOOD, BODIES[0], 10)).steps_back(), [len(ROWS) + 1])


class InAHerd(unittest.TestCase):
    def setUp(self):
        folder = TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = Path(folder.name)
        (self.root / "ledgers").mkdir()

    def put(self, place, data):
        path = self.root / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)

    def put_witness(self, seen, length=None, mark=None, device="farm-office"):
        body = (
            f"2026-03-15 herd witness crush-laptop 2026 length {length or len(seen)}"
            f" mark {mark or full_mark(seen)} by ao"
        )
        self.put(f"ledgers/{device}/2026.txt", ledger([body], device=device))

    def run_it(self, *options):
        return subprocess.run([sys.executable, str(HERE), *map(str, options)], capture_output=True, text=True, check=False)

    def verdict(self):
        done = self.run_it(self.root, "--json")
        verdict = json.loads(done.stdout)
        self.assertEqual(verdict["well"], done.returncode == 0)
        return {(file["device"], file["year"]): file for file in verdict["files"]}, done.returncode

    def says(self):
        return self.run_it(self.root).stdout

    def test_seen_by_another(self):
        part = b"".join(ROWS[:8])
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.put_witness(part)
        found, code = self.verdict()
        self.assertEqual(code, 0)
        self.assertEqual(found["crush-laptop", "2026"], {
            "device": "crush-laptop", "year": "2026", "lines": 13, "unbroken": True, "first_broken": None,
            "only_looks_changed": False, "findings": [], "notes": [], "rights": ["keeper"] * 12, "not_a_keeper": [],
            "now": "keeper", "stated": {"agree_up_to": 0, "different": [], "beyond": 0, "say_nothing": []},
            "vouched_bytes": len(GOOD), "complete_up_to": len(part), "not_canonical": [],
        })
        self.assertIn("crush-laptop/2026  13 lines  unbroken  complete up to line 8 (seen by farm-office)\n", self.says())

    def test_cut_after_it_was_seen(self):
        self.put("ledgers/crush-laptop/2026.txt", b"".join(ROWS[:5]))
        self.put_witness(GOOD)
        found, code = self.verdict()
        self.assertEqual((code, found["crush-laptop", "2026"]["complete_up_to"]), (1, 0))
        self.assertIn("shorter than was seen by farm-office", self.says())

    def test_seen_differently(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        for length, mark in ((len(GOOD), KEY), (len(GOOD) - 1, None)):
            self.put_witness(GOOD, length, mark)
            self.assertEqual(self.verdict()[0]["crush-laptop", "2026"]["complete_up_to"], 0)
            self.assertIn("a history that others saw differently (farm-office)", self.says())

    def test_nobody_is_their_own_witness(self):
        body = f"2026-03-15 herd witness crush-laptop 2026 length {len(GOOD)} mark {full_mark(GOOD)} by ao"
        self.put("ledgers/crush-laptop/2026.txt", seal(GOOD, body, 59))
        self.assertEqual(self.verdict()[0]["crush-laptop", "2026"]["complete_up_to"], 0)

    def test_a_witness_that_is_not_vouched_for_says_nothing(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.put_witness(GOOD)
        office = self.root / "ledgers/farm-office/2026.txt"
        office.write_bytes(office.read_bytes().replace(b"by ao", b"by kj"))
        found, code = self.verdict()
        self.assertEqual((code, found["crush-laptop", "2026"]["complete_up_to"]), (1, 0))

    def test_the_next_year_is_a_witness(self):
        self.put("ledgers/crush-laptop/2025.txt", GOOD)
        after = ledger(BODIES[:2], follows=f" follows 2025 {full_mark(GOOD)}")
        self.put("ledgers/crush-laptop/2026.txt", after)
        found, code = self.verdict()
        self.assertEqual((code, found["crush-laptop", "2025"]["complete_up_to"]), (0, len(GOOD)))
        self.put("ledgers/crush-laptop/2025.txt", GOOD[:-len(ROWS[-1])])
        self.assertEqual(self.verdict()[0]["crush-laptop", "2025"]["complete_up_to"], 0)
        self.assertIn("others saw differently", self.says())

    def test_a_missing_year(self):
        self.put("ledgers/crush-laptop/2026.txt", ledger(BODIES, follows=f" follows 2025 {full_mark(GOOD)}"))
        self.assertTrue(self.says().startswith("crush-laptop/2025  missing (seen by its own 2026)\n"))

    def test_only_looks_changed(self):
        for saved in (
            GOOD.replace(b" ", b"\t"), GOOD.replace(b"\n", b"  \r\n"), b"\xEF\xBB\xBF" + GOOD,
            GOOD.decode().encode("utf-16"), GOOD[:-1] + b"  \n",
        ):
            self.put("ledgers/crush-laptop/2026.txt", saved)
            found, code = self.verdict()
            self.assertEqual((code, found["crush-laptop", "2026"]["only_looks_changed"]), (0, True))
        self.put("ledgers/crush-laptop/2026.txt", GOOD.replace(b" ", b"\t").replace(b"411", b"419"))
        self.assertEqual(self.verdict()[1], 1)

    def test_a_copy_beside(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD + b"417 3\n")
        self.put("ledgers/crush-laptop/2026 (1).txt", GOOD.replace(b"\n", b"\r\n") + b"; a word\n\n417  3\n")
        self.assertEqual(self.verdict()[1], 0)
        self.assertIn("2026 (1).txt  a copy beside a ledger, with no lines of its own", self.says())
        self.put("ledgers/crush-laptop/2026 (conflicted copy).txt", GOOD + b"418 3\n")
        self.assertEqual(self.verdict()[1], 1)
        self.assertIn("with 1 line of its own, the first is line 14", self.says())

    def test_two_beginnings(self):
        self.put("ledgers/crush-laptop/2025.txt", GOOD)
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.assertIn("follows nothing, though 2025 is there", self.says())

    def put_stated(self, *lines, end="\n"):
        self.put("ledgers/crush-laptop/2026.txt", STATED)
        self.put("ledgers/crush-laptop/2026.sig", ("\n".join(lines) + end).encode())

    def test_a_statement_is_the_writers_own_word(self):
        self.put_stated(stated(2), stated(LINES))
        found, code = self.verdict()
        self.assertEqual((code, found["crush-laptop", "2026"]["complete_up_to"]), (0, len(STATED)))
        self.assertIn("unbroken  complete up to line 5 (seen by its own statement)\n", self.says())

    def test_what_another_saw_is_told_beside_it(self):
        self.put_stated(stated(LINES))
        self.put_witness(upto(3))
        self.assertIn("complete up to line 5 (seen by its own statement), line 3 (seen by farm-office)\n", self.says())
        for device in ("farm-office", "vet-tablet"):
            self.put_witness(STATED, device=device)
            self.assertIn(f"complete up to line 5 (seen by {device})\n", self.says())
            (self.root / f"ledgers/{device}/2026.txt").unlink()

    def test_a_statement_beyond_or_beside_the_file(self):
        longer = seal(STATED, BODIES[0], 40)
        self.put_stated(signed(said(longer)))
        self.assertIn("shorter than was seen by its own statement", self.says())
        self.put_stated(stated(3, mark=KEY))
        self.assertIn("a history that others saw differently (its own statement)", self.says())
        self.assertEqual(self.verdict()[1], 1)

    def test_two_statements_that_disagree(self):
        self.put_stated(stated(2), stated(3, mark=KEY), stated(4))
        self.assertIn(
            f"two histories by its own word: line 2 of 2026.sig says {len(upto(3))} bytes with the mark {KEY}, line 3 ",
            self.says(),
        )
        stated_here = self.verdict()[0]["crush-laptop", "2026"]["stated"]
        self.assertEqual(stated_here["different"], [[len(upto(3)), KEY]])
        self.assertEqual(stated_here["agree_up_to"], len(upto(4)))
        self.put_stated(stated(2), stated(3))
        self.assertNotIn("two histories", self.says())

    def test_what_says_nothing(self):
        for line in ("", "a line", stated(3) + "\r", " " + stated(3), stated(3, year="2025"), stated(3)[:-1] + "g"):
            self.put_stated(stated(2), line)
            self.assertIn("  line 2 of 2026.sig says nothing: ", self.says(), line)
            self.assertEqual(self.verdict()[1], 1)

    def test_a_statement_of_a_file_that_is_not_here(self):
        self.put_stated(stated(LINES))
        (self.root / "ledgers/crush-laptop/2026.txt").unlink()
        self.assertTrue(self.says().startswith("crush-laptop/2026  missing (seen by its own statement)\n"))
        self.assertEqual(self.verdict()[1], 1)

    def test_a_statement_of_a_file_that_only_looks_changed(self):
        self.put_stated(stated(LINES))
        self.put("ledgers/crush-laptop/2026.txt", STATED.replace(b"\n", b"\r\n"))
        self.assertEqual(self.verdict()[1], 0)

    def test_what_a_power_cut_left_says_nothing(self):
        for end in ("", stated(LINES), stated(LINES)[:-1], "a line"):
            self.put_stated(stated(2), end, end="")
            found, code = self.verdict()
            self.assertEqual((code, found["crush-laptop", "2026"]["complete_up_to"]), (0, len(upto(2))), end)
        self.put_stated("", end="")
        self.assertEqual(self.verdict()[1], 0)

    def put_members(self):
        founder, vet, phone = (byte * 64 for byte in "123")
        admit = f"2026-03-14 herd admit vet-tablet key {vet} as writer by kj"
        self.put("ledgers/crush-laptop/2026.txt", ledger([admit], key=founder))
        again = f"2026-03-14 herd admit trimmer-phone key {phone} as writer by mw"
        self.put("ledgers/vet-tablet/2026.txt", ledger([again], device="vet-tablet", key=vet, follows=f" founder {founder}"))
        score = "2026-03-14 417 score 3 by tr"
        self.put("ledgers/trimmer-phone/2026.txt", ledger([score], device="trimmer-phone", key=phone, follows=f" founder {founder}"))

    def test_rights(self):
        self.put_members()
        self.assertEqual(self.run_it(self.root, "--rights").stdout.split("\n")[:-1], [
            "crush-laptop 2026 2 keeper", "trimmer-phone 2026 2 apart not admitted", "vet-tablet 2026 2 writer",
            "vet-tablet 2026 2 not a keeper", "crush-laptop now keeper", "trimmer-phone now none", "vet-tablet now writer",
        ])
        self.assertEqual(self.run_it(self.root, "--state", "2026-03-31").stdout, "417 question not admitted\n")

    def test_lines_kept_apart_are_noted_and_no_finding(self):
        self.put_members()
        found, code = self.verdict()
        self.assertEqual((code, found["trimmer-phone", "2026"]["notes"]), (0, ["kept apart: line 2: not admitted"]))

    def test_a_head_of_another_herd_of_the_same_name(self):
        self.put_members()
        self.put("ledgers/barn-tablet/2026.txt", ledger([], device="barn-tablet", key="4" * 64))
        found, code = self.verdict()
        self.assertEqual((code, found["barn-tablet", "2026"]["findings"]), (1, ["its head names another founder"]))

    def test_the_worst_comes_first(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.put("ledgers/vet-tablet/2026.txt", GOOD.replace(b"412", b"413"))
        done = self.run_it(self.root)
        self.assertEqual(done.returncode, 1)
        first, *_, last = done.stdout.strip().split("\n")
        self.assertTrue(first.startswith("vet-tablet/2026  12 lines  broken at line 13"))
        self.assertEqual(last, "quillmere: 2 files, 25 sealed lines, 1 broken")

    def test_a_line_that_is_not_canonical_is_not_well(self):
        self.put("ledgers/crush-laptop/2026.txt", seal(GOOD, "2026-03-14 417 score 9 by kj", 59))
        found, code = self.verdict()
        self.assertEqual((code, found["crush-laptop", "2026"]["not_canonical"]), (1, [14]))

    def test_what_is_passed_over(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.put("ledgers/crush-laptop/2026.txt~", b"")
        self.put("ledgers/crush-laptop/26.txt", b"")
        self.put("ledgers/con/2026.txt", GOOD)
        self.put("ledgers/Office/2026.txt", GOOD)
        self.put("ledgers/loose.txt", b"")
        self.put("readme.txt", b"")
        os.symlink(self.root / "ledgers/crush-laptop/2026.txt", self.root / "ledgers/crush-laptop/2025.txt")
        os.symlink(self.root / "ledgers/crush-laptop", self.root / "ledgers/vet-tablet")
        os.mkfifo(self.root / "ledgers/crush-laptop/2024.txt")
        found, code = self.verdict()
        self.assertEqual((code, list(found)), (0, [("crush-laptop", "2026")]))
        ignored = [row.split("  ")[0] for row in self.says().split("\n") if "ignored: " in row]
        self.assertEqual(sorted(ignored), sorted([
            "ledgers/Office", "ledgers/con", "ledgers/crush-laptop/2024.txt", "ledgers/crush-laptop/2025.txt",
            "ledgers/crush-laptop/2026.txt~", "ledgers/crush-laptop/26.txt", "ledgers/loose.txt",
            "ledgers/vet-tablet", "readme.txt",
        ]))

    def test_protocols_are_named_for_their_bytes(self):
        self.put("ledgers/crush-laptop/2026.txt", GOOD)
        self.put(f"protocols/{Blake3(b'()').hexdigest()}.ron", b"()")
        self.assertEqual(self.verdict()[1], 0)
        self.put(f"protocols/{KEY}.ron", b"()")
        self.assertEqual(self.verdict()[1], 1)
        self.assertTrue(self.says().startswith(f"protocols/{KEY}.ron  broken"))

    def test_several_herds(self):
        self.put("one/ledgers/crush-laptop/2026.txt", GOOD)
        self.put("two/ledgers/crush-laptop/2026.txt", GOOD.replace(b"412", b"413"))
        done = self.run_it(self.root / "one", self.root / "two", "--json")
        self.assertEqual([json.loads(row)["well"] for row in done.stdout.splitlines()], [True, False])
        self.assertEqual(done.returncode, 1)

    def test_no_herd_is_no_verdict(self):
        self.assertEqual(self.run_it(self.root / "nothing").returncode, 2)

    def test_a_head_of_another_device(self):
        self.put("ledgers/vet-tablet/2026.txt", GOOD)
        self.assertIn("its head names crush-laptop", self.says())


class Vectors(unittest.TestCase):
    def test_all_pass(self):
        passed, failures = vectors.run(VECTORS)
        self.assertEqual(failures, [])
        self.assertGreater(passed, 90)

    def test_one_that_cannot_be_read_fails(self):
        with TemporaryDirectory() as folder:
            (Path(folder) / "line").mkdir()
            (Path(folder) / "line" / "odd.txt").write_text("expect: ok\n")
            _, failures = vectors.run(Path(folder))
        self.assertTrue(any(failure.startswith("line/odd.txt") for failure in failures))
        self.assertIn("text: no vectors", failures)

    def test_mark_vectors_are_made_the_same_again(self):
        import make_mark_vectors
        committed = {path.name: path.read_bytes() for path in (VECTORS / "mark").glob("*.txt")}
        with TemporaryDirectory() as folder:
            make_mark_vectors.FOLDER, keep = Path(folder), make_mark_vectors.FOLDER
            self.addCleanup(setattr, make_mark_vectors, "FOLDER", keep)
            make_mark_vectors.main()
            self.assertEqual({path.name: path.read_bytes() for path in Path(folder).glob("*")}, committed)


if __name__ == "__main__":
    unittest.main()
