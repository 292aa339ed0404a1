"""Rows of the map: who does what in each bar, from a plan's lines or from the music alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise

from expander.checks.music import Chord, Music, Voice
from expander.model.instrument import Ensemble, Player
from expander.model.pitch import Drum
from expander.model.plan import Line, Strand
from expander.model.rules import Rules
from expander.model.score import Sketch
from expander.outline.roles import Heard, Sounded, role_by_name, role_by_rule, roles_by_music
from expander.outline.values import Cell, Role, Row, Stretch

FEW_PARTS = 5
"""Below as many parts each staff is a row of its own, as in a short score."""

_PROMINENCE = {role: place for place, role in enumerate(Role)}

# From a plan ---------------------------------------------------------------------------------


def roles_of_strands(
    strands: Mapping[str, Strand], rules: Rules, sketch: Sketch
) -> dict[str, Role]:
    """The role of every strand: by its name, its rule, or the music it holds."""
    starts = [bar.start for bar in sketch.bars]
    heard = roles_by_music({name: _strand_heard(s, starts) for name, s in strands.items()})
    found: dict[str, Role] = {}
    for name in strands:
        rule = rules.strands.get(name)
        said = role_by_name(name) or (role_by_rule(rule) if rule else None)
        if rule and rule.under:
            said = role_by_name(rule.under) or said
        found[name] = said or heard.get(name, Role.PAD)
    return found


def _strand_heard(strand: Strand, starts: Sequence[int]) -> Heard:
    notes: list[Sounded] = []
    words = False
    for bar, layers in strand.bars.items():
        for event in (e for layer in layers for e in layer if e.notes):
            start = starts[bar] + event.at
            pitches = [n.pitch for n in event.notes]
            heights = tuple(int(p.semitone) for p in pitches if not isinstance(p, Drum))
            notes.append((start, start + event.duration, heights))
            words = words or any(lyric.text.strip() for lyric in event.lyrics)
    return Heard(tuple(sorted(notes)), words)


def rows_of_plan(
    lines: Iterable[Line], roles: Mapping[str, Role], ensemble: Ensemble, music: Music
) -> tuple[Row, ...]:
    """A row for each player of the line-up, with what the plan gives them."""
    cells: dict[int, dict[int, Cell]] = {i: {} for i in range(len(ensemble.players))}
    spans: dict[int, list[tuple[int, int]]] = {i: [] for i in cells}
    starts = music.starts
    for line in lines:
        cell = _cell(line, roles, ensemble.players[line.seat.player])
        for bar, events in line.bars.items():
            sounding = [e for e in events if e.notes and not e.cue]
            spans[line.seat.player] += [(starts[bar] + e.at, starts[bar] + e.end) for e in sounding]
            if sounding:
                mine = cells[line.seat.player]
                mine[bar] = _more_prominent(mine.get(bar), cell)
    standing = sorted({player for stave in ensemble.staves for player in stave.players})
    return tuple(_row(ensemble.players[i].label, cells[i], spans[i], music) for i in standing)


def _cell(line: Line, roles: Mapping[str, Role], player: Player) -> Cell:
    entry, taken = line.task.entry, line.seat.instrument
    other = taken.name.lower() if taken.id != player.instrument.id else ""
    colour = ", ".join(t for t in (other, entry.technique, _mute(entry.mute)) if t)
    return Cell(roles[entry.play], entry.play, colour, entry.dynamic)


def _mute(name: str) -> str:
    return f"{name} mute" if name and "sord" not in name and "open" not in name else name


def _more_prominent(old: Cell | None, new: Cell) -> Cell:
    if old is None or _PROMINENCE[new.role] < _PROMINENCE[old.role]:
        return new
    return old


# From the music alone ------------------------------------------------------------------------


def rows_of_score(music: Music, sections: Sequence[range]) -> tuple[Row, ...]:
    """A row for each part (for each staff of a short score), its roles read section by section."""
    voices = dict(_rows_with_voices(music))
    sung = {stand.name for stand in music.stands if stand.sung}
    cells: dict[str, dict[int, Cell]] = {name: {} for name in voices}
    for bars in sections:
        chords = {name: _inside(own, bars) for name, own in voices.items()}
        roles = roles_by_music({name: _heard(own, name in sung) for name, own in chords.items()})
        for name, own in chords.items():
            for chord in own:
                cell = Cell(roles[name], "", _colour(chord), chord.hand.dynamic)
                cells[name].setdefault(chord.bar, cell)
    return tuple(
        _row(name, cells[name], [(c.start, c.end) for v in vs for c in v.chords], music)
        for name, vs in voices.items()
    )


def _rows_with_voices(music: Music) -> Iterator[tuple[str, list[Voice]]]:
    few = len(music.stands) < FEW_PARTS
    for stand in music.stands:
        if not few or stand.part.staves == 1:
            yield stand.name, list(stand.voices)
            continue
        for staff in range(1, stand.part.staves + 1):
            yield f"{stand.name}, staff {staff}", [v for v in stand.voices if v.staff == staff]


def _inside(voices: Sequence[Voice], bars: range) -> list[Chord]:
    return [chord for voice in voices for chord in voice.chords if chord.bar in bars]


def _heard(chords: Sequence[Chord], sung: bool) -> Heard:
    struck = [c for c in chords if c.struck] or chords  # only held notes: they count as well
    notes = [(c.start, c.end, tuple(h.height for h in c.heads)) for c in struck]
    words = sung and any(lyric.text.strip() for c in chords for lyric in c.event.lyrics)
    return Heard(tuple(sorted(notes)), words, tuple(_bars(chords)))


def _bars(chords: Sequence[Chord]) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Rhythm and shape of each bar with music."""
    by_bar: dict[int, list[Chord]] = {}
    for chord in chords:
        by_bar.setdefault(chord.bar, []).append(chord)
    for own in by_bar.values():
        tops = [max((h.height for h in c.heads), default=0) for c in own]
        moves = tuple(b - a for a, b in pairwise(tops))
        yield tuple(c.at for c in own), moves


