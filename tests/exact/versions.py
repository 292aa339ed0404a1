"""The same bytes from other Pythons or other versions of the libraries, on request.

    python -m tests.exact.versions PYTHON [PYTHON ...]

Each is an interpreter that has the program's dependencies (a virtual environment's, say). Every
sample is expanded by each; ends with 1 where the digests differ from those of this Python.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.exact.stops import COMMAND, SAMPLES

SKETCH = SAMPLES / "paper-harbour.musicxml"
LINE_UPS = ("symphony-orchestra", "satb-choir")


def jobs() -> list[list[str]]:
    """The arguments of each expansion, without where it goes."""
    by_rules = [
        ["-r", str(p)]
        for p in sorted(SAMPLES.glob("*.yaml"))
        if "lead-sheet" not in p.name and "plan:" in p.read_text(encoding="utf-8")
    ]
    return [[str(SKETCH), *rest] for rest in (*by_rules, *(["-e", name] for name in LINE_UPS))]


def digests(python: str) -> list[str]:
    """Digests of score and report for every job, made by one interpreter."""
    environment = {**os.environ, "PYTHONPATH": str(SAMPLES.parent), "PYTHONDONTWRITEBYTECODE": "1"}
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for job in jobs():
            arguments = ["expand", *job, "-o", "score.mxl", "--report", "report.json"]
            subprocess.run(
                [python, "-c", COMMAND, *arguments], cwd=folder, env=environment, check=True,
                capture_output=True,
            )  # fmt: skip
            for name in ("score.mxl", "report.json"):
                data = (Path(folder) / name).read_bytes()
                found.append(hashlib.sha256(data).hexdigest())
    return found


def main() -> None:
    usual = digests(sys.executable)
    differing = 0
    for python in sys.argv[1:]:
        told = subprocess.run([python, "--version"], capture_output=True, text=True, check=True)
        same = digests(python) == usual
        differing += not same
        print(
            f"{told.stdout.strip()} ({python}): {'the same' if same else 'DIFFERENT'}", flush=True
        )
    print(f"{len(usual)} files each")
    sys.exit(bool(differing))


if __name__ == "__main__":
    main()
