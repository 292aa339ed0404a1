"""Two or more lines on one stave: one voice, a chord on one stem, or stems up and down.

Labels follow common practice as in published layouts ("1.", "2.", "a 2" for winds, "div." and
"unis." for sections).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from expander.model.memo import ByIdentity
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note
from expander.notate.lanes import NEVER, first_note, is_tied_on, slurs_opened

TOGETHER, CHORD, APART = "together", "chord", "apart"
SHORT_GAP = 1
"""Bars for which a silent player keeps a voice with rests between bars of two voices."""


class Sharing(Struct, frozen=True):
    """What a stave shows in one bar: its voices, and who plays (owners' places, in order).

    `owners` tells whose each voice is where there are several. `hidden` are the places of voices
    that show nothing in the bar, not even rests.
    """

    voices: tuple[Events, ...]
    layout: str
    playing: tuple[int, ...]
    owners: tuple[tuple[int, ...], ...] = ()
    hidden: tuple[int, ...] = ()


class Sharer:
    """Brings lanes together bar by bar."""

    def __init__(self) -> None:
        self._chords: ByIdentity[Events] = ByIdentity()
        self._unisons: ByIdentity[Events] = ByIdentity()

    def share(
        self,
        lanes: Sequence[Mapping[int, Events]],
        *,
        section: bool = False,
        alone: bool = False,
    ) -> dict[int, Sharing]:
        """The voices of each bar in which anybody plays.

        A `section` divides: one head for all of it needs no words, so that chords and unisons
        may follow each other on the same stems. One who plays several voices `alone` needs no
        rests in those that are silent.
        """
        if len(lanes) == 1:
            return {bar: _alone(events) for bar, events in sorted(lanes[0].items())}
        bars = sorted({bar for lane in lanes for bar in lane})
        rows = {bar: [lane.get(bar, ()) for lane in lanes] for bar in bars}
        layouts = {bar: _layout(music, section) for bar, music in rows.items()}
        groups = _joined_by_ties(rows)
        for group in groups:
            _same_layout(layouts, group)
        _bridge_short_gaps(layouts, bars)
        found = {
            bar: self._shared(rows[bar], layouts[bar], owners)
            for group in groups
            for owners in [_owners(rows, group) if _are_apart(layouts, group) else ()]
            for bar in group
        }
        if not alone:
            return found
        joined = {bar for group in groups if len(group) > 1 for bar in group}
        return {bar: _without_rests(s, joined=bar in joined) for bar, s in found.items()}

    def _shared(
        self, music: Sequence[Events], layout: str, owners: Sequence[Sequence[int]]
    ) -> Sharing:
        playing = tuple([i for i, events in enumerate(music) if _sounds(events)])
        if layout == APART:
            voices = tuple(self._unison([music[i] for i in o]) for o in owners)
            return Sharing(voices, layout, playing, tuple(map(tuple, owners)))
        sounding = [music[i] for i in playing] or [m for m in music if m][:1]
        if layout == TOGETHER:
            return Sharing((self._unison(sounding),), layout, playing)
        chords = self._chords.get(tuple(sounding), "", lambda: _as_chords(sounding))
        return Sharing((chords,), layout, playing)

    def _unison(self, lines: Sequence[Events]) -> Events:
        if not lines:
            return ()
        if all(line is lines[0] for line in lines):
            return lines[0]
        return self._unisons.get(tuple(lines), "", lambda: _in_unison(lines))


def _without_rests(sharing: Sharing, *, joined: bool) -> Sharing:
    """Without what silent voices show; in bars `joined` by ties or slurs each keeps its place."""
    sounding = [i for i, events in enumerate(sharing.voices) if _sounds(events)]
    if not sounding or len(sounding) == len(sharing.voices):
        return sharing
    first = 0 if joined or len(sounding) > 1 else sounding[0]
    kept = slice(first, sounding[-1] + 1)
    voices, owners = sharing.voices[kept], sharing.owners[kept]
    hidden = tuple(i for i, events in enumerate(voices) if not _sounds(events))
    return replace(sharing, voices=voices, owners=owners, hidden=hidden)


def _alone(events: Events) -> Sharing:
    return Sharing((events,), TOGETHER, (0,) if _sounds(events) else ())


def _owners(rows: Mapping[int, Sequence[Events]], group: Sequence[int]) -> list[list[int]]:
    """Lanes that play the same throughout some bars, together: each is one voice."""
    found: list[list[int]] = []
    for number in range(len(rows[group[0]])):
        for owners in found:
            if all(_same(rows[bar][owners[0]], rows[bar][number]) for bar in group):
                owners.append(number)
                break
        else:
            found.append([number])
    return found


def _sounds(events: Events) -> bool:
    return any([e.notes for e in events])


def _layout(music: Sequence[Events], section: bool) -> str:
    sounding = [events for events in music if _sounds(events)]
    if all(events is sounding[0] or _same(events, sounding[0]) for events in sounding[1:]):
        return TOGETHER
    return CHORD if _stackable(sounding, section) else APART


def _same(one: Events, other: Events) -> bool:
    return one is other or one == other


def _in_unison(lines: Sequence[Events]) -> Events:
    """Equal lines as one; where they are different notes of the sketch, it stands for all."""
    first = lines[0]
    for other in lines[1:]:
        if other is not first:
            first = tuple(_standing_for(a, b) for a, b in zip(first, other, strict=True))
    return first


def _standing_for(event: Event[Sounding], other: Event[Sounding]) -> Event[Sounding]:
    notes = tuple(a.standing_for(b) for a, b in zip(event.notes, other.notes, strict=True))
    if all(a is b for a, b in zip(notes, event.notes, strict=True)):
        return event
    return replace(event, notes=notes)


def _stackable(lines: Sequence[Events], section: bool) -> bool:
    """One rhythm with the same marks, so that heads can share stems.

    Players of their own must not cross or meet, or nobody could tell who has which head; in a
    section the upper half takes the upper heads.
    """
    sounding = [[e for e in line if e.notes] for line in lines]
    if any(len(events) != len(sounding[0]) for events in sounding):
        return False
    fits = _meet if section else _fall
    return all(
        all([_one_rhythm(column[0], event) for event in column[1:]]) and fits(column)
        for column in zip(*sounding, strict=True)
    )


def _one_rhythm(one: Event[Sounding], other: Event[Sounding]) -> bool:
    return (
        one.at == other.at
        and one.duration == other.duration
        and one.value == other.value
        and (one.grace is None) == (other.grace is None)
        and one.marks == other.marks
        and one.lyrics == other.lyrics
        and one.cue == other.cue
    )


def _fall(column: Sequence[Event[Sounding]]) -> bool:
    """Each line below the one before."""
    return all(_lowest(upper) > _highest(lower) for upper, lower in pairwise(column))


def _meet(column: Sequence[Event[Sounding]]) -> bool:
    """Heads at one height are the same in everything, ties included."""
    heads: dict[Sounding | Drum, Note[Sounding]] = {}
    return all(
        heads.setdefault(note.pitch, note) == note for event in column for note in event.notes
    )


def _lowest(event: Event[Sounding]) -> float:
    return min(_height(n.pitch) for n in event.notes)


def _highest(event: Event[Sounding]) -> float:
    return max(_height(n.pitch) for n in event.notes)


def _height(pitch: Sounding | Drum) -> float:
    if isinstance(pitch, Drum):
        return float(pitch.octave * 7 + pitch.step)
    return float(pitch.semitone)


def _as_chords(lines: Sequence[Events]) -> Events:
    """Lines of one rhythm as chords, the lowest heads first."""
    stacked = [[e for e in line if e.notes] for line in lines]
    chords = {
        id(first): replace(first, notes=_heads(column))
        for first, column in zip(stacked[0], zip(*stacked, strict=True), strict=True)
    }
    return tuple(chords.get(id(e), e) for e in lines[0])


def _heads(column: Sequence[Event[Sounding]]) -> tuple[Note[Sounding], ...]:
    """The heads of a chord from the lowest; lines in unison share one."""
    notes = sorted((n for e in reversed(column) for n in e.notes), key=lambda n: _height(n.pitch))
    heads: list[Note[Sounding]] = []
    for note in notes:
        if heads and heads[-1] == note:
            heads[-1] = heads[-1].standing_for(note)
        else:
            heads.append(note)
    return tuple(heads)


def _joined_by_ties(rows: Mapping[int, Sequence[Events]]) -> list[list[int]]:
    """The bars in groups: those joined by a tie or slur over the barline belong together."""
    open_slurs: dict[int, int] = {}
    groups: list[list[int]] = [[]]
    for bar, music in rows.items():
        groups[-1].append(bar)
        joined = False
        for number, events in enumerate(music):
            slurs = max(0, open_slurs.get(number, 0) + slurs_opened(events))
            open_slurs[number] = slurs
            joined |= slurs > 0 or is_tied_on(events)
        if not joined:
            groups.append([])
    return [group for group in groups if group]


def _are_apart(layouts: Mapping[int, str], group: Sequence[int]) -> bool:
    return APART in [layouts[bar] for bar in group]


def _same_layout(layouts: dict[int, str], group: Sequence[int]) -> None:
    """A voice goes on over a tie or slur: one of them all the way, or two all the way."""
    if _are_apart(layouts, group):
        for bar in group:
            layouts[bar] = APART


def _bridge_short_gaps(layouts: dict[int, str], bars: Sequence[int]) -> None:
    """A single bar of one line between bars of two voices keeps the two voices."""
    for before, bar, after in zip(bars, bars[1:], bars[2:], strict=False):
        near = before == bar - SHORT_GAP and after == bar + SHORT_GAP
        if near and layouts[before] == APART == layouts[after] and layouts[bar] == CHORD:
            layouts[bar] = APART


def wind_label(sharing: Sharing, numbers: Sequence[str], before: str = "") -> str:
    """Who plays on a stave shared by players with these numbers: "1.", "a 2", "1. 2.".

    Where all play a line of their own, stems up and down say so without words; heads on one
    stem need words only where another label is in force (`before`), the last that was shown.
    """
    playing = [numbers[i] for i in sharing.playing]
    if len(playing) == len(numbers):
        if sharing.layout == TOGETHER:
            return f"a {len(numbers)}"
        if sharing.layout == APART or not before:
            return ""
    return " ".join(f"{number}." for number in playing)


def voice_labels(sharing: Sharing, numbers: Sequence[str]) -> tuple[str, ...]:
    """Who plays each voice, from the top, where some play together and others apart; else none.

    Three on a stave in two voices: "1. 3." above it and "2." below.
    """
    sounding = [
        owners
        for owners, voice in zip(sharing.owners, sharing.voices, strict=False)
        if _sounds(voice)
    ]
    if len(sounding) < 2 or all(len(owners) == 1 for owners in sounding):
        return ()
    return tuple(" ".join(f"{numbers[i]}." for i in owners) for owners in sounding)


def section_label(sharing: Sharing) -> str:
    """Whether a section divides."""
    count = len(sharing.playing)
    if count < 2 or sharing.layout == TOGETHER:
        return "unis."
    return "div." if count == 2 else f"div. a {count}"


def first_tick(sharing: Sharing) -> int:
    """The tick of the first note in the bar."""
    return min((first_note(events) for events in sharing.voices), default=NEVER)
