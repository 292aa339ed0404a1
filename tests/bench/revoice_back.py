"""What comes back when a score is reduced with its rule file and expanded by it again.

    python -m tests.bench.revoice_back [--each]

Notes: the same note, at the same time and pitch, with the part that had it. Marks: the same
dynamics, hairpin's beginning or end, words, or other mark at the same time in the same part.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

from msgspec import Struct

from expander.checks.figures import folded
from expander.checks.saying import said_by
from expander.model.dynamics import dynamic_names
from expander.model.pitch import Drum
from expander.model.score import Document, Mark, Score
from expander.model.words import is_system_mark
from expander.musicxml import read, to_bytes
from expander.parts.labels import read_label
from expander.pipeline import expand_file
from expander.revoice.commands import give_back, reduce_document
from expander.revoice.harmonics import as_heard
from expander.sounding import to_sounding
from tests.musicxml.corpus import MUSIC21
from tests.source import HOME

PIECES = (
    "haydn/opus74no1/movement2",
    "haydn/opus74no1/movement3",
    "haydn/opus1no1/movement3",
    "mozart/k155/movement2",
    "mozart/k155/movement3",
    "mozart/k458/movement2",
    "mozart/k458/movement3",
    "schumann_robert/opus41no1/movement3",
    "beethoven/opus18no1/movement3",
    "bach/bwv66.6",
    "bach/bwv253",
    "bach/bwv333",
    "bach/bwv360",
    "bach/bwv4.8",
    "bach/bwv248.12-2",
    "monteverdi/madrigal.3.1",
    "monteverdi/madrigal.4.6",
    "monteverdi/madrigal.5.2",
    "lusitano/allor_che_ignuda",
    "schubert/Lindenbaum",
)

LARGE = (
    "bach/bwv190.7-inst",
    "bach/bwv248.64-6",
    "bach/bwv248.42-4",
    "bach/bwv41.6",
    "bach/bwv79.3",
    "bach/bwv171.6",
    "monteverdi/madrigal.5.4",
)
ENLARGED = (
    "haydn/opus74no1/movement2",
    "mozart/k458/movement3",
    "schumann_robert/opus41no1/movement3",
    "beethoven/opus18no1/movement3",
    "bach/bwv66.6",
    "bach/bwv248.12-2",
    "bach/bwv4.8",
    "monteverdi/madrigal.4.6",
    "lusitano/allor_che_ignuda",
    "schubert/Lindenbaum",
)
LINE_UPS = ("symphony-orchestra", "chamber-orchestra", "jazz-orchestra", "wind-band")
KINDS = ("dynamics", "hairpins", "words", "other")
LEFT_OUT = frozenset({"pedal", "octave-shift", "harp-pedals", "string-mute", "scordatura"})

Told = tuple[tuple[str, int], Fraction, str, str]
"""A mark: its part, its time in quarters, its kind, and what it says."""


class Back(Struct):
    """Notes and marks by what became of them."""

    notes: int = 0
    home: int = 0
    elsewhere: int = 0
    lost: int = 0
    added: int = 0
    dynamics: int = 0
    dynamics_home: int = 0
    hairpins: int = 0
    hairpins_home: int = 0
    words: int = 0
    words_home: int = 0
    other: int = 0
    other_home: int = 0
    said_more: int = 0
    scores: int = 1

    def add(self, one: Back) -> None:
        for name in self.__struct_fields__:
            setattr(self, name, getattr(self, name) + getattr(one, name))

    def share_of_notes(self) -> str:
        return f"{100 * self.home / self.notes:.3f}"

    def share(self, name: str) -> str:
        whole = getattr(self, name)
        return f"{100 * getattr(self, name + '_home') / whole:.2f}" if whole else "-"


# -- notes -----------------------------------------------------------------------------------------

Struck = Counter[tuple[int, Fraction, int]]


def struck(score: Score) -> Struck:
    """Every note by its part, beginning and height; tied heads once, unisons of a part once."""
    heard = to_sounding(score)
    found: Struck = Counter()
    for index, part in enumerate(heard.parts):
        for bar, content in zip(heard.bars, part.bars, strict=True):
            layers = (as_heard(layer, part.name == "Harp") for layer in content.layers)
            for event in (e for layer in layers for e in layer if not e.cue):
                at = Fraction(bar.start + event.at, heard.grid)
                for note in (n for n in event.notes if not n.tie_stop):
                    found[index, at, _height(note.pitch)] = 1
    return found


def _height(pitch) -> int:
    return -100 - int(pitch.step) if isinstance(pitch, Drum) else int(pitch.semitone)


def _names(score: Document) -> list[tuple[str, int]]:
    """The names of the parts, counted where one comes again."""
    names = [" ".join(part.name.split()) for part in score.parts]
    return [(name, names[:index].count(name)) for index, name in enumerate(names)]


def _anywhere(notes: Struck) -> Counter:
    found: Counter = Counter()
    for (_, at, height), count in notes.items():
        found[at, height] += count
    return found


# -- marks -----------------------------------------------------------------------------------------


def told(score: Document) -> set[Told]:
    """Every mark that is a part's own; not who of several plays, nor how a section divides."""
    found: set[Told] = set()
    for name, part in zip(_names(score), score.parts, strict=True):
        for bar, content in zip(score.bars, part.bars, strict=True):
            for direction in (d for d in content.directions if not is_system_mark(d)):
                at = Fraction(bar.start + direction.at, score.grid)
                kinds = (_kind(mark) for mark in direction.marks)
                found |= {(name, at, *kind) for kind in kinds if kind}
    return found


