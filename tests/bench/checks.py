"""How seldom the checks cry wolf, and how much of what is wrong they find.

    python -m tests.bench.checks [SCORE ...] [--seeds N] [--write]

Precision: every MusicXML score of music21's corpus (without its exercises and demos), or the
scores given. Masters write what can be played, so an error in their scores is a fault of the file
or of the check; each one is listed with its explanation from `checks_explained.yaml`.

Recall: faults of every kind (`checks_faults.py`) planted into seeded orchestras; a fault counts as
found where its check points at the part and bar it stands in, and did not before.

With `--write` the figures go to `checks.md` beside this file.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterable
from pathlib import Path

import yaml
from msgspec import Struct, field

from expander.checks import all_checks, run
from expander.errors import ExpanderError
from expander.model.finding import Finding, Severity
from expander.model.score import Document
from expander.musicxml import read
from tests.bench.checks_planting import Planted, planted

HERE = Path(__file__).parent
EXPLAINED = HERE / "checks_explained.yaml"
GOAL = 1.0
SEEDS = 4

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("quartets and other chamber music", (
        "beethoven", "haydn", "mozart", "schumann_robert/opus41", "schumann_clara/opus17",
        "weber", "webern", "corelli", "handel")),
    ("chorales and cantata movements", ("bach", "cpebach")),
    ("songs, piano and choral music", (
        "beach", "johnson", "joplin", "liliuokalani", "schubert", "schumann", "schoenberg",
        "verdi")),
    ("vocal music before 1700", (
        "monteverdi", "trecento", "ciconia", "luca", "lusitano")),
)  # fmt: skip
OTHER = "scores given"
LEFT_OUT = ("theoryExercises", "demos", "leadSheet")


class Tally(Struct):
    """What was found in a group of scores."""

    files: int = 0
    notes: int = 0
    reading: float = 0.0
    checking: float = 0.0
    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    errors: list[tuple[str, Finding]] = field(default_factory=list)

    @property
    def rate(self) -> float:
        """Errors per 1,000 notes."""
        return 1000 * len(self.errors) / max(1, self.notes)


def notes_of(score: Document) -> int:
    """Struck notes: a tied chain is one."""
    return sum(
        not note.tie_stop
        for part in score.parts
        for bar in part.bars
        for layer in bar.layers
        for event in layer
        for note in event.notes
    )


def corpus() -> list[Path]:
    """The MusicXML scores of music21's corpus."""
    from music21 import corpus as library

    found = [p for p in library.getCorePaths() if p.suffix in (".mxl", ".xml", ".musicxml")]
    return sorted(p for p in found if not any(word in str(p) for word in LEFT_OUT))


def short(path: Path) -> str:
    """A corpus file by its place in the corpus."""
    return str(path).rpartition("/corpus/")[2] or path.name


def group_of(name: str) -> str:
    """The group a corpus file belongs to."""
    return next((g for g, starts in GROUPS if name.startswith(starts)), OTHER)


def precision(paths: Iterable[Path]) -> dict[str, Tally]:
    """All checks over all scores."""
    found: dict[str, Tally] = defaultdict(Tally)
    for path in paths:
        name = short(path)
        tally = found[group_of(name)]
        try:
            started = time.perf_counter()
            score = read(path)
        except ExpanderError as error:
            sys.stderr.write(f"{name}: {error}\n")
            continue
        tally.reading += time.perf_counter() - started
        started = time.perf_counter()
        findings = run(score)
        tally.checking += time.perf_counter() - started
        tally.files += 1
        tally.notes += notes_of(score)
        tally.counts.update((f.severity.value, f.check) for f in findings)
        tally.errors += [(name, f) for f in findings if f.severity == Severity.ERROR]
    return found


# --------------------------------------------------------------------- report


def explained() -> list[dict[str, str]]:
    """Rows of file, check and reason."""
    return yaml.safe_load(EXPLAINED.read_text(encoding="utf-8"))


def reason(name: str, check: str) -> str:
    """Why a score has errors of a check; "" where nobody has looked yet."""
    rows = (r for r in explained() if name.startswith(r["file"]) and r["check"] == check)
    return next((row["reason"] for row in rows), "")


