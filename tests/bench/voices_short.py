"""Short scores of pieces whose parts are known, with the layers a copyist gives them.

Four parts on two staves, bars of four quarters, notes tied over the barlines. Two ways to write:
    layers   every part has a layer of its own, with its rests
    chords   two notes of one staff that begin and end together are a chord of the upper layer
             (the order in it is that of pitch, so crossed parts are no longer told); unisons keep
             two stems, and whatever is not together keeps its layer, with its rests
The text is read, dealt and followed back through the program's own doors: `heard` gives what each
player of a choir or a string quartet plays, ties joined.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from time import process_time

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import seats
from expander.model.plan import Line, Task
from expander.model.rules import Entry, StrandRule
from expander.model.score import Sketch
from expander.musicxml import read_bytes
from expander.plan.strands import take
from expander.sounding import to_sounding
from expander.voicing.chains import gather
from expander.voicing.share import share
from tests.bench.voices_data import TICKS, Head, Piece

BAR = 4 * TICKS
NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
ALTERS = {"#": 1, "b": -1, "": 0}
WAYS = ("layers", "chords")

Sound = tuple[int, int, tuple[int, ...]]
"""Onset, end (ticks of the piece) and the semitones of a chord, the highest first."""


def short_score(piece: Piece, way: str) -> bytes:
    """MusicXML of a piece on two staves."""
    staves = [_staff(piece.parts[first : first + 2], way) for first in (0, 2)]
    last = max(head.end for part in piece.parts for head in part)
    bars = "".join(
        f'<measure number="{number + 1}">{_head(number)}{_bar(staves, number)}</measure>'
        for number in range(-(-last // BAR))
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0"><part-list>'
        '<score-part id="P1"><part-name>Short score</part-name></score-part></part-list>'
        f'<part id="P1">{bars}</part></score-partwise>'
    ).encode()


def _staff(parts: Sequence[Sequence[Head]], way: str) -> tuple[list[Sound], list[Sound]]:
    """The two layers of a staff."""
    upper, lower = ({(h.onset, h.end): h.semitone for h in part} for part in parts)
    joined = {
        span
        for span in upper.keys() & lower.keys()
        if way == "chords" and upper[span] != lower[span]
    }
    first = [
        (*span, tuple(sorted({key, lower[span]} if span in joined else {key}, reverse=True)))
        for span, key in sorted(upper.items())
    ]
    second = [(*span, (key,)) for span, key in sorted(lower.items()) if span not in joined]
    return first, second


def _head(number: int) -> str:
    if number:
        return ""
    clefs = "".join(
        f'<clef number="{staff}"><sign>{sign}</sign><line>{line}</line></clef>'
        for staff, sign, line in ((1, "G", 2), (2, "F", 4))
    )
    return (
        f"<attributes><divisions>{TICKS}</divisions><key><fifths>0</fifths></key><time>"
        f"<beats>4</beats><beat-type>4</beat-type></time><staves>2</staves>{clefs}</attributes>"
    )


def _bar(staves: Sequence[tuple[list[Sound], list[Sound]]], number: int) -> str:
    """A bar: each layer in turn; a gap that the other layer's chords fill is passed over."""
    start = number * BAR
    texts = []
    for staff, (upper, lower) in enumerate(staves, 1):
        for layer, (mine, other) in enumerate(((upper, lower), (lower, upper))):
            chords = [(a, b) for a, b, keys in other if len(keys) > 1]
            voice = 2 * staff - 1 + layer
            texts.append("".join(_layer(mine, chords, start, voice, staff)))
    return f"<backup><duration>{BAR}</duration></backup>".join(texts)


def _layer(
    sounds: list[Sound], chords: list[tuple[int, int]], start: int, voice: int, staff: int
) -> Iterator[str]:
    place = start
    for onset, end, keys in _within(sounds, start):
        yield from _silence(place, onset, chords, voice, staff)
        yield _notes((onset, end, keys), start, voice, staff)
        place = min(end, start + BAR)
    yield from _silence(place, start + BAR, chords, voice, staff)


def _within(sounds: list[Sound], start: int) -> list[Sound]:
    return [s for s in sounds if s[0] < start + BAR and s[1] > start]


def _silence(
    start: int, end: int, chords: list[tuple[int, int]], voice: int, staff: int
) -> Iterator[str]:
    """Rests, and steps forward under chords that hold this part's note too."""
    for one, other in chords:
        if one < end and other > start:
            yield from _rest(start, one, voice, staff)
            until = min(other, end)
            yield _forward(max(one, start), until)
            start = until
    yield from _rest(start, end, voice, staff)


