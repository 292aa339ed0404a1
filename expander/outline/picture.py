"""The picture of an outline, as SVG: form, map of players by bars, and the three curves.

Letters are drawn as shapes, so that the picture looks the same everywhere. The same outline gives
the same bytes: the plotting library is asked for no date and for ids made from the picture alone.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby
from typing import Any, TypeAlias

from expander.model.tables import table
from expander.outline.curves import LEVELS, note_name
from expander.outline.values import Cell, Outline, Role, Row

Axes: TypeAlias = Any
Figure: TypeAlias = Any
"""The plotting library's own; it is loaded only where a picture is drawn."""

WIDE = 15.5
ROW = 0.21
CURVE = 1.05
BAND = 0.42
LABELS = 2.3
MARGIN = 0.08
GAP = 0.09
NUMBERS = 0.2
KEY = 0.22

_INK = "#1a1a1a"
_FAINT = "#b5b5b5"

_SETTINGS: dict[Any, Any] = {
    "svg.hashsalt": "expander",
    "svg.fonttype": "path",
    "hatch.linewidth": 0.6,
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "axes.linewidth": 0.6,
}


def looks() -> dict[str, dict[str, Any]]:
    """How each role is drawn."""
    return table(__file__, "looks.toml")


def picture(outline: Outline) -> str:
    """The picture as one SVG element, each run of the map with a title that says who does what."""
    import matplotlib.style
    from matplotlib import rc_context

    with matplotlib.style.context("default"), rc_context(_SETTINGS):
        figure, titles = _drawn(outline)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return _titled(stream.getvalue(), titles)


def _drawn(outline: Outline) -> tuple[Figure, dict[str, str]]:
    from matplotlib.figure import Figure

    heights = [BAND, ROW * max(1, len(outline.rows)), CURVE, CURVE, CURVE, KEY]
    figure = Figure(figsize=(WIDE, _tops(heights)[-1] + heights[-1] + MARGIN))
    axes = [_axes(figure, top, h) for top, h in zip(_tops(heights), heights, strict=True)]
    for one in axes[:5]:
        one.set_xlim(0, max(1, len(outline.labels)))
    _form(axes[0], outline)
    titles = _map(axes[1], outline)
    _players(axes[2], outline)
    _register(axes[3], outline)
    _loudness(axes[4], outline)
    _key(axes[5])
    for one in axes[1:5]:
        _section_lines(one, outline)
    _bar_numbers(axes[4], outline)
    return figure, titles


def _tops(heights: Sequence[float]) -> list[float]:
    """Inches from the top of the picture to the top of each part.

    Bar numbers have room above the last.
    """
    tops, here = [], MARGIN
    for place, height in enumerate(heights):
        here += NUMBERS if place == len(heights) - 1 else 0
        tops.append(here)
        here += height + GAP
    return tops


def _axes(figure: Figure, top: float, height: float) -> Axes:
    whole = float(figure.get_figheight())
    width = 1 - (LABELS + MARGIN) / WIDE
    return figure.add_axes((LABELS / WIDE, 1 - (top + height) / whole, width, height / whole))


def _bare(axes: Axes) -> None:
    axes.set_xticks([])
    axes.set_yticks([])
    for side in axes.spines.values():
        side.set_visible(False)


# Form ----------------------------------------------------------------------------------------


def _form(axes: Axes, outline: Outline) -> None:
    """A band of sections, every other one shaded, with name and bars."""
    _bare(axes)
    axes.set_ylim(0, 1)
    for place, section in enumerate(outline.sections):
        shade = "#e4e4e4" if place % 2 else "#f7f7f7"
        axes.broken_barh([(section.first, section.length)], (0, 1), fc=shade, ec=_INK, lw=0.6)
        room = section.length / max(1, len(outline.labels)) * (WIDE - LABELS) * 72
        name, bars = section.name, outline.bars(section.first, section.last)
        _fitted(axes, section.first, section.length, 0.66, name, room, 9, bold=True)
        _fitted(axes, section.first, section.length, 0.26, bars, room, 7)


