"""How much of the music is kept when a score goes to another line-up, beside a plain baseline.

    python -m tests.bench.revoice [SCORE ...] [--line-ups NAME ...] [--no-baseline]

Without scores, quartets, choral works and a song from music21's corpus. For each score and
line-up, at every moment at which the original begins a note:

    top, bottom   share of moments at which the highest (lowest) note that sounds has the pitch
                  class that the original's highest (lowest) note has
    in reach      the same where somebody of the line-up has that note in their range
    classes       share of the original's pitch classes that sound
    whole         share of the original's notes (doublings apart) that a player has in full length
    together      share of neighbouring notes of one original line that one player has both of
    errors        errors found by the checks
    muddy         held chords with a low interval below its limit, where the original has none
    lost          original notes that are neither kept nor doubled by a note that is kept

The baseline gives the N highest notes of each moment to the N players from the highest down, each
in the octave nearest to the player's range.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble
from expander.checks.runner import run
from expander.model.instrument import Ensemble
from expander.model.pitch import Drum
from expander.model.rules import Rules
from expander.model.score import Document, Event, Score
from expander.model.walk import events_of
from expander.musicxml import read
from expander.pipeline import expand_score
from expander.revoice.chairs import Chair, chairs_of
from expander.revoice.harmonics import as_heard
from expander.revoice.lines import PLAIN
from expander.revoice.players import Stave, bare_system, rules_for, with_staves
from expander.revoice.revoice import revoice_score
from expander.sounding import to_sounding
from tests.bench.revoice_back import PIECES, own, paths, print_back, scores
from tests.revoice.mud import new_mud

LINE_UPS = ("woodwind-quintet", "saxophone-quartet", "brass-quintet", "septet", "wind-band")


class Sound(Struct, frozen=True):
    start: Fraction
    end: Fraction
    height: int


class Figures(Struct):
    """Sums over moments, to be divided at the end."""

    moments: int = 0
    reached: int = 0
    top_reached: int = 0
    deep: int = 0
    bottom_deep: int = 0
    top: int = 0
    bottom: int = 0
    top_anywhere: int = 0
    bottom_anywhere: int = 0
    classes: int = 0
    kept: int = 0
    all_notes: int = 0
    whole: int = 0
    pairs: int = 0
    together: int = 0
    errors: int = 0
    muddy: int = 0
    notes: int = 0
    lost: int = 0
    doubled: int = 0
    seconds: float = 0.0

    def add(self, other: Figures) -> None:
        for name in self.__struct_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))

    def share(self, name: str) -> float:
        whole = {
            "top_reached": self.reached,
            "bottom_deep": self.deep,
            "kept": self.classes,
            "whole": self.all_notes,
            "together": self.pairs,
        }.get(name, self.moments)
        return 100 * getattr(self, name) / whole if whole else 100.0


# -- what sounds -----------------------------------------------------------------------------------


def sounds(score: Score) -> list[Sound]:
    """Every pitched note of a score as heard."""
    heard = to_sounding(score)
    found = []
    for part in heard.parts:
        for bar, content in zip(heard.bars, part.bars, strict=True):
            layers = (as_heard(layer, part.name == "Harp") for layer in content.layers)
            for event in (e for layer in layers for e in layer if not e.cue):
                found += _sounds(bar.start, event, heard.grid)
    return found


def _sounds(start: int, event: Event, grid: int) -> Iterator[Sound]:
    if not event.duration:
        return
    begin = Fraction(start + event.at, grid)
    end = Fraction(start + event.end, grid)
    for note in event.notes:
        if not isinstance(note.pitch, Drum):
            yield Sound(begin, end, int(note.pitch.semitone))


def at_moments(found: Sequence[Sound], moments: Sequence[Fraction]) -> list[list[int]]:
    """The heights that sound at each moment."""
    waiting = sorted(found, key=lambda s: s.start)
    sounding: list[Sound] = []
    rows, place = [], 0
    for moment in moments:
        while place < len(waiting) and waiting[place].start <= moment:
            sounding.append(waiting[place])
            place += 1
        sounding = [s for s in sounding if s.end > moment]
        rows.append(sorted(s.height for s in sounding))
    return rows


def in_reach(height: int, desks: Sequence[Chair]) -> bool:
    """Whether somebody can play a note where it stands."""
    return any(desk.low <= height <= desk.high for desk in desks)


def compared(before: Document, after: Document, ensemble: Ensemble) -> Figures:
    """The shares of the original that are heard in the result."""
    desks = [c for c in chairs_of(ensemble) if c.pitched]
    old, new = sounds(before), sounds(after)
    moments = sorted({s.start for s in old})
    figures = Figures(moments=len(moments))
    rows = zip(at_moments(old, moments), at_moments(new, moments), strict=True)
    for was, now in rows:
        classes, heard = {h % 12 for h in was}, {h % 12 for h in now}
        figures.classes += len(classes)
        figures.kept += len(classes & heard)
        figures.top_anywhere += was[-1] % 12 in heard
        figures.bottom_anywhere += was[0] % 12 in heard
        top = bool(now) and was[-1] % 12 == now[-1] % 12
        bottom = bool(now) and was[0] % 12 == now[0] % 12
        figures.top += top
        figures.bottom += bottom
        if in_reach(was[-1], desks):
            figures.reached += 1
            figures.top_reached += top
        if in_reach(was[0], desks):
            figures.deep += 1
            figures.bottom_deep += bottom
    return figures


Held = dict[int, dict[int, int]]
"""For each original note its length in ticks with each player (or stave of the original)."""


def held(score: Score) -> Held:
    """How long each player has each note, tied heads together."""
    found: Held = {}
    for index, part in enumerate(score.parts):
        for event in events_of(part):
            for note in event.notes:
                for number in note.origins if event.duration else ():
                    lengths = found.setdefault(number, {})
                    lengths[index] = lengths.get(index, 0) + event.duration
    return found


def lines_of(sketch: Score) -> Iterator[list[int]]:
    """The numbers of each original layer's notes, in order; of chords the first note."""
    for part in sketch.parts:
        for layer in range(len(part.layers)):
            row: list[int] = []
            for bar in part.bars:
                for event in bar.layers[layer]:
                    if event.notes and event.duration and not event.cue:
                        row.append(event.notes[0].origin)
            yield list(dict.fromkeys(row))


