"""Lines that double each other: in unison, in octaves, or but for small differences of rhythm.

Conventions
    Worked bar by bar. Notes are *the same* where they begin together and are octaves apart,
    by one number of octaves for the whole bar; how long they are held makes no difference.
    A line is *plainer* than another where it holds what the other repeats in octaves or
    unison, or leaves notes out that do not change its pitch. Lines that meet for a note or two
    and go on alone do not double each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import permutations

from msgspec import Struct

from expander.model.pitch import Drum
from expander.model.plan import Events
from expander.revoice.lines import Line, begins_tied, heights
from expander.revoice.manner import manner, open_at

Strokes = tuple[tuple[int, int, tuple[int, ...]], ...]
"""When notes begin, how long they last, and their heights from the lowest up."""


class Group(Struct, frozen=True):
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


ENOUGH = 4
"""Notes in a row from which lines that go together are heard as doubling."""


def groups_of(
    lines: Sequence[Line], bars: int, *, exact: bool = False
) -> tuple[tuple[Group, ...], ...]:
    """The groups of each bar, those of higher lines of the score first. Drums stay apart.

    With `exact` only what is the same but for the octave goes together, nothing plainer.
    """
    found: list[tuple[Group, ...]] = []
    pairs = _doubling_pairs(lines, bars)
    held = {line.number: held_bars(line) for line in lines} if exact else None
    before: Mapping[int, int] = {}
    for bar in range(bars):
        here = _in_bar(lines, bar, before, pairs[bar], held)
        found.append(here)
        before = {n: group.lead for group in here for n in group.members}
    return tuple(found)


Pairs = frozenset[tuple[int, int]]
"""Pairs of lines of which the first doubles the second, in full or plainer."""


def _doubling_pairs(lines: Sequence[Line], bars: int) -> list[Pairs]:
    """In each bar the pairs that go together for long enough."""
    found: list[set[tuple[int, int]]] = [set() for _ in range(bars)]
    strokes = [{bar: _strokes(cell) for bar, cell in line.cells.items()} for line in lines]
    pitched = [line.number for line in lines if not line.unpitched]
    for one, other in permutations(pitched, 2):
        for bar in _together(strokes[one], strokes[other]):
            found[bar].add((one, other))
    return [frozenset(pairs) for pairs in found]


def _together(mine: Mapping[int, Strokes], theirs: Mapping[int, Strokes]) -> Iterator[int]:
    """The bars in which a line goes with another for long enough."""
    common = [b for b in mine if b in theirs and is_plainer(mine[b], theirs[b])]
    for run in _runs(common):
        if sum(len(mine[b]) for b in run) >= ENOUGH or _alone(run, mine, theirs):
            yield from run


def _runs(bars: Sequence[int]) -> list[list[int]]:
    found: list[list[int]] = []
    for bar in bars:
        if found and found[-1][-1] == bar - 1:
            found[-1].append(bar)
        else:
            found.append([bar])
    return found


def _alone(run: Sequence[int], mine: Mapping[int, Strokes], theirs: Mapping[int, Strokes]) -> bool:
    """True where one of the lines plays nothing else before and after."""
    edges = (run[0] - 1, run[-1] + 1)
    return not any(bar in mine for bar in edges) or not any(bar in theirs for bar in edges)


def _in_bar(
    lines: Sequence[Line],
    bar: int,
    before: Mapping[int, int],
    pairs: Pairs,
    held: Mapping[int, Mapping[int, range]] | None,
) -> tuple[Group, ...]:
    playing = [line for line in lines if bar in line.cells]
    alike: dict[object, list[Line]] = {}
    for line in playing:
        same = _exactly(line, held[line.number][bar]) if held is not None else _sameness(line, bar)
        alike.setdefault(same, []).append(line)
    together = [part for members in alike.values() for part in _parted(members, pairs)]
    together = [part for members in _outer_apart(together, bar) for part in _near(members, bar)]
    whole = [_group(members, bar, before, lines) for members in together]
    return tuple(whole) if held is not None else _absorbed(whole, lines, bar, pairs)


def _parted(members: list[Line], pairs: Pairs) -> list[list[Line]]:
    """Lines that sound alike, apart where they only meet by chance."""
    parts: list[list[Line]] = []
    for line in members:
        home = next((p for p in parts if (line.number, p[0].number) in pairs), None)
        if home is None:
            parts.append([line])
        else:
            home.append(line)
    return parts


def _outer_apart(together: list[list[Line]], bar: int) -> list[list[Line]]:
    """Tune and bass in octaves stay two where others play between them."""
    means = _means(together, bar)
    parts: list[list[Line]] = []
    for members in together:
        own = {m.number for m in members}
        if _spans_all(own, means):
            others = [h for n, h in means.items() if n not in own]
            middle = sum(others) / len(others)
            parts.append([m for m in members if means[m.number] > middle])
            parts.append([m for m in members if means[m.number] <= middle])
        else:
            parts.append(members)
    return parts


MOST_OCTAVES = 4
"""How far apart lines may lie that are written as one: as far as rules can move a strand."""


def _near(members: list[Line], bar: int) -> list[list[Line]]:
    """Lines that double each other, apart where they lie too far from each other."""
    rows: list[list[Line]] = []
    tops: list[int] = []
    for line in sorted(members, key=lambda m: -max(heights(m.cells[bar]), default=0)):
        top = max(heights(line.cells[bar]), default=0)
        if tops and tops[-1] - top <= 12 * MOST_OCTAVES:
            rows[-1].append(line)
        else:
            rows.append([line])
            tops.append(top)
    return rows if len(rows) > 1 else [members]


def _means(together: Sequence[Sequence[Line]], bar: int) -> dict[int, float]:
    """The mean height of every pitched line of a bar."""
    return {
        line.number: sum(found) / len(found)
        for members in together
        for line in members
        if (found := heights(line.cells[bar]))
    }


def _spans_all(numbers: AbstractSet[int], means: Mapping[int, float]) -> bool:
    """True where these lines are the highest and the lowest, and others lie between."""
    own = [means[n] for n in numbers if n in means]
    others = [h for n, h in means.items() if n not in numbers]
    return bool(own and others) and min(own) < min(others) and max(own) > max(others)


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


def _exactly(line: Line, bars: range) -> object:
    """What is equal for lines of the same notes, lengths and marks, over all bars held together."""
    lengths = tuple(
        tuple((e.duration, e.notes[0].tie_start, e.notes[0].tie_stop) for e in cell if e.notes)
        for cell in (line.cells[bar] for bar in bars)
    )
    return bars, lengths, tuple(_sameness(line, bar) for bar in bars), manner(line, bars)


def held_bars(line: Line) -> dict[int, range]:
    """For each bar of a line the bars it is held together with by ties or spans over barlines."""
    runs: list[list[int]] = []
    spanned = open_at(line)
    for bar in sorted(line.cells):
        held = bar in spanned or begins_tied(line.cells[bar])
        if runs and runs[-1][-1] == bar - 1 and held:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    return {bar: range(run[0], run[-1] + 1) for run in runs for bar in run}


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


def _absorbed(
    whole: list[Group], lines: Sequence[Line], bar: int, pairs: Pairs
) -> tuple[Group, ...]:
    """Groups that are a plainer form of another join it."""
    graces = {g.lead: _graces(lines[g.lead].cells[bar]) for g in whole}
    by_weight = sorted(
        whole, key=lambda g: (-len(_strokes(lines[g.lead].cells[bar])), -len(graces[g.lead]))
    )
    means = _means([[lines[n] for n in g.members] for g in whole], bar)
    kept: list[Group] = []
    for group in by_weight:
        hosts = (
            i
            for i, other in enumerate(kept)
            if graces[group.lead] <= graces[other.lead] and _joins(group, other, pairs, means)
        )
        host = next(hosts, None)
        if host is None:
            kept.append(group)
        else:
            other = kept[host]
            kept[host] = Group(bar, other.members, other.lead, (*other.plainer, *group.everybody))
    return tuple(sorted(kept, key=lambda g: min(g.members)))


def _graces(events: Events) -> frozenset[int]:
    """The ticks at which a cell has grace notes, which are nobody's doubling but their like's."""
    return frozenset(e.at for e in events if e.grace is not None)


def _joins(group: Group, host: Group, pairs: Pairs, means: Mapping[int, float]) -> bool:
    """True where a group doubles another, and they are not tune and bass with others between."""
    if (group.lead, host.lead) not in pairs:
        return False
    return not _spans_all({*group.members, *host.everybody}, means)


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
