"""What a batch says while it runs and at its end: progress, a table, a summary as data."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Mapping, Sequence
from typing import Any, TextIO

from msgspec import Struct, field

from expander import __version__
from expander.batch.orders import Order

SCHEMA = 1
DONE, FAILED, STANDS = "done", "failed", "unchanged"
COLUMNS = ("bars", "notes", "given to nobody", "errors", "warnings", "parts")


class Outcome(Struct, frozen=True):
    """What came of an order: done now, unchanged since it was done before, or failed and why."""

    order: Order
    result: str
    counts: Mapping[str, int] = field(default_factory=dict)
    wrong: str = ""


class Progress:
    """One line that counts on a terminal; one line for each job in a pipe."""

    def __init__(self, total: int, stream: TextIO | None = None) -> None:
        self.stream = stream or sys.stderr
        self.live = self.stream.isatty()
        self.total, self.seen, self.worked, self.failed = total, 0, 0, 0
        self.begun = time.monotonic()

    def say(self, outcome: Outcome) -> None:
        """Count an outcome, and tell it."""
        self.seen += 1
        self.worked += outcome.result != STANDS
        self.failed += outcome.result == FAILED
        if not self.live:
            wrong = f": {outcome.wrong}" if outcome.wrong else ""
            place = f"[{self.seen}/{self.total}]"
            self._write(f"{place} {outcome.order.name}: {outcome.result}{wrong}\n")
            return
        failed = f", {self.failed} failed" if self.failed else ""
        self._write(f"\r\033[K{self.seen} of {self.total} jobs{failed}{self._left()}")

    def end(self) -> None:
        """Clear the line."""
        if self.live:
            self._write("\r\033[K")

    def _left(self) -> str:
        if not self.worked or self.seen == self.total:
            return ""
        each = (time.monotonic() - self.begun) / self.worked
        return f", about {spoken(each * (self.total - self.seen))} left"

    def _write(self, text: str) -> None:
        self.stream.write(text)
        self.stream.flush()


def spoken(seconds: float) -> str:
    """A length of time for reading: 40 s, 3 min, 2 h 10 min."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    minutes = (whole + 30) // 60
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours else f"{minutes} min"


def table(outcomes: Sequence[Outcome]) -> list[str]:
    """A row for each job, figures under their names, and a last line with the sums."""
    head = ("job", "result", *COLUMNS)
    rows = [(o.order.name, o.result, *_figures(o)) for o in outcomes]
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    lines = [_row(head, widths), "  ".join("-" * w for w in widths)]
    lines += [_row(row, widths) for row in rows]
    counts = {r: sum(o.result == r for o in outcomes) for r in (DONE, STANDS, FAILED)}
    told = ", ".join(f"{count} {result}" for result, count in counts.items())
    return [*lines, f"{len(outcomes)} jobs: {told}."]


def _figures(outcome: Outcome) -> list[str]:
    if outcome.result == FAILED:
        return ["-"] * len(COLUMNS)
    return [str(outcome.counts.get(name, 0)) for name in COLUMNS]


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    texts = [
        cell.ljust(width) if place < 2 else cell.rjust(width)
        for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return "  ".join(texts).rstrip()


def summary(outcomes: Sequence[Outcome]) -> bytes:
    """The same as JSON, the same bytes however and in how many runs the jobs were done."""
    jobs = [_job(outcome) for outcome in outcomes]
    failed = sum(outcome.result == FAILED for outcome in outcomes)
    data = {
        "schema": SCHEMA,
        "version": __version__,
        "done": len(outcomes) - failed,
        "failed": failed,
        "jobs": jobs,
    }
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


def _job(outcome: Outcome) -> dict[str, Any]:
    order = outcome.order
    told: dict[str, Any] = {
        "name": order.name,
        "sketch": str(order.sketch),
        "rules": str(order.rules or ""),
        "ensemble": order.ensemble,
        "result": FAILED if outcome.result == FAILED else DONE,
        "message": outcome.wrong,
    }
    kept = {key: value for key, value in told.items() if value != ""}
    return {**kept, **{name: outcome.counts[name] for name in COLUMNS if name in outcome.counts}}
