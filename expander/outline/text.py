"""The outline as text for a terminal, and the words of a song as a sheet of text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from expander.outline.curves import LEVELS
from expander.outline.values import (
    Happening,
    LyricLine,
    Outline,
    Playing,
    Role,
    Row,
    Section,
    Stretch,
)

WIDTH = 100
BARS_A_LINE = 60
MOST_CHANGES = 6

LETTERS = {Role.TUNE: "T", Role.COUNTER: "c", Role.BASS: "b", Role.FIGURE: "f", Role.PAD: "="}
SILENT = "·"
_STEPS = " ▁▂▃▄▅▆▇█"


def as_text(outline: Outline) -> str:
    """The whole outline, at most `WIDTH` characters wide."""
    lines = [*_head(outline), ""]
    for section in outline.sections:
        lines += [*_section(outline, section), ""]
    lines += [*_map(outline), "", *_stretches(outline), "", *_remarks(outline)]
    return "\n".join(lines).rstrip() + "\n"


def minutes(seconds: float) -> str:
    """Seconds as minutes and seconds: 192.4 is "3:12"."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02}"


def length_line(outline: Outline) -> str:
    """How long the piece is, in words."""
    bars = len(outline.labels)
    text = f"{bars} bars, {minutes(outline.seconds)}"
    if round(outline.played) != round(outline.seconds):
        text += f" ({minutes(outline.played)} with repeats)"
    if not outline.tempo_said:
        text += ", at an ordinary tempo, as the file gives none"
    return f"{text}; jumps such as D.C. are not counted" if outline.jumps else text


def happenings(outline: Outline, told: Sequence[Happening]) -> str:
    """Keys, metres or tempi in one line: the first bare, later ones with their bar.

    Where there are more than `MOST_CHANGES`, the others are counted.
    """
    parts: list[str] = []
    for place, one in enumerate(told[:MOST_CHANGES]):
        parts.append(f"{one.text} from bar {outline.labels[one.bar]}" if place else one.text)
    more = len(told) - MOST_CHANGES
    return ", ".join([*parts, f"and {more} more changes"] if more > 0 else parts)


def facts(outline: Outline, section: Section) -> str:
    """Key, metre and tempo of a section in one line."""
    groups = (section.keys, section.metres, section.tempi)
    return "; ".join(t for t in (happenings(outline, group) for group in groups) if t)


def _head(outline: Outline) -> Iterator[str]:
    yield outline.title
    yield "=" * len(outline.title)
    yield from (f"{name} ({kind})" for kind, name in outline.people)
    if outline.line_up:
        yield f"for {outline.line_up}"
    yield length_line(outline)


def _section(outline: Outline, section: Section) -> Iterator[str]:
    bars = outline.bars(section.first, section.last)
    head = f"{section.name.upper()}  bars {bars}: {section.length} bars, {minutes(section.seconds)}"
    yield head
    yield from _wrapped(facts(outline, section), "  ")
    for line in section.words:
        where = outline.bars(line.first, line.last)
        yield from _wrapped(f"{verse_mark(section, line)}{line.text}", "  ", f"  {where:>7}  ")
    for one in section.players:
        yield from _wrapped(who(one), "", f"  {one.title:<20}  ")


def who(playing: Playing) -> str:
    """Names and colours in one line: "Voice; Violin I (mf)"."""
    return "; ".join(f"{names} ({told})" if told else names for names, told in playing.who)


def verse_mark(section: Section, line: LyricLine) -> str:
    """The singer and the verse, where there is more than one."""
    several = len({one.verse for one in section.words}) > 1 or line.verse not in ("", "1")
    verse = f"{line.verse}. " if several else ""
    return f"{line.singer}: {verse}" if line.singer else verse


def _wrapped(text: str, indent: str, first: str | None = None) -> list[str]:
    start = indent if first is None else first
    rest = indent if first is None else " " * len(first)
    return textwrap.wrap(text, WIDTH, initial_indent=start, subsequent_indent=rest)


def _map(outline: Outline) -> Iterator[str]:
    letters = ", ".join(f"{LETTERS[role]} {role.value}" for role in Role)
    yield f"WHO PLAYS WHEN  {letters}, {SILENT} silent"
    if not outline.exact:
        yield "  (roles are read from the music; a rule file says them exactly)"
    wide = _name_width(outline)
    for start in range(0, len(outline.labels), BARS_A_LINE):
        bars = range(start, min(start + BARS_A_LINE, len(outline.labels)))
        yield ""
        yield f"  {'bar':<{wide}}  {_ruler(outline, bars)}"
        for row in outline.rows:
            yield f"  {row.name[:wide]:<{wide}}  {''.join(_letter(row, bar) for bar in bars)}"
        for name, values in _scales(outline):
            yield f"  {name:<{wide}}  {''.join(_step(values, bar) for bar in bars)}"


def _name_width(outline: Outline) -> int:
    return min(30, max((len(row.name) for row in outline.rows), default=0))


def _letter(row: Row, bar: int) -> str:
    cell = row.cells[bar]
    return LETTERS[cell.role] if cell else SILENT


def _ruler(outline: Outline, bars: range) -> str:
    """Bar numbers above the bars at which sections begin, as far as they have room."""
    text = ""
    for section in outline.sections:
        if section.first in bars and len(text) <= section.first - bars.start:
            text = text.ljust(section.first - bars.start) + outline.labels[section.first] + " "
    return text.rstrip()


def _scales(outline: Outline) -> list[tuple[str, list[float]]]:
    """Density, register and loudness on a scale from 0 to 1."""
    curves = outline.curves
    heights = [h for h in curves.middle if h is not None]
    low, high = min(heights, default=0), max(heights, default=1)
    span = (high - low) or 1
    most = max(curves.at_once, default=0) or 1
    loud = len(LEVELS)
    return [
        ("density", [value / most for value in curves.at_once]),
        ("register", [0 if h is None else 0.15 + 0.85 * (h - low) / span for h in curves.middle]),
        ("loudness", [0 if v is None else (v + 1) / loud for v in curves.level]),
    ]


def _step(values: Sequence[float], bar: int) -> str:
    return _STEPS[round(values[bar] * (len(_STEPS) - 1))]


def _stretches(outline: Outline) -> Iterator[str]:
    wide = _name_width(outline)
    yield f"{'LONGEST (bars, time)':<{wide + 2}}  {'without a rest':<22}  silent"
    for row in outline.rows:
        playing, silent = stretch(outline, row.playing), stretch(outline, row.silent)
        yield f"  {row.name[:wide]:<{wide}}  {playing:<22}  {silent}"


def stretch(outline: Outline, one: Stretch | None) -> str:
    """A stretch as bars and time, "20-26, 0:20"; a dash for none."""
    return f"{outline.bars(one.first, one.last)}, {minutes(one.seconds)}" if one else "–"


def _remarks(outline: Outline) -> Iterator[str]:
    for one in outline.remarks:
        word = "bar" if one.first == one.last else "bars"
        yield f"{one.title}: {word} {outline.bars(one.first, one.last)}: {one.text}."


def lyrics_as_text(outline: Outline) -> str:
    """The words by section with bar numbers, and room for notes at the right."""
    lines = [*_head(outline), ""]
    for section in outline.sections:
        if not section.words:
            continue
        lines.append(f"{section.name.upper()}  bars {outline.bars(section.first, section.last)}")
        for one in section.words:
            where = outline.bars(one.first, one.last)
            lines += _wrapped(f"{verse_mark(section, one)}{one.text}", "", f"  {where:>7}  ")
            lines.append("")
    return "\n".join(lines).rstrip() + "\n"
