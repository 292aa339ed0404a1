"""Kills at random moments, many on request.

python -m tests.exact.stops [COUNT] [SEED]
"""

from __future__ import annotations

import hashlib
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
COMMAND = "from expander.__main__ import run; run()"
OLD = b"the old score"


class Torn(AssertionError):
    """The output is neither the old file nor the new one."""


def started(folder: Path) -> subprocess.Popen[bytes]:
    """The sample being expanded over an older file, in a process of its own."""
    (folder / "score.musicxml").write_bytes(OLD)
    arguments = ["expand", str(SAMPLES / "paper-harbour.musicxml"), "-e", "septet"]
    arguments += ["-o", "score.musicxml", "--report", "report.json"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    return subprocess.Popen(
        [sys.executable, "-c", COMMAND, *arguments], cwd=folder, env=environment,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def whole() -> tuple[str, float]:
    """What an unhindered run writes, and the seconds it takes."""
    with tempfile.TemporaryDirectory() as name:
        begun = time.monotonic()
        assert started(Path(name)).wait() == 0
        return digest(Path(name) / "score.musicxml"), time.monotonic() - begun


def killed(count: int, seed: int) -> Counter[str]:
    """Runs killed at random moments, half of them near the end: what each left."""
    new, seconds = whole()
    rng = random.Random(seed)
    found: Counter[str] = Counter()
    for number in range(count):
        early = rng.uniform(0, 1.1) if number % 2 else rng.uniform(0.75, 1.05)
        with tempfile.TemporaryDirectory() as name:
            process = started(Path(name))
            try:
                process.wait(timeout=early * seconds)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
            left = digest(Path(name) / "score.musicxml")
            known = {new: "new", hashlib.sha256(OLD).hexdigest(): "old"}
            if left not in known:
                raise Torn(f"kill {number} after {early * seconds:.3f} s")
            found[known[left]] += 1
            found["left beside"] += any(p.suffix == ".part" for p in Path(name).iterdir())
    return found


WRITER = """
import sys
from pathlib import Path
from expander.outputs import put_in_place
print("ready", flush=True)
while True:
    for letter in (b"a", b"b"):
        put_in_place({Path("one"): letter * 400_000, Path("two"): letter * 300_000})
"""


def killed_writing(count: int, seed: int) -> Counter[str]:
    """A writer that does nothing but put two files in place, killed again and again."""
    rng = random.Random(seed)
    found: Counter[str] = Counter()
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    with tempfile.TemporaryDirectory() as name:
        for number in range(count):
            process = subprocess.Popen(
                [sys.executable, "-c", WRITER], cwd=name, env=environment, stdout=subprocess.PIPE
            )
            process.stdout.readline()
            time.sleep(rng.uniform(0, 0.05))
            process.kill()
            process.wait()
            for path, size in (("one", 400_000), ("two", 300_000)):
                data = (Path(name) / path).read_bytes() if (Path(name) / path).exists() else b""
                if data and data not in (b"a" * size, b"b" * size):
                    raise Torn(f"{path} after kill {number}")
                found[chr(data[0]) if data else "none yet"] += 1
        found["left beside"] = sum(p.suffix == ".part" for p in Path(name).iterdir())
    return found


def main() -> None:
    count, seed = (int(a) for a in [*sys.argv[1:], *("200", "1")[len(sys.argv) - 1 :]])
    print("writer:", dict(killed_writing(count, seed)), flush=True)
    print("command:", dict(killed(count, seed)))


if __name__ == "__main__":
    main()