def add_lines(figures: Figures, sketch: Score, after: Score) -> None:
    """Add whether notes keep their length, and neighbours their player."""
    before, now = held(sketch), held(after)
    for number, lengths in before.items():
        if number in now and number >= 0:
            figures.all_notes += 1
            figures.whole += max(now[number].values()) >= max(lengths.values())
    for row in lines_of(sketch):
        for one, other in pairwise(row):
            if one in now and other in now:
                figures.pairs += 1
                figures.together += bool(now[one].keys() & now[other].keys())


def errors(score: Document, ensemble: Ensemble) -> list:
    return [f for f in run(score, ensemble=ensemble) if f.severity == "error"]


# -- ours and the baseline -------------------------------------------------------------------------


def ours(document: Document, ensemble: Ensemble, seen: Counter) -> Figures:
    begun = time.perf_counter()
    done = revoice_score(document, ensemble)
    seconds = time.perf_counter() - begun
    figures = compared(document, done.score, ensemble)
    add_lines(figures, to_sounding(document), done.score)
    found = errors(done.score, done.ensemble)
    seen.update(f.check for f in found)
    return replace(
        figures,
        errors=len(found),
        muddy=len(new_mud(document, done.score)),
        notes=done.ledger.notes,
        lost=len(done.ledger.unplaced),
        doubled=done.ledger.replaced,
        seconds=seconds,
    )