def _forward(start: int, end: int) -> str:
    return f"<forward><duration>{end - start}</duration></forward>"


def _rest(start: int, end: int, voice: int, staff: int) -> Iterator[str]:
    if end > start:
        yield f"<note><rest/><duration>{end - start}</duration>{_place(voice, staff)}</note>"


def _place(voice: int, staff: int) -> str:
    return f"<voice>{voice}</voice><staff>{staff}</staff>"


def _notes(sound: Sound, start: int, voice: int, staff: int) -> str:
    onset, end, keys = sound
    stop = '<tie type="stop"/>' if onset < start else ""
    tie = stop + ('<tie type="start"/>' if end > start + BAR else "")
    length = min(end, start + BAR) - max(onset, start)
    tail = f"<duration>{length}</duration>{tie}{_place(voice, staff)}"
    heads = [f"<note>{'<chord/>' if i else ''}{_pitch(k)}{tail}</note>" for i, k in enumerate(keys)]
    return "".join(heads)


def _pitch(key: int) -> str:
    name = NAMES[key % 12]
    alter = ALTERS[name[1:]]
    mark = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{name[0]}</step>{mark}<octave>{key // 12 - 1}</octave></pitch>"


Key = tuple[int, int, int]
"""Onset, end, semitone."""

Lines = list[list[Key]]


def heard(text: bytes, line_up: str) -> tuple[Lines, int]:
    """What the four players of a line-up play, and the nanoseconds it took to share it out.

    The upper staff is given to the first two players, the lower one to the others.
    """
    sketch = to_sounding(read_bytes(text, "short score"))
    ensemble = load_ensemble(line_up, None)
    names = [player.name for player in ensemble.players]
    played: Lines = []
    spent = 0
    for staff, by in ((1, names[:2]), (2, names[2:])):
        strand = take(sketch, StrandRule("staff", staff=staff))
        players = tuple(seat for name in by for seat in seats(ensemble, name))
        task = Task("", Entry("staff", tuple(by)), strand, players, range(len(sketch.bars)))
        began = process_time()
        shared = share(task, [bar.start for bar in sketch.bars], ensemble, (0, 1))
        spent += round((process_time() - began) * 1e9)
        played += [_keys(sketch, [x for x in shared.lines if x.seat == s]) for s in players]
    return played, spent


def _keys(sketch: Sketch, lines: Sequence[Line]) -> list[Key]:
    """The notes of a player, ties joined, in ticks of the pieces."""
    found: list[Key] = []
    for line in lines:
        starts = [bar.start for bar in sketch.bars]
        gathered = gather({bar: (events,) for bar, events in line.bars.items()}, starts)
        tones = [chain.tone for chain in gathered.chains]
        found += [(_ticks(t.onset, sketch), _ticks(t.end, sketch), t.semitone) for t in tones]
    return sorted(found)


def _ticks(tick: int, sketch: Sketch) -> int:
    return tick * TICKS // sketch.grid


def score(piece: Piece, played: Lines) -> Counter[str]:
    """Counts of notes right and of links.

    A note is right if its part plays it and nobody else does whose part does not have it too.
    """
    truth = [[(h.onset, h.end, h.semitone) for h in part] for part in piece.parts]
    doubtful = {(h.onset, h.end, h.semitone) for part in piece.parts for h in part if not h.scored}
    owners, players = _by_note(truth), _by_note(played)
    count: Counter[str] = Counter()
    for key, mine in owners.items():
        if key not in doubtful:
            theirs = players.get(key, set())
            count["notes"] += len(mine)
            count["right"] += len(mine & theirs) if theirs <= mine else 0
            count["doubled"] += len(theirs) > len(mine)
    true, ours = _links(truth, doubtful), _links(played, doubtful)
    count["links true"], count["links"] = true.total(), ours.total()
    count["links right"] = (true & ours).total()
    return count


def _by_note(lines: Lines) -> dict[Key, set[int]]:
    found: dict[Key, set[int]] = {}
    for number, line in enumerate(lines):
        for key in line:
            found.setdefault(key, set()).add(number)
    return found


def _links(lines: Lines, doubtful: set[Key]) -> Counter[tuple[Key, Key]]:
    links = (link for line in lines for link in pairwise(line))
    return Counter((a, b) for a, b in links if a not in doubtful and b not in doubtful)


def measure(piece: Piece, way: str) -> Counter[str]:
    """Counts of one piece written one way."""
    line_up = "satb-choir" if piece.group == "chorales" else "string-quartet"
    played, spent = heard(short_score(piece, way), line_up)
    count = score(piece, played)
    count["time"], count["all"] = spent, piece.notes
    return count
