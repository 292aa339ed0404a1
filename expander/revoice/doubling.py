"""Lines that double each other: in unison, in octaves, or but for small differences of rhythm.

Conventions
    Worked bar by bar. Notes are *the same* where they begin together and are octaves apart,
    by one number of octaves for the whole bar; how long they are held makes no difference.
    A line is *plainer* than another where it holds what the other repeats in octaves or
    unison, or leaves notes out that do not change its pitch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from expander.model.pitch import Drum
from expander.model.plan import Events
from expander.revoice.lines import Line, heights

Strokes = tuple[tuple[int, int, tuple[int, ...]], ...]
"""When notes begin, how long they last, and their heights from the lowest up."""


@dataclass(frozen=True, slots=True)
class Group:
    """What several lines play together in a bar.

    `members` are the numbers of lines that play the whole of it, `plainer` those that play a
    plainer form; `lead` is the member that stands for all.
    """

    bar: int
    members: tuple[int, ...]
    lead: int
    plainer: tuple[int, ...] = ()

    @property
    def everybody(self) -> tuple[int, ...]:
        """All its lines."""
        return (*self.members, *self.plainer)


def groups_of(lines: Sequence[Line], bars: int) -> tuple[tuple[Group, ...], ...]:
    """The groups of each bar, those of higher lines of the score first. Drums stay apart."""
    found: list[tuple[Group, ...]] = []
    before: Mapping[int, int] = {}
    for bar in range(bars):
        here = _in_bar(lines, bar, before)
        found.append(here)
        before = {n: group.lead for group in here for n in group.members}
    return tuple(found)


def _in_bar(lines: Sequence[Line], bar: int, before: Mapping[int, int]) -> tuple[Group, ...]:
    playing = [line for line in lines if bar in line.cells]
    alike: dict[object, list[Line]] = {}
    for line in playing:
        alike.setdefault(_sameness(line, bar), []).append(line)
    whole = [_group(members, bar, before, lines) for members in alike.values()]
    return _absorbed(whole, lines, bar)


def _sameness(line: Line, bar: int) -> object:
    """What is equal for lines that double each other."""
    events = line.cells[bar]
    if line.unpitched or not heights(events):
        return ("apart", line.number)
    base = heights(events)[0]
    return (
        base % 12,
        tuple(
            (e.at, e.grace is None, tuple(sorted(_pitch(n.pitch) - base for n in e.notes)))
            for e in events
            if e.notes
        ),
    )


def _pitch(pitch: object) -> int:
    return 0 if isinstance(pitch, Drum) else int(pitch.semitone)  # type: ignore[attr-defined]


def _group(
    members: list[Line], bar: int, before: Mapping[int, int], lines: Sequence[Line]
) -> Group:
    """The member most others agree with in octave leads; the one that led before goes on."""
    numbers = tuple(line.number for line in members)
    leads = [before.get(n) for n in numbers]
    kept = next((n for n in leads if n in numbers), None)
    if kept is not None:
        return Group(bar, numbers, kept)
    octave = {line.number: heights(line.cells[bar])[:1] for line in members}
    votes = {n: sum(octave[n] == o for o in octave.values()) for n in numbers}
    best = max(numbers, key=lambda n: (votes[n], octave[n], -n))
    return Group(bar, numbers, best)


def _absorbed(whole: list[Group], lines: Sequence[Line], bar: int) -> tuple[Group, ...]:
    """Groups that are a plainer form of another join it."""
    by_weight = sorted(whole, key=lambda g: -len(_strokes(lines[g.lead].cells[bar])))
    kept: list[Group] = []
    for group in by_weight:
        host = next((i for i, other in enumerate(kept) if _plainer(group, other, lines)), None)
        if host is None:
            kept.append(group)
        else:
            other = kept[host]
            kept[host] = Group(bar, other.members, other.lead, (*other.plainer, *group.everybody))
    return tuple(sorted(kept, key=lambda g: min(g.members)))


def _plainer(plain: Group, full: Group, lines: Sequence[Line]) -> bool:
    one, other = lines[plain.lead], lines[full.lead]
    if one.unpitched or other.unpitched:
        return False
    return is_plainer(_strokes(one.cells[plain.bar]), _strokes(other.cells[full.bar]))


def _strokes(events: Events) -> Strokes:
    return tuple(
        (e.at, e.end, tuple(sorted(_pitch(n.pitch) for n in e.notes)))
        for e in events
        if e.notes and e.duration
    )


def is_plainer(plain: Strokes, full: Strokes) -> bool:
    """True where every note of `plain` is also begun in `full`, and nothing else sounds under it.

    One number of octaves holds for the whole bar; only single notes are compared.
    """
    starts = {at: notes for at, _, notes in full}
    if not plain or any(at not in starts for at, _, _ in plain):
        return False
    shifts = {notes[0] - starts[at][0] for at, _, notes in plain}
    if len(shifts) != 1 or next(iter(shifts)) % 12:
        return False
    shift = next(iter(shifts))
    single = all(len(notes) == 1 for _, _, notes in (*plain, *full))
    return single and all(
        theirs[0] == mine[0] - shift
        for at, end, mine in plain
        for start, _, theirs in full
        if at <= start < end
    )
