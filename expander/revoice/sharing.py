"""Lines with the marks that are meant for them; on shared staves one for each player.

Who of several plays what, and is told what, is read as it is for the parts.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import cast

from msgspec.structs import replace

from expander.model.instrument import Player
from expander.model.pitch import Drum, Written
from expander.model.plan import Events
from expander.model.score import Direction, Mark, Part, PartBar, staves_of
from expander.model.spans import span_of
from expander.notate.turns import Turning
from expander.parts.apart import take_apart
from expander.parts.signs import Staff, dealt_signs
from expander.plan.strands import staff_directions
from expander.revoice.harmonics import as_heard
from expander.revoice.lines import FullScore, Line, Owner, music
from expander.revoice.lineup import LineUp
from expander.revoice.manner import SPANNING
from expander.revoice.marking import HANDS, carried
from expander.revoice.turned import Directions, with_turns
from expander.rulefile import techniques

_NUMBER = re.compile(r"(\d+)\s*$")


def with_players_lines(full: FullScore, line_up: LineUp) -> FullScore:
    """The score with a line for each player where several share a stave.

    What they play in unison is then in the line of each of them.
    """
    found: list[Line] = []
    for owner in full.owners:
        players = line_up.players[owner.part]
        if len(players) > 1 and full.sketch.parts[owner.part].staves == 1:
            named = [line_up.ensemble.players[p] for p in players]
            mine: Sequence[Line] = list(_lines(full, owner, named))
        else:
            mine = [line for line in full.lines if line.owner.part == owner.part]
        found += [replace(line, number=len(found) + i) for i, line in enumerate(mine)]
    return replace(full, lines=tuple(found))


def with_marks(full: FullScore, *, exact: bool) -> FullScore:
    """The score with the marks of each line: its player's, else those meant for its layer.

    With `exact` also with how each line is played, which words of its marks then do not say.
    """
    staves = {(a.part, a.staff): a for a in staves_of(full.sketch)}
    known: dict[tuple[int, int, int], Directions] = {}

    def said(line: Line) -> Directions:
        if line.told is not None:
            return line.told
        address = staves[line.owner.part, line.staff]
        layer = address.layers.index(line.layer) + 1
        key = (line.owner.part, line.staff, layer)
        if key not in known:
            known[key] = staff_directions(full.sketch, address, layer)
        return known[key]

    if exact:
        turning = Turning(techniques())
        lines = (with_turns(full, line, said(line), turning) for line in full.lines)
    else:
        lines = (replace(line, told=_carried(said(line))) for line in full.lines)
    return replace(full, lines=tuple(lines))


def _carried(said: Directions) -> Directions:
    found = {bar: tuple(carried(marks, HANDS)) for bar, marks in said.items()}
    return {bar: marks for bar, marks in found.items() if marks}


def _lines(full: FullScore, owner: Owner, players: Sequence[Player]) -> Iterator[Line]:
    # Taking apart asks for heights alone, which heard and written notes both have.
    part = cast("Part[Written]", full.sketch.parts[owner.part])
    numbers = tuple(_number(p, i) for i, p in enumerate(players))
    taken = take_apart(part, 1, numbers)
    bars = _with_named_spans(part.bars)
    signs = dealt_signs(bars, Staff(1, numbers, part.layers), taken)
    for place, rows in enumerate(taken.voices):
        told = dict(enumerate(signs[place]))
        for voice in range(max(map(len, rows), default=0)):
            row = (voices[voice] if voice < len(voices) else () for voices in rows)
            cells = _cells(cast("Iterator[Events]", row), owner)
            if cells:
                notes = (n for cell in cells.values() for e in cell for n in e.notes)
                drums = all(isinstance(n.pitch, Drum) for n in notes)
                yield Line(0, owner, voice, 1, 0, cells, drums, place, told)


def _with_named_spans(bars: Sequence[PartBar[Written]]) -> list[PartBar[Written]]:
    """The bars with the voice of a hairpin's end at its beginning too, where that names none.

    Two that begin alike and end apart are otherwise everybody's.
    """
    rows = [list(bar.directions) for bar in bars]
    opened: dict[tuple[str, str], tuple[int, int]] = {}
    for bar, place, mark in list(_spans(rows)):
        key = span_of(mark)
        if mark.get("type") != "stop":
            opened[key] = (bar, place)
        elif key in opened and rows[bar][place].voice:
            first, begun = opened.pop(key)
            voice = rows[first][begun].voice or rows[bar][place].voice
            rows[first][begun] = replace(rows[first][begun], voice=voice)
    return [replace(bar, directions=tuple(row)) for bar, row in zip(bars, rows, strict=True)]


def _spans(rows: Sequence[Sequence[Direction]]) -> Iterator[tuple[int, int, Mark]]:
    for bar, directions in enumerate(rows):
        for place, direction in enumerate(directions):
            yield from ((bar, place, m) for m in direction.marks if m.name in SPANNING)


def _number(player: Player, place: int) -> int:
    found = _NUMBER.search(player.name)
    return int(found[1]) if found else place + 1


def _cells(rows: Iterator[Events], owner: Owner) -> Mapping[int, Events]:
    heard = (as_heard(music(row), owner.family == "plucked") for row in rows)
    return {bar: events for bar, events in enumerate(heard) if events}
