"""Melodies covered by what goes on around them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from functools import lru_cache

from msgspec import Struct

from expander.catalogue.limits import register_strength, weight
from expander.catalogue.loader import instrument
from expander.checks.check import Check, Hit
from expander.checks.figures import figure, figures
from expander.checks.music import ONE_PLAYER, Music, Stand
from expander.checks.sonority import Slice, Tone, slices
from expander.model.finding import Severity
from expander.model.instrument import Instrument
from expander.model.pitch import Written

STEPS = ("n", "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff")
SOFT = STEPS.index("p")
UNSAID = "mf"
MUTED = 0.5
OCTAVE = 12
VOICE = 2.0
"""A singer, against a trumpet's 4 at forte (common practice; there is no figure)."""


class Weighed(Struct, frozen=True):
    """A moment: the melody's weight and that of the others near it."""

    slice: Slice
    tone: Tone
    melody: float
    others: float


def detect(music: Music) -> Iterator[Hit]:
    """Passages of a named melody in which the weight around it is several times its own."""
    spans = {stand.index: _spans(music, stand) for stand in music.stands}
    melodies = {index: found for index, found in spans.items() if found}
    if not melodies or not music.full:
        return
    runs: dict[int, list[Weighed]] = {}
    scales = Scales(melodies)
    for one in slices(music):
        weighed = scales.weighed(one)
        if weighed is None or weighed.others <= figure("covered-melody", "ratio") * weighed.melody:
            continue
        run = runs.setdefault(weighed.tone.stand.index, [])
        if run and music.seconds(run[-1].slice.end, one.start) > figure("covered-melody", "gap"):
            yield from _told(music, run)
            run.clear()
        run.append(weighed)
    for run in runs.values():
        yield from _told(music, run)


def _spans(music: Music, stand: Stand) -> tuple[tuple[int, int], ...]:
    """From where to where a part is named as the one to be heard: sung, or with such words."""
    if stand.sung and any(chord.event.lyrics for chord in stand.chords):
        return ((0, 1 << 60),)
    beginnings = tuple(figures()["melody"]["begins"])
    found: list[tuple[int, int]] = []
    for words in stand.says(*beginnings):
        found.append((words.start, _phrase_end(music, stand, words.start)))
    return tuple(found)


def _phrase_end(music: Music, stand: Stand, start: int) -> int:
    """The end of the notes from a tick on, up to a rest of two seconds."""
    end = start
    for chord in stand.chords:
        if chord.start < start:
            continue
        if chord.start > end and music.seconds(end, chord.start) > 2 and end > start:
            break
        end = max(end, chord.end)
    return end


class Scales:
    """Weighs sonorities; what a hand weighs at a height is kept."""

    def __init__(self, melodies: dict[int, tuple[tuple[int, int], ...]]) -> None:
        self.melodies = melodies
        self.near = figure("covered-melody", "near")
        self._kept: dict[tuple[int, int], float] = {}

    def weighed(self, one: Slice) -> Weighed | None:
        """A sonority with its melody, the highest that is led there; None without one."""
        tune = self._tune(one)
        if tune is None:
            return None
        others: dict[int, float] = {}
        helping: dict[int, float] = {tune.stand.index: self._loudness(tune)}
        height, kept = tune.height, self._kept
        low = bisect_left(one.heights, height - self.near)
        high = bisect_right(one.heights, height + self.near)
        for tone in one.tones[low:high]:
            # Who plays the same note, or its octave, lends it weight.
            side = others if (tone.height - height) % OCTAVE else helping
            loud = kept.get((id(tone.chord.hand), tone.height)) or self._loudness(tone)
            index = tone.stand.index
            if loud > side.get(index, -1.0):
                side[index] = loud
        weights = [value for index, value in others.items() if index not in helping]
        return Weighed(one, tune, sum(helping.values()), sum(weights))

    def _tune(self, one: Slice) -> Tone | None:
        """The highest tone of those to be heard."""
        for tone in reversed(one.tones):
            spans = self.melodies.get(tone.stand.index)
            if spans and any(start <= one.start < end for start, end in spans):
                return tone
        return None

    def _loudness(self, tone: Tone) -> float:
        key = id(tone.chord.hand), tone.height
        found = self._kept.get(key)
        if found is None:
            found = self._kept[key] = loudness(tone)
        return found


def loudness(tone: Tone) -> float:
    """The weight of a note at its dynamic, in its register, with its mute; a flute at p is 1."""
    one = tone.chord.hand.instrument
    if one is None:
        return 0.0
    hand = tone.chord.hand
    dynamic = hand.dynamic if hand.dynamic in STEPS else UNSAID
    size = 1 if hand.label in ONE_PLAYER else tone.stand.players
    muted = MUTED if hand.mute and one.family == "brass" else 1.0
    return _weight(one.id, dynamic, size) * muted * _strength(one, tone)


@lru_cache(maxsize=4096)
def _weight(id: str, dynamic: str, size: int) -> float:  # noqa: A002
    one = instrument(id)
    found = weight(one, dynamic, size)
    if found is None:
        found = VOICE if one.family == "voice" else 1.0
    steps = STEPS.index(dynamic) - SOFT
    return found * float(figure("covered-melody", "step") ** steps)


def _strength(one: Instrument, tone: Tone) -> float:
    if one.family != "woodwind":
        return 1.0
    sounding = tone.head.written.moved(tone.chord.hand.move)
    own = sounding.moved(-one.transposition.interval)
    return register_strength(one, Written(own.step, own.alter, own.octave))


def _told(music: Music, run: list[Weighed]) -> Iterator[Hit]:
    if not run:
        return
    seconds = sum(w.slice.seconds for w in run)
    if seconds < figure("covered-melody", "seconds"):
        return
    worst = max(run, key=lambda w: w.others / max(w.melody, 0.01))
    bar, at = music.place(run[0].slice.start)
    dynamic = run[0].tone.chord.hand.dynamic or "no dynamic"
    yield Hit(
        run[0].tone.stand,
        bar,
        at,
        f"the line to be heard ({dynamic}) weighs {worst.melody:.1f}, what sounds near it "
        f"{worst.others:.1f} (one flute at p is 1): it will be covered for {seconds:.0f} seconds, "
        f"to bar {music.score.bars[music.place(run[-1].slice.start)[0]].number}.",
        pitch=str(run[0].tone.head.written),
        figure=f"{figure('covered-melody', 'ratio'):.0f} times",
    )


CHECK = Check(
    id="covered-melody",
    title="Melody covered",
    finds="A sung line, or one marked solo, espressivo or the like, with far more weight near it.",
    why="Nobody in the hall hears it, however well it is played.",
    example="A flute solo below A4 at p with three trombones at f in the same octave.",
    instead="Mark the others down, thin them out, or put the melody in an octave of its own.",
    severity=Severity.WARNING,
    source="Weights of Rimsky-Korsakov, ch. I (published); registers, steps of dynamics and the "
    "limit are common practice.",
    detect=detect,
)