def baseline(document: Document, ensemble: Ensemble) -> Figures:
    """The N highest notes of each moment to N players, each in the octave nearest their range."""
    sketch = to_sounding(document)
    desks = [c for c in chairs_of(ensemble) if c.desk == 0 and c.pitched]
    desks = sorted(desks, key=lambda c: (-c.middle, c.number))
    cells = [_plain_row(sketch, rank, desk) for rank, desk in enumerate(desks)]
    staves = [
        Stave(f"s{i}", ensemble.players[d.player].name, PLAIN, row, {})
        for i, (d, row) in enumerate(zip(desks, cells, strict=True))
        if row
    ]
    strands, entries = rules_for(staves, 1)
    rules = replace(Rules(), strands=strands, plan={"all": entries})
    written = expand_score(with_staves(bare_system(sketch), staves), rules, ensemble)
    figures = compared(document, written.score, ensemble)
    add_lines(figures, sketch, written.score)
    mud = len(new_mud(document, written.score))
    return replace(figures, errors=len(errors(written.score, written.ensemble)), muddy=mud)


def _plain_row(sketch: Score, rank: int, desk: Chair) -> dict:
    """The rank-th highest note of every moment, cut where the next moment begins."""
    row = {}
    for bar in range(len(sketch.bars)):
        events = [
            e for p in sketch.parts for layer in p.bars[bar].layers for e in layer
            if e.notes and e.duration and not e.cue
        ]  # fmt: skip
        ticks = sorted({e.at for e in events})
        line = []
        for at, end in zip(ticks, [*ticks[1:], sketch.bars[bar].length], strict=True):
            sounding = {
                int(n.pitch.semitone): n
                for e in events if e.at <= at < e.end
                for n in e.notes if not isinstance(n.pitch, Drum)
            }  # fmt: skip
            heights = sorted(sounding, reverse=True)
            if rank < len(heights) and end > at:
                note = sounding[heights[rank]]
                shift = _nearest(heights[rank], desk)
                pitch = note.pitch.octave_moved(shift)
                plain = replace(note, pitch=pitch, tie_start=False, tie_stop=False, marks=())
                line.append(Event(at, end - at, (plain,)))
        if line:
            row[bar] = tuple(line)
    return row


def _nearest(height: int, desk: Chair) -> int:
    shift = 0
    while height + 12 * shift < desk.low:
        shift += 1
    while height + 12 * shift > desk.high:
        shift -= 1
    return shift


# -- the table -------------------------------------------------------------------------------------

SHARES = ("top", "top_reached", "bottom", "bottom_deep", "kept", "whole", "together")
HEAD = (
    "| line-up | who | moments | top % | in reach | bottom % | in reach | classes % | whole % "
    "| together % | errors | muddy | notes | doubled | lost |"
)


def row(name: str, who: str, figures: Figures) -> str:
    shares = " | ".join(f"{figures.share(s):.1f}" for s in SHARES)
    return (
        f"| {name} | {who} | {figures.moments} | {shares} | {figures.errors} | "
        f"{figures.muddy} | "
        f"{figures.notes or '-'} | {figures.doubled or '-'} | {figures.lost} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("scores", nargs="*")
    parser.add_argument("--line-ups", nargs="+", default=list(LINE_UPS))
    parser.add_argument("--no-baseline", action="store_true")
    parser.add_argument("--each", action="store_true", help="a row for every score")
    chosen = parser.parse_args()
    documents = [(p, read(p)) for p in paths(chosen.scores, PIECES)]
    print(f"{len(documents)} scores\n")
    print(HEAD)
    print("|" + " --- |" * (HEAD.count("|") - 1))
    seen: Counter = Counter()
    for name in chosen.line_ups:
        ensemble = load_ensemble(name)
        mine, plain = Figures(), Figures()
        for path, document in documents:
            one = ours(document, ensemble, seen)
            mine.add(one)
            if chosen.each:
                print(row(f"{name}: {path.parent.name}/{path.stem}", "each", one))
            if not chosen.no_baseline:
                plain.add(baseline(document, ensemble))
        print(row(name, "revoice", mine))
        if not chosen.no_baseline:
            print(row(name, "baseline", plain))
    print(f"\nerrors by check: {dict(seen)}")
    named = [(path.stem, document) for path, document in documents]
    print_back(scores(named) if not chosen.scores else own(named), each=chosen.each)


if __name__ == "__main__":
    main()
