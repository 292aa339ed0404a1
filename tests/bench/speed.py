"""How fast and how large: `expander` as whole processes, beside a floor and beside a plain script.

    python -m tests.bench.speed [floor] [growth] [start] [plain]      (all of them without a name)

floor    a 350-bar sketch of five staves into the symphony orchestra, `check` and `parts` of the
         result, each beside one process in which lxml parses the sketch and the score and
         serializes the score
growth   30 to 10,000 bars of five staves, 4 to 60 staves of 100 bars: seconds and memory, a
         straight line through them by least squares, and the score's lxml tree for comparison
start    how soon `--help` and `list` answer
plain    a music21 script that parses the sketch, copies its staves to 24 parts and writes them

Seconds are of the processor, system time included, the least of several runs, modules compiled;
memory is the largest resident set of the process. Run it on a machine that does nothing else.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from msgspec import Struct

ROOT = Path(__file__).parents[2]
BARS = 350
LINE_UP = "symphony-orchestra"
LENGTHS = (30, 100, 350, 1000, 3000, 10_000)
WIDTHS = (4, 8, 15, 30, 60)
WIDE_BARS = 100

COMPILED = str(Path(tempfile.gettempdir()) / "expander-bench-compiled")
COMMAND = "from expander.__main__ import run; run()"
FLOOR = """
import sys
from lxml import etree
etree.parse(sys.argv[1])
etree.tostring(etree.parse(sys.argv[2]), encoding="UTF-8", xml_declaration=True)
"""
TREE = "import sys; from lxml import etree; tree = etree.parse(sys.argv[1])"
EMPTY = "from lxml import etree"
SKETCH = """
import sys
from pathlib import Path
from tests.bench.sketches import sketch
Path(sys.argv[1]).write_bytes(sketch(int(sys.argv[2]), int(sys.argv[3])))
"""
PLAIN = """
import copy, sys
from music21 import converter, stream
score = converter.parse(sys.argv[1], forceSource=True)
staves = list(score.parts)
full = stream.Score()
for number in range(24):
    part = copy.deepcopy(staves[number % len(staves)])
    part.id = f"part {number}"
    full.insert(0, part)