def _kind(mark: Mark) -> tuple[str, str] | None:
    if mark.name == "dynamics":
        return "dynamics", " ".join(dynamic_names(mark))
    if mark.name == "wedge":
        return "hairpins", mark.get("type")
    if mark.name != "words":
        return None if mark.name in LEFT_OUT else ("other", f"{mark.name} {mark.get('type')}")
    who = any(state in ("label", "split") for state, _ in said_by(folded(mark.text)))
    return None if who or read_label(mark.text) else ("words", mark.text.strip().rstrip("."))


# -- there and back --------------------------------------------------------------------------------


def there_and_back(document: Document) -> tuple[Back, str]:
    """Reduce to a short score and its rule file, read both, and expand.

    *staves*: the short score keeps the staves of the original. *roles*: it is by role.
    """
    reduced = reduce_document(document, exact=True)
    with TemporaryDirectory() as name:
        folder = Path(name)
        sketch, rules = folder / "short.musicxml", folder / "short.yaml"
        sketch.write_bytes(to_bytes(reduced.score))
        for path, text in give_back(reduced, rules, sketch).files.items():
            path.write_bytes(text)
        back = expand_file(read(sketch), rules).score
    return compared(document, back), "staves" if reduced.owners else "roles"


def compared(document: Document, back: Document) -> Back:
    """What of a score is there again."""
    after = struck(back)
    places = {name: index for index, name in enumerate(_names(document))}
    homes = [places.get(name, -1 - i) for i, name in enumerate(_names(back))]
    now = Counter({(homes[i], at, height): 1 for i, at, height in after})
    before = struck(document)
    home = (before & now).total()
    anywhere = (_anywhere(before) & _anywhere(now)).total()
    found = Back(before.total(), home, anywhere - home, before.total() - anywhere,
                 now.total() - anywhere)  # fmt: skip
    had, has = told(document), told(back)
    for kind in KINDS:
        mine = {mark for mark in had if mark[2] == kind}
        setattr(found, kind, len(mine))
        setattr(found, f"{kind}_home", len(mine & has))
    found.said_more = len(has - had)
    return found


def own(named: Sequence[tuple[str, Document]]) -> Iterator[tuple[str, str, Document]]:
    """The user's own scores as one group."""
    for name, document in named:
        yield "your scores", name, document


def scores(named: Iterable[tuple[str, Document]]) -> Iterator[tuple[str, str, Document]]:
    """Groups, names and scores: those given, larger ones, and scores expanded for line-ups."""
    for name, document in named:
        yield "as they are", name, document
    for path in paths([], LARGE):
        yield "as they are", path.stem, read(path)
    song = HOME / "samples" / "paper-harbour.musicxml"
    for rules in ("jazz-orchestra", "block"):
        asked = song.with_name(f"paper-harbour-{rules}.yaml")
        yield "the sample by its rules", f"sample, {rules}", expand_file(read(song), asked).score
    for name in LINE_UPS:
        for path in (song, *paths([], ENLARGED)):
            yield f"for {name}", path.stem, expand_file(read(path), None, name).score


def print_back(documents: Iterable[tuple[str, str, Document]], *, each: bool) -> None:
    """The tables: notes and marks, given back to the original's players."""
    sums: dict[str, Back] = {}
    for group, name, document in documents:
        back, way = there_and_back(document)
        sums.setdefault(group, Back(scores=0)).add(back)
        sums.setdefault(f"(short score by {way})", Back(scores=0)).add(back)
        if each:
            print(f"{group}: {name} ({way}, {len(document.parts)} parts): {back}", flush=True)
    print("\n| scores | number | notes | home % | with another player | lost | added |")
    print("|" + " --- |" * 7)
    for name, one in sums.items():
        row = (one.scores, one.notes, one.share_of_notes(), one.elsewhere, one.lost, one.added)
        print(f"| {name} | {' | '.join(map(str, row))} |")
    print(f"\n| scores | {' | '.join(f'{kind} | home %' for kind in KINDS)} | said more |")
    print("|" + " --- |" * 10)
    for name, one in sums.items():
        cells = [f"{getattr(one, kind)} | {one.share(kind)}" for kind in KINDS]
        print(f"| {name} | {' | '.join(cells)} | {one.said_more} |")


def paths(given: Sequence[str], pieces: Sequence[str]) -> list[Path]:
    """The files given, else the pieces of music21's corpus."""
    if given:
        return [Path(p) for p in given]
    corpus = MUSIC21 / "corpus"
    options = [[corpus / f"{p}{end}" for end in (".mxl", ".xml")] for p in pieces]
    return [next(p for p in both if p.exists()) for both in options]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("scores", nargs="*")
    parser.add_argument("--each", action="store_true", help="a row for every score")
    chosen = parser.parse_args()
    named = [(path.stem, read(path)) for path in paths(chosen.scores, PIECES)]
    print_back(own(named) if chosen.scores else scores(named), each=chosen.each)


if __name__ == "__main__":
    main()
