"""A batch over many real pieces, on request: python -m tests.bench.batch [pieces] [workers].

Takes pieces from music21's corpus, evenly over its folders, expands each for a septet with parts
and prints how long it took. The second run finds everything done.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from expander.batch.orders import Order
from expander.batch.pool import Local
from expander.batch.run import run_batch
from expander.batch.telling import Progress, table
from tests.pipeline.pieces import CORPUS

LARGEST = 200_000
"""Bytes of a piece."""


def pieces(count: int) -> list[Path]:
    """So many files of the corpus, evenly over all of it."""
    known = sorted(p for p in CORPUS.rglob("*") if p.suffix in (".mxl", ".xml", ".musicxml"))
    small = [p for p in known if p.stat().st_size < LARGEST]
    return small[:: max(1, len(small) // count)][:count]


def main() -> None:
    """Run twice and print the times."""
    count, workers = (int(word) for word in (*sys.argv[1:], "200", "2")[:2])
    orders = [
        Order(f"{number:03d}-{path.stem}", path, ensemble="septet", parts=True)
        for number, path in enumerate(pieces(count))
    ]
    with tempfile.TemporaryDirectory() as folder:
        for run in ("first", "second"):
            began = time.perf_counter()
            progress = Progress(len(orders))
            outcomes = run_batch(orders, Path(folder), Local(workers), tell=progress.say)
            progress.end()
            print(f"{run} run: {time.perf_counter() - began:.1f} s, {table(outcomes)[-1]}")


if __name__ == "__main__":
    main()
