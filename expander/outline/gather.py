"""From a score, or a plan carried out, to its outline."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from expander.checks.music import Music
from expander.checks.prepare import music_of
from expander.model.score import Document, Header, Sketch
from expander.outline.curves import LEVELS, curves_of, level_number, remarks_of
from expander.outline.lyrics import lyric_lines
from expander.outline.order import has_jumps, playing_order
from expander.outline.rows import roles_of_strands, rows_of_plan, rows_of_score
from expander.outline.tempo import keys_of, metres_of, tempi_of
from expander.outline.values import (
    Happening,
    LyricLine,
    Outline,
    Playing,
    Role,
    Row,
    Section,
)
from expander.pipeline import Expanded
from expander.plan.form import rehearsal_marks
from expander.plan.form import sections as form_of
from expander.sounding import to_sounding

WHOLE = "the whole piece"
BEFORE = "before the first mark"
BETWEEN = "in no section"

PHRASE = 4
"""Bars for which a role is read: a section may change its colours inside."""

_NUMBERED = re.compile(r"^(.*?)\s*(\d+)$")


def outline_of_score(score: Document) -> Outline:
    """The outline of a sketch or a full score by itself: its rehearsal marks are the form.

    Roles are read from the music, phrase by phrase. A short score has a row for each staff, a
    score of five parts or more one for each part.
    """
    heard = to_sounding(score)
    music = music_of(score)
    spans = _covering(form_of(heard, {}), heard)
    rows = rows_of_score(music, [phrase for _, bars in spans for phrase in _phrases(bars)])
    return _outline(score, heard, music, spans, rows)


def outline_of_plan(sketch: Document, done: Expanded) -> Outline:
    """The outline of a sketch expanded by rules: form, strands and colours are those of the rules.

    Key, metre, tempo and words are the sketch's; the curves are those of the full score.
    """
    heard = to_sounding(sketch)
    music = music_of(done.score, ensemble=done.ensemble)
    spans = _covering(form_of(heard, done.rules.form), heard)
    strands = {line.task.strand.name: line.task.strand for line in done.lines}
    roles = roles_of_strands(strands, done.rules, heard)
    rows = rows_of_plan(done.lines, roles, done.ensemble, music)
    words = lyric_lines(music_of(sketch))
    return _outline(done.score, heard, music, spans, rows, words, done)


def _phrases(bars: range) -> Iterator[range]:
    for start in range(bars.start, bars.stop, PHRASE):
        yield range(start, min(start + PHRASE, bars.stop))


def _outline(
    score: Document,
    heard: Sketch,
    music: Music,
    spans: Sequence[tuple[str, range]],
    rows: tuple[Row, ...],
    words: Sequence[LyricLine] | None = None,
    done: Expanded | None = None,
) -> Outline:
    curves = curves_of(music, rows)
    told = _Told(heard, music, rows, lyric_lines(music) if words is None else words)
    header = score.header
    return Outline(
        title=header.movement_title or header.work_title or "Untitled",
        people=_people(header),
        line_up=done.ensemble.title if done else "",
        labels=tuple(bar.number for bar in score.bars),
        starts=tuple(round(music.clock.at(bar.start), 3) for bar in score.bars),
        seconds=_seconds(music, range(len(score.bars))),
        played=_seconds(music, playing_order(heard)),
        sections=tuple(told.section(name, bars) for name, bars in spans),
        rows=rows,
        curves=curves,
        remarks=remarks_of(curves, len(rows)),
        exact=done is not None,
        tempo_said=music.clock.given,
        jumps=has_jumps(score),
        marks=tuple((bar, name) for name, bar in rehearsal_marks(score).items()),
    )


def _people(header: Header) -> tuple[tuple[str, str], ...]:
    kept = [(kind, name) for kind, name in header.people if name.strip()]
    return tuple(dict.fromkeys(kept))


def _seconds(music: Music, bars: Sequence[int]) -> float:
    each = (music.score.bars[i] for i in bars)
    return round(sum(music.seconds(b.start, b.start + b.length) for b in each), 3)


def _covering(sections: Mapping[str, range], heard: Sketch) -> list[tuple[str, range]]:
    """The sections in order of their bars, and what lies between them, so that no bar is left.

    An upbeat before the first section belongs to it.
    """
    total = len(heard.bars)
    if not sections:
        return [(WHOLE, range(total))] if total else []
    found: list[tuple[str, range]] = []
    here = 0
    for name, bars in sorted(sections.items(), key=lambda one: (one[1].start, one[1].stop)):
        if not found and bars.start == 1 and heard.bars[0].length < heard.bars[1].length:
            bars = range(bars.stop)
        if bars.start > here:
            found.append((BETWEEN if found else BEFORE, range(here, bars.start)))
        if bars:
            found.append((name, bars))
        here = max(here, bars.stop)
    if here < total:
        found.append((BETWEEN, range(here, total)))
    return found


class _Told:
    """All that is told of sections."""

    def __init__(
        self, heard: Sketch, music: Music, rows: tuple[Row, ...], words: Sequence[LyricLine]
    ) -> None:
        self._music, self._rows, self._words = music, rows, words
        self._keys, self._metres = keys_of(heard), metres_of(heard)
        self._tempi = tempi_of(music.score)

    def section(self, name: str, bars: range) -> Section:
        """One section with everything in it."""
        return Section(
            name=name,
            first=bars.start,
            last=bars.stop - 1,
            seconds=_seconds(self._music, bars),
            keys=_within(self._keys, bars),
            metres=_within(self._metres, bars),
            tempi=_within(self._tempi, bars),
            words=tuple(sorted((w for w in self._words if _middle(w) in bars), key=_by_verse)),
            players=tuple(_playing(self._rows, bars)),
        )


def _middle(line: LyricLine) -> int:
    """The bar in which the greater part of a line lies: an upbeat belongs to what follows."""
    return (line.first + line.last + 1) // 2


def _by_verse(line: LyricLine) -> tuple[str, str, int]:
    return line.singer, line.verse, line.first


def _within(happenings: Sequence[Happening], bars: range) -> tuple[Happening, ...]:
    """What holds at the start of the bars, then what changes inside them."""
    before = [one for one in happenings if one.bar < bars.start][-1:]
    inside = [one for one in happenings if one.bar in bars]
    if inside and inside[0].bar == bars.start:
        return tuple(inside)
    held = [Happening(bars.start, one.text, fresh=False) for one in before]
    return (*held, *inside)


def _playing(rows: Sequence[Row], bars: range) -> Iterator[Playing]:
    """Who plays what in which colour, by role; those who do the same are told together."""
    found: dict[tuple[Role, str], dict[str, list[str]]] = {}
    for row in rows:
        levels: dict[tuple[Role, str, str], list[str]] = {}
        for cell in (cell for cell in row.cells[bars.start : bars.stop] if cell):
            levels.setdefault((cell.role, cell.strand, cell.colour), []).append(cell.level)
        for (role, strand, colour), said in levels.items():
            told = ", ".join(text for text in (colour, _loud(said)) if text)
            found.setdefault((role, strand), {}).setdefault(told, []).append(row.name)
    for role, strand in sorted(found, key=lambda key: list(Role).index(key[0])):
        by_colour = found[role, strand].items()
        yield Playing(role, strand, tuple((together(names), told) for told, names in by_colour))


def _loud(levels: Sequence[str]) -> str:
    """One dynamic, or the softest and the loudest: "p-mf"."""
    known = sorted({n for n in map(level_number, levels) if n is not None})
    ends = [LEVELS[int(n)] for n in (known[:1] + known[-1:])]
    return "–".join(dict.fromkeys(ends))


def together(names: Sequence[str]) -> str:
    """Names in one line, numbers joined: "Trumpet in B♭ 1-4, Horn in F"."""
    stems: dict[str, list[int]] = {}
    for name in names:
        found = _NUMBERED.match(name)
        stem, number = (found[1], int(found[2])) if found else (name, 0)
        stems.setdefault(stem, []).append(number)
    return ", ".join(_numbered(stem, numbers) for stem, numbers in stems.items())


def _numbered(stem: str, numbers: Sequence[int]) -> str:
    counted = [n for n in numbers if n]
    if not counted:
        return stem
    runs: list[list[int]] = []
    for number in counted:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [f"{r[0]}" if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs]
    return f"{stem} {', '.join(told)}"