def _fitted(
    axes: Axes,
    x: float,
    width: float,
    y: float,
    text: str,
    room: float,
    size: float,
    *,
    bold: bool = False,
) -> None:
    """A text in the middle of its room: in two lines, smaller or cut where it is narrow."""
    each = 0.68 if bold else 0.62
    size = min(size, max(5.5, room / (each * max(1, len(text)))))
    fits = int(room / (each * size))
    shown = text if len(text) <= fits else text[: max(1, fits - 1)] + "…"
    if fits >= 1:
        weight = "bold" if bold else "normal"
        axes.text(x + width / 2, y, shown, ha="center", va="center", size=size, weight=weight)


def _section_lines(axes: Axes, outline: Outline) -> None:
    for section in outline.sections:
        axes.axvline(section.first, color=_INK, lw=0.5, zorder=0.5)


def _bar_numbers(axes: Axes, outline: Outline) -> None:
    """Printed bar numbers: at sections, else every five or ten bars."""
    total = len(outline.labels)
    step = next(s for s in (1, 2, 4, 5, 10, 20, 50, 100, 10**9) if total / s <= 64)
    starts = {s.first for s in outline.sections}
    near = {bar + d for bar in starts for d in range(-step + 1, step)}
    chosen = sorted(starts | {b for b in range(0, total, step) if b not in near})
    axes.set_xticks([bar + 0.5 for bar in chosen], [outline.labels[bar] for bar in chosen])
    axes.tick_params(axis="x", length=2, labelsize=7, pad=2)


# Map -----------------------------------------------------------------------------------------


def _map(axes: Axes, outline: Outline) -> dict[str, str]:
    """A row per player, a box per run of bars with one role and colour."""
    _bare(axes)
    total = len(outline.rows)
    axes.set_ylim(max(1, total), 0)
    axes.set_yticks([i + 0.5 for i in range(total)], [row.name for row in outline.rows])
    axes.tick_params(axis="y", length=0, labelsize=7.5)
    titles: dict[str, str] = {}
    for place, row in enumerate(outline.rows):
        axes.plot([0, len(row.cells)], [place + 0.5] * 2, color=_FAINT, lw=0.5, zorder=0.6)
        for first, last, cell in runs(row):
            name = f"run-{place}-{first}"
            _run(axes, place, first, last, cell, name)
            titles[name] = _run_title(outline, row, first, last, cell)
    return titles


def runs(row: Row) -> Iterator[tuple[int, int, Cell]]:
    """First bar, last bar and cell of each stretch with the same role, strand and colour."""
    keyed = groupby(enumerate(row.cells), key=lambda pair: _run_key(pair[1]))
    for key, group in keyed:
        found = list(group)
        cell = found[0][1]
        if key is not None and cell is not None:
            yield found[0][0], found[-1][0], cell


def _run_key(cell: Cell | None) -> tuple[str, str, str] | None:
    return (cell.role.value, cell.strand, cell.colour) if cell else None


def _run(axes: Axes, place: int, first: int, last: int, cell: Cell, name: str) -> None:
    look = looks()[cell.role.value]
    top = place + 1 - look["bottom"] - look["height"]
    axes.broken_barh(
        [(first, last + 1 - first)],
        (top, look["height"]),
        fc=look["fill"],
        ec=_INK,
        hatch=look["hatch"] or None,
        lw=0.5,
        gid=name,
        zorder=1,
    )


def _run_title(outline: Outline, row: Row, first: int, last: int, cell: Cell) -> str:
    word = "bar" if first == last else "bars"
    what = ": ".join(dict.fromkeys(t for t in (cell.role.value, cell.strand) if t))
    colour = f" ({cell.colour})" if cell.colour else ""
    return f"{row.name}, {word} {outline.bars(first, last)}: {what}{colour}"


def _key(axes: Axes) -> None:
    """What the boxes mean."""
    _bare(axes)
    axes.set_xlim(0, 100)
    axes.set_ylim(1, 0)
    for place, role in enumerate(Role):
        look = looks()[role.value]
        x, top = place * 14, 1 - look["bottom"] - look["height"]
        hatch = look["hatch"] or None
        axes.broken_barh(
            [(x, 3)], (top, look["height"]), fc=look["fill"], ec=_INK, hatch=hatch, lw=0.5
        )
        axes.text(x + 3.6, 0.5, role.value, va="center", size=8)
    axes.plot([70, 73], [0.5, 0.5], color=_FAINT, lw=0.5)
    axes.text(73.6, 0.5, "silent", va="center", size=8)


