"""Where notes are given to the wrong part: `python -m tests.bench.voices_errors [--data FILE]`.

For each set and task, by what is the case when a note begins: how many of the wrong notes stand
there, and in brackets how often such notes are wrong. The first case that applies counts.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from expander.voicing.tones import Tone
from tests.bench.voices import TASKS, alone, handed_out, problems
from tests.bench.voices_data import COMPOSERS, Head, Piece, pieces

CASES = (
    "a part is out of order with one that sounds",
    "fewer notes sound than there are parts",
    "unisons",
    "everything else",
)


def cases(heads: Sequence[Head], truth: Sequence[int], parts: int) -> list[str]:
    """The case of each note."""
    sounding: dict[int, Head] = {}
    found = []
    begun: list[int] = []
    for index, head in enumerate(heads):
        if begun and heads[begun[0]].onset != head.onset:
            found += [_case(truth[i], sounding, parts) for i in begun]
            begun = []
        sounding = {p: h for p, h in sounding.items() if h.end > head.onset}
        sounding[truth[index]] = head
        begun.append(index)
    return found + [_case(truth[i], sounding, parts) for i in begun]


def _case(part: int, sounding: dict[int, Head], parts: int) -> str:
    mine = sounding[part].semitone
    depths = [
        (h.semitone - mine) * (1 if other > part else -1)
        for other, h in sounding.items()
        if other != part
    ]
    if any(depth > 0 for depth in depths):
        return CASES[0]
    if len(sounding) < parts:
        return CASES[1]
    return CASES[2] if 0 in depths else CASES[3]


def count(piece: Piece, task: str) -> Counter[tuple[str, bool]]:
    """Scored notes of a piece by case and by being right."""
    total: Counter[tuple[str, bool]] = Counter()
    for heads, truth, parts in problems(piece, task):
        tones = [Tone(h.onset, h.end, h.semitone) for h in heads]
        found = handed_out(heads, truth, alone(tones, parts, piece.group))
        rows = zip(heads, cases(heads, truth, len(parts)), truth, found, strict=True)
        total.update((case, t == f) for head, case, t, f in rows if head.scored)
    return total


def main() -> None:
    """Print a column for each set and task."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, help="the pieces, as voices.py keeps them")
    found = pieces(parser.parse_args().data)
    for name, groups in (("quartets", COMPOSERS), ("chorales", ("chorales",))):
        for task in TASKS:
            print(f"{name}, {task}")
            total = sum((count(p, task) for p in found if p.group in groups), Counter())
            wrong = sum(n for (_, right), n in total.items() if not right)
            for case in CASES:
                mine, good = total[case, False], total[case, True]
                rate = 100 * mine / max(1, mine + good)
                print(f"  {case}: {100 * mine / wrong:.0f} % ({rate:.1f} %)", flush=True)


if __name__ == "__main__":
    main()
