"""How well lines are found: `python -m tests.bench.voices [--data FILE] [--fold FILE]`.

Every method is given the onsets, ends and pitches of notes and the number of lines, nothing else.
Task "two staves": parts 1 and 2 into two lines, and parts 3 and 4; task "all in one": all four.

The last rows are the other thing: `share` given a short score in MusicXML with its layers, as
`voices_short.py` writes them; the music is then told, and only what chords hide is to be found.

Measures, over the notes that are scored
    right   share of notes in the right part, lines being numbered from the top
    links   F of pairs of neighbours in a line that are neighbours in a part
    pairs   F of all pairs of notes of a piece that are in one line and in one part
Notes with the same onset, end and pitch cannot be told apart and are handed out the best way.
The result and what it means: voices.md. Run on request; nothing here is timed in the test suite.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations, groupby, pairwise
from pathlib import Path
from time import process_time

from expander.voicing.assign import assign
from expander.voicing.polyphony import untangle
from expander.voicing.tones import Tone, Voice
from tests.bench import voices_short
from tests.bench.voices_data import TICKS, Head, Piece, pieces, summary

FIGURES = Path(__file__).with_name("voices_figures.json")
"""Figures found without the composer named; "chorales" without the reported chorales."""

COMPASSES = (Voice(55, 103), Voice(55, 103), Voice(48, 91), Voice(36, 84))
"""Violin, violin, viola, cello: open strings and a usual top (memory)."""

TASKS = {"two staves": ((0, 1), (2, 3)), "all in one": ((0, 1, 2, 3),)}

Labels = Sequence[int]
Method = Callable[[list[Tone], tuple[int, ...], str], Labels]


def top_down(tones: list[Tone], parts: tuple[int, ...], group: str) -> Labels:
    """Held notes keep their line; new ones take the free lines from the top."""
    until = [0] * len(parts)
    found = []
    for now, chord in groupby(tones, key=lambda t: t.onset):
        free = [v for v, end in enumerate(until) if end <= now]
        for voice, tone in zip(free, chord, strict=False):
            until[voice] = tone.end
            found.append(voice)
    return found


def greedy(tones: list[Tone], parts: tuple[int, ...], group: str) -> Labels:
    """As `top_down`, but fewer notes than free lines go where the sum of leaps is least."""
    until, last = [0] * len(parts), [-1] * len(parts)
    found: list[int] = []
    for now, group_of in groupby(tones, key=lambda t: t.onset):
        chord = list(group_of)
        free = [v for v, end in enumerate(until) if end <= now]

        def leaps(voices: tuple[int, ...], chord: list[Tone] = chord) -> int:
            moves = zip(voices, chord, strict=True)
            return sum(abs(t.semitone - last[v]) if last[v] >= 0 else 6 for v, t in moves)

        for voice, tone in zip(min(combinations(free, len(chord)), key=leaps), chord, strict=True):
            until[voice], last[voice] = tone.end, tone.semitone
            found.append(voice)
    return found


def dealing(tones: list[Tone], parts: tuple[int, ...], group: str) -> Labels:
    """The search that deals layers and chords out, with its plain costs."""
    return assign(tones, [Voice()] * len(parts), beat=TICKS)


def alone(tones: list[Tone], parts: tuple[int, ...], group: str) -> Labels:
    """The search for notes alone."""
    return untangle(tones, len(parts), beat=TICKS, figures=figures(group))


def with_ranges(tones: list[Tone], parts: tuple[int, ...], group: str) -> Labels:
    """The same, told what the four players can sound."""
    voices = [COMPASSES[p] for p in parts] if "chorales" not in group else len(parts)
    return untangle(tones, voices, beat=TICKS, figures=figures(group))


METHODS: dict[str, Method] = {
    "top down": top_down,
    "greedy": greedy,
    "dealing": dealing,
    "notes alone": alone,
    "with ranges": with_ranges,
}

_FIGURES: dict[str, dict[str, list[int]]] = {}


def figures(group: str) -> dict[str, list[int]]:
    """Figures that were found without this group."""
    if not _FIGURES:
        _FIGURES.update(json.loads(FIGURES.read_text()))
    return _FIGURES[group]


def problems(piece: Piece, task: str) -> Iterator[tuple[list[Head], list[int], tuple[int, ...]]]:
    """Notes in order without trace of their part, the true lines, and the parts."""
    for parts in TASKS[task]:
        rows = [(h, line) for line, part in enumerate(parts) for h in piece.parts[part]]
        rows.sort(key=lambda row: (row[0].onset, -row[0].semitone, row[0].end, row[1]))
        yield [h for h, _ in rows], [line for _, line in rows], parts


def score(heads: list[Head], truth: Labels, found: Labels) -> Counter[str]:
    """Counts for the three measures."""
    found = handed_out(heads, truth, found)
    doubtful = {_key(h) for h in heads if not h.scored}
    count: Counter[str] = Counter()
    rows = [(t, f) for h, t, f in zip(heads, truth, found, strict=True) if _key(h) not in doubtful]
    count["notes"] = len(rows)
    count["right"] = sum(t == f for t, f in rows)
    true, ours = _links(heads, truth, doubtful), _links(heads, found, doubtful)
    count["links true"], count["links"] = true.total(), ours.total()
    count["links right"] = (true & ours).total()
    count["pairs true"] = _pairs(Counter(t for t, _ in rows))
    count["pairs"] = _pairs(Counter(f for _, f in rows))
    count["pairs right"] = _pairs(Counter(rows))
    return count


Key = tuple[int, int, int]


def _key(head: Head) -> Key:
    return (head.onset, head.end, head.semitone)


def _links(heads: list[Head], labels: Labels, doubtful: set[Key]) -> Counter[tuple[Key, Key]]:
    lines: dict[int, list[Key]] = {}
    for head, line in zip(heads, labels, strict=True):
        lines.setdefault(line, []).append(_key(head))
    links = (link for line in lines.values() for link in pairwise(line))
    return Counter((a, b) for a, b in links if a not in doubtful and b not in doubtful)


def _pairs(sizes: Counter[object]) -> int:
    return sum(n * (n - 1) // 2 for n in sizes.values())


def handed_out(heads: list[Head], truth: Labels, found: Labels) -> list[int]:
    """The found lines, with those of identical notes swapped to fit the truth if they can."""
    same: dict[Key, list[int]] = {}
    for index, head in enumerate(heads):
        same.setdefault(_key(head), []).append(index)
    fitted = list(found)
    for group in same.values():
        if len(group) > 1:
            pool = [found[i] for i in group]
            ranked = sorted(group, key=lambda i: truth[i] not in pool)
            for index in ranked:
                fitted[index] = truth[index] if truth[index] in pool else pool[0]
                pool.remove(fitted[index])
    return fitted


def measure(piece: Piece, task: str, method: Method) -> Counter[str]:
    """Counts of one piece, with the time in nanoseconds."""
    total: Counter[str] = Counter()
    for heads, truth, parts in problems(piece, task):
        tones = [Tone(h.onset, h.end, h.semitone) for h in heads]
        began = process_time()
        found = method(tones, parts, piece.group)
        total["time"] += round((process_time() - began) * 1e9)
        total["all"] += len(tones)
        total += score(heads, truth, found)
    return total


def share(count: Counter[str], what: str) -> float:
    """F of links or pairs, in per cent."""
    return 200 * count[f"{what} right"] / max(1, count[what] + count[f"{what} true"])


def row(name: str, task: str, method: str, count: Counter[str]) -> str:
    """One line of the table."""
    right = 100 * count["right"] / count["notes"]
    micro = count["time"] / count["all"] / 1000
    pairs = f"{share(count, 'pairs'):.2f}" if count["pairs"] else ""
    return (
        f"| {name} | {task} | {method} | {right:.2f} | {share(count, 'links'):.2f} "
        f"| {pairs} | {micro:.0f} |"
    )


def main() -> None:
    """Print what the pieces are, and the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, help="keep the pieces in this file")
    parser.add_argument("--composers", action="store_true", help="a row for each composer")
    options = parser.parse_args()
    found = [p for p in pieces(options.data) if p.group in ("chorales", *_quartets())]
    for group, (count, notes, scored) in summary(found).items():
        print(f"{group}: {count} pieces, {notes} notes, {scored} scored")
    print("| set | task | method | right % | links F | pairs F | µs a note |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for task in TASKS:
        for method in METHODS:
            _table(found, task, method, options.composers)
    for way in voices_short.WAYS:
        _table(found, "two staves", way, options.composers)


def _measured(piece: Piece, task: str, method: str) -> Counter[str]:
    if method in voices_short.WAYS:
        return voices_short.measure(piece, method)
    return measure(piece, task, METHODS[method])


def _quartets() -> tuple[str, ...]:
    from tests.bench.voices_data import COMPOSERS

    return COMPOSERS


def _table(found: list[Piece], task: str, method: str, composers: bool) -> None:
    totals: dict[str, Counter[str]] = {}
    for piece in found:
        count = _measured(piece, task, method)
        names = ["chorales"] if piece.group == "chorales" else ["quartets"]
        for name in names + ([piece.group] if composers and piece.group != "chorales" else []):
            totals.setdefault(name, Counter()).update(count)
    for name, count in totals.items():
        print(row(name, task, method, count), flush=True)


if __name__ == "__main__":
    main()