# Curves --------------------------------------------------------------------------------------


def _curve_frame(axes: Axes, title: str) -> None:
    axes.set_xticks([])
    axes.spines["top"].set_visible(False)
    axes.spines["right"].set_visible(False)
    axes.tick_params(axis="y", length=2, labelsize=7)
    x = -(LABELS - 0.1) / (WIDE - LABELS - MARGIN)
    axes.text(x, 0.5, title, transform=axes.transAxes, va="center", size=8.5, weight="bold")


def _players(axes: Axes, outline: Outline) -> None:
    """Density: players as a filled step, notes at once as a line."""
    curves = outline.curves
    _curve_frame(axes, "density")
    edges = list(range(len(outline.labels) + 1))
    if not outline.labels:
        return
    axes.stairs(curves.players, edges, fill=True, fc="#d9d9d9", ec=_INK, lw=0.7, label="players")
    axes.stairs(curves.at_once, edges, color=_INK, lw=1.4, baseline=None, label="notes at once")
    axes.set_ylim(0, max(1, *curves.players, *curves.at_once) * 1.12)
    axes.legend(loc="upper left", ncols=2, frameon=False, fontsize=7, borderpad=0.1)
    _point_out(axes, outline)


def _point_out(axes: Axes, outline: Outline) -> None:
    """A mark over the fullest bars."""
    for remark in outline.remarks:
        if remark.title == "Fullest":
            middle = (remark.first + remark.last + 1) / 2
            top = axes.get_ylim()[1]
            axes.plot([middle], [top], marker="v", color=_INK, ms=6, clip_on=False)


def _register(axes: Axes, outline: Outline) -> None:
    """Register: from the lowest to the highest note, the mean as a line."""
    curves = outline.curves
    _curve_frame(axes, "register")
    edges = list(range(len(outline.labels) + 1))
    heights = [h for h in (*curves.low, *curves.high) if h is not None]
    if not heights:
        return
    low, high = _filled(curves.low), _filled(curves.high)
    axes.stairs(high, edges, baseline=low, fill=True, fc="#d9d9d9", ec=_INK, lw=0.7)
    axes.stairs(_filled(curves.middle), edges, color=_INK, lw=1.4, baseline=None)
    lines = [h for h in range(12, 120, 12) if min(heights) - 4 <= h <= max(heights) + 4]
    axes.set_yticks(lines, [note_name(h) for h in lines])
    axes.set_ylim(min(heights) - 3, max(heights) + 3)


def _loudness(axes: Axes, outline: Outline) -> None:
    """Loudness: from the softest to the loudest dynamic in force, the mean as a line."""
    curves = outline.curves
    _curve_frame(axes, "loudness")
    edges = list(range(len(outline.labels) + 1))
    if not any(value is not None for value in curves.level):
        axes.set_yticks([])
        axes.text(0.01, 0.5, "no dynamics are given", transform=axes.transAxes, size=7, va="center")
        return
    low, high = _filled(curves.softest), _filled(curves.loudest)
    axes.stairs(high, edges, baseline=low, fill=True, fc="#d9d9d9", ec=_INK, lw=0.7)
    axes.stairs(_filled(curves.level), edges, color=_INK, lw=1.4, baseline=None)
    axes.set_yticks(range(len(LEVELS)), LEVELS)
    said = [value for value in (*curves.softest, *curves.loudest) if value is not None]
    axes.set_ylim(min(said) - 0.6, max(said) + 0.6)


def _filled(values: Sequence[float | None]) -> list[float]:
    return [float("nan") if value is None else float(value) for value in values]


# SVG -----------------------------------------------------------------------------------------


def _titled(svg: str, titles: dict[str, str]) -> str:
    """The bare svg element, sized by its box, with titles in the runs."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'(<svg [^>]*?) width="[^"]*pt"', r"\1", svg, count=1)
    svg = re.sub(r'(<svg [^>]*?) height="[^"]*pt"', r"\1", svg, count=1)
    return re.sub(
        r'<g id="(run-\d+-\d+)">',
        lambda found: f"{found[0]}<title>{escape(titles[found[1]])}</title>",
        svg,
    )