def _colour(chord: Chord) -> str:
    bow = {"pizz": "pizzicato"}.get(chord.hand.bow, chord.hand.bow)
    mute = _mute(chord.hand.mute)
    return ", ".join(text for text in (bow, mute, chord.hand.sticks) if text and text != "arco")


# Both ----------------------------------------------------------------------------------------


def _row(
    name: str, cells: Mapping[int, Cell], spans: Iterable[tuple[int, int]], music: Music
) -> Row:
    total = len(music.score.bars)
    joined = list(_joined(sorted(spans)))
    end = music.score.bars[-1].start + music.score.bars[-1].length if total else 0
    gaps = list(_gaps(joined, end))
    return Row(
        name,
        tuple(cells.get(bar) for bar in range(total)),
        _longest(joined, music),
        _longest(gaps, music),
    )


def _joined(spans: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Spans that touch or overlap, as one."""
    current: tuple[int, int] | None = None
    for start, end in spans:
        if current and start <= current[1]:
            current = (current[0], max(end, current[1]))
        else:
            if current:
                yield current
            current = (start, end)
    if current:
        yield current


def _gaps(spans: Sequence[tuple[int, int]], end: int) -> Iterator[tuple[int, int]]:
    here = 0
    for start, stop in spans:
        if start > here:
            yield here, start
        here = max(here, stop)
    if end > here:
        yield here, end


def _longest(spans: Sequence[tuple[int, int]], music: Music) -> Stretch | None:
    if not spans:
        return None
    seconds: Callable[[tuple[int, int]], float] = lambda span: music.seconds(*span)  # noqa: E731
    best = max(spans, key=lambda span: (round(seconds(span), 6), -span[0]))
    return Stretch(music.place(best[0])[0], music.place(best[1] - 1)[0], round(seconds(best), 3))