full.write("musicxml", sys.argv[2])
"""


class Cost(Struct, frozen=True):
    """Seconds of the processor and bytes of memory of one process."""

    seconds: float
    memory: int


def cost(code: str, *arguments: str, runs: int = 3) -> Cost:
    """The least cost of some Python in a process of its own."""
    return min((_once(code, arguments) for _ in range(runs)), key=lambda c: c.seconds)


def _once(code: str, arguments: Sequence[str]) -> Cost:
    command = [sys.executable, "-c", code, *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": COMPILED}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed program is compiled
    nothing = os.open(os.devnull, os.O_WRONLY)
    quiet = [(os.POSIX_SPAWN_DUP2, nothing, 1), (os.POSIX_SPAWN_DUP2, nothing, 2)]
    process = os.posix_spawn(sys.executable, command, environment, file_actions=quiet)
    _, status, usage = os.wait4(process, 0)
    os.close(nothing)
    if os.waitstatus_to_exitcode(status) > 1:
        raise RuntimeError(f"{command[3:]} ended with {os.waitstatus_to_exitcode(status)}")
    return Cost(usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024)


def expanded(source: Path, target: Path, runs: int = 3) -> Cost:
    return cost(COMMAND, "expand", str(source), "-e", LINE_UP, "-o", str(target), runs=runs)


def made(folder: Path, bars: int, staves: int = 5) -> Path:
    path = folder / f"{bars}-{staves}.musicxml"
    _once(SKETCH, (str(path), str(bars), str(staves)))
    return path


# -- tables ----------------------------------------------------------------------------------------


def floor(folder: Path) -> None:
    source, target = made(folder, BARS), folder / "score.musicxml"
    ours = expanded(source, target)
    least = cost(FLOOR, str(source), str(target))
    checked = cost(COMMAND, "check", str(target))
    parted = cost(COMMAND, "parts", str(target), "-o", str(folder / "parts"))
    print(f"\n{BARS} bars, five staves, {source.stat().st_size / 1e6:.1f} MB, into {LINE_UP}, "
          f"{target.stat().st_size / 1e6:.1f} MB\n")  # fmt: skip
    print("| process | seconds | times the floor | memory, MB |\n| --- | --- | --- | --- |")
    rows = {"floor": least, "expand": ours, "check": checked, "parts": parted}
    for name, one in rows.items():
        ratio = one.seconds / least.seconds
        print(f"| {name} | {one.seconds:.2f} | {ratio:.1f} | {one.memory / 1e6:.0f} |", flush=True)


def plain(folder: Path) -> None:
    source, target = made(folder, BARS), folder / "score.musicxml"
    ours = expanded(source, target)
    theirs = cost(PLAIN, str(source), str(folder / "plain.musicxml"), runs=1)
    print(f"\nmusic21 script: {theirs.seconds:.1f} s, {theirs.memory / 1e6:.0f} MB; "
          f"expand: {ours.seconds:.2f} s; {theirs.seconds / ours.seconds:.0f} times as long",
          flush=True)  # fmt: skip


def growth(folder: Path) -> None:
    print("\n| bars | staves | notes | seconds | ms a note | memory, MB | tree, MB | ratio |")
    print("|" + " --- |" * 8)
    base = cost(EMPTY).memory
    _grown("bars", [_row(folder, bars, 5, base) for bars in LENGTHS])
    _grown("staves", [_row(folder, WIDE_BARS, staves, base) for staves in WIDTHS])


def _row(folder: Path, bars: int, staves: int, base: int) -> tuple[int, Cost]:
    source, target = made(folder, bars, staves), folder / "grown.musicxml"
    ours = expanded(source, target, runs=3 if bars <= BARS else 1)
    tree = cost(TREE, str(target), runs=1).memory - base
    notes = _notes(source)
    print(
        f"| {bars} | {staves} | {notes} | {ours.seconds:.2f} | {1000 * ours.seconds / notes:.3f} | "
        f"{ours.memory / 1e6:.0f} | {tree / 1e6:.0f} | {ours.memory / tree:.1f} |", flush=True
    )  # fmt: skip
    source.unlink()
    return notes, ours


def _notes(source: Path) -> int:
    """Heads in a sketch, line by line: a large process's children begin as large in the count."""
    with source.open("rb") as stream:
        return sum(line.count(b"<note>") for line in stream)


def _grown(what: str, rows: Sequence[tuple[int, Cost]]) -> None:
    """The straight line through notes and seconds, weighted so that each row counts alike."""
    weights = [1 / notes**2 for notes, _ in rows]
    slope, start = _line([n for n, _ in rows], [c.seconds for _, c in rows], weights)
    far = max(abs(c.seconds / (start + slope * n) - 1) for n, c in rows)
    print(f"\nby {what}: {start:.2f} s + {1000 * slope:.3f} ms a note, "
          f"no row further than {100 * far:.0f} % from the line\n", flush=True)  # fmt: skip


def _line(
    xs: Sequence[float], ys: Sequence[float], weights: Sequence[float]
) -> tuple[float, float]:
    whole = sum(weights)
    x = sum(w * a for w, a in zip(weights, xs, strict=True)) / whole
    y = sum(w * b for w, b in zip(weights, ys, strict=True)) / whole
    over = sum(w * (a - x) * (b - y) for w, a, b in zip(weights, xs, ys, strict=True))
    slope = over / sum(w * (a - x) ** 2 for w, a in zip(weights, xs, strict=True))
    return slope, y - slope * x


def start(folder: Path) -> None:
    print("\n| command | seconds |\n| --- | --- |")
    lists = ("instruments", "ensembles", "voicings", "checks", "techniques")
    for arguments in (("--help",), *(("list", name) for name in lists)):
        print(f"| {' '.join(arguments)} | {cost(COMMAND, *arguments).seconds:.2f} |", flush=True)


TABLES: dict[str, Callable[[Path], None]] = {
    "start": start, "floor": floor, "plain": plain, "growth": growth,
}  # fmt: skip


def main() -> None:
    print(f"Python {platform.python_version()}, {platform.machine()}, {os.cpu_count()} processors, "
          f"load {os.getloadavg()[0]:.1f}")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        for name in sys.argv[1:] or TABLES:
            TABLES[name](Path(folder))


if __name__ == "__main__":
    main()
