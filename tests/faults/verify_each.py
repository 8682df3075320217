"""Judges each herd folder named on the input by the independent verifier: a line a folder, `well` or what is not."""

import sys
from pathlib import Path

sys.path.insert(0, sys.argv[1])

import report  # noqa: E402
from herd import Herd  # noqa: E402

for line in sys.stdin:
    herd = Herd(Path(line.rstrip("\n")))
    print("well" if report.all_well(herd) else " / ".join(report.as_text(herd)), flush=True)