def precision_text(tallies: dict[str, Tally]) -> str:
    """The first half of the report."""
    lines = [
        "| scores | files | notes | errors | per 1,000 notes | warnings | notes to look at |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    order = [*(name for name, _ in GROUPS), OTHER]
    whole = Tally()
    for name in sorted(tallies, key=order.index):
        tally = tallies[name]
        lines.append(_row(name, tally))
        whole.files += tally.files
        whole.notes += tally.notes
        whole.errors += tally.errors
        whole.counts += tally.counts
    lines += [_row("all", whole), "", "Errors, file by file:", ""]
    lines += ["| score | check | errors | explanation |", "| --- | --- | --- | --- |"]
    by_file = Counter((name, finding.check) for name, finding in whole.errors)
    for (name, check), count in sorted(by_file.items()):
        why = reason(name, check) or "**not yet explained**"
        lines.append(f"| {name} | {check} | {count} | {why} |")
    return "\n".join(lines)


def _row(name: str, tally: Tally) -> str:
    warnings, notes = (
        sum(n for (kind, _), n in tally.counts.items() if kind == wanted)
        for wanted in ("warning", "note")
    )
    return (
        f"| {name} | {tally.files} | {tally.notes} | {len(tally.errors)} | {tally.rate:.2f} | "
        f"{warnings} | {notes} |"
    )


def counts_text(tallies: dict[str, Tally]) -> str:
    """How often each check speaks, per 1,000 notes."""
    whole: Counter[tuple[str, str]] = Counter()
    notes = sum(tally.notes for tally in tallies.values())
    for tally in tallies.values():
        whole += tally.counts
    lines = ["| check | severity | found | per 1,000 notes |", "| --- | --- | --- | --- |"]
    for (kind, check), count in sorted(whole.items(), key=lambda one: (-one[1], one[0])):
        lines.append(f"| {check} | {kind} | {count} | {1000 * count / max(1, notes):.2f} |")
    return "\n".join(lines)


def recall_text(results: list[Planted]) -> str:
    """The second half of the report."""
    totals, found = Counter[str](), Counter[str]()
    for one in results:
        totals[one.fault.check] += 1
        found[one.fault.check] += one.found
    missed = [one for one in results if not one.found]
    share = 100 * (len(results) - len(missed)) / max(1, len(results))
    lines = [
        f"{len(results)} faults of {len(totals)} kinds planted, {sum(found.values())} found "
        f"({share:.1f} %).",
        "",
        "| kind | planted | found |",
        "| --- | --- | --- |",
    ]
    lines += [f"| {check} | {totals[check]} | {found[check]} |" for check in sorted(totals)]
    lines += [
        f"\nMissed: {m.fault.check}, seed {m.seed}, bar {m.bar + 1}: {m.text}" for m in missed
    ]
    untried = sorted({check.id for check in all_checks()} - set(totals))
    lines += [f"\nChecks without a planted fault: {', '.join(untried)}"] if untried else []
    return "\n".join(lines)


_PAGE = """\
# The checks, measured

By `python -m tests.bench.checks --write`.

## Errors in scores by masters

Goal: at most {goal:g} error per 1,000 notes. Every file is checked as it is found, at the
professional level. The bars told of by `bar-not-full` were compared with music21's own reading
of the same files.

{precision}

How often each check speaks in these scores:

{counts}

## Planted faults

Into orchestras of 21 staves made by a seeded composer without faults (`checks_music.py`); of small
scores only where the check is for those. Seeds 0 to {last}.

{recall}
"""


def main(arguments: list[str] | None = None) -> int:
    """Measure and print; exit status 1 where a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("scores", nargs="*", type=Path)
    parser.add_argument("--seeds", type=int, default=SEEDS)
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args(arguments)
    tallies = precision(given.scores or corpus())
    results = list(planted(range(given.seeds)))
    text = _PAGE.format(
        goal=GOAL,
        precision=precision_text(tallies),
        counts=counts_text(tallies),
        recall=recall_text(results),
        last=given.seeds - 1,
    )
    if given.write:
        (HERE / "checks.md").write_text(text, encoding="utf-8")
    sys.stdout.write(text)
    reading = sum(t.reading for t in tallies.values())
    checking = sum(t.checking for t in tallies.values())
    sys.stdout.write(f"\nreading {reading:.1f} s, checking {checking:.1f} s\n")
    notes = sum(t.notes for t in tallies.values())
    errors = sum(len(t.errors) for t in tallies.values())
    return int(1000 * errors > GOAL * notes or not all(one.found for one in results))


if __name__ == "__main__":
    sys.exit(main())
