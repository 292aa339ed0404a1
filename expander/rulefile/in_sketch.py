"""Rules held against a sketch: bars, rehearsal marks, staves and layers that have to exist."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from itertools import combinations

from expander.errors import ExpanderError, Spot
from expander.model.rules import Passage, Rules, SketchFacts, StrandRule
from expander.rulefile.nearest import listed, meant, nearest

EVERYWHERE = "all"


def form_mistakes(rules: Rules, sketch: SketchFacts) -> Iterator[ExpanderError]:
    """Passages of the form that the sketch does not have, and sections that overlap."""
    whole: dict[str, range] = {}
    for name, passage in rules.form.items():
        mistakes = list(_passage(passage, sketch))
        yield from mistakes
        if not mistakes:
            whole[name] = span(passage, sketch)
    for (first, bars), (second, others) in combinations(whole.items(), 2):
        shared = range(max(bars.start, others.start), min(bars.stop, others.stop))
        if shared:
            yield _overlap(first, second, shared, rules, sketch)


def _overlap(
    first: str, second: str, shared: range, rules: Rules, sketch: SketchFacts
) -> ExpanderError:
    from_bar, to_bar = sketch.bars[shared[0]], sketch.bars[shared[-1]]
    which = f"bar {from_bar}" if len(shared) == 1 else f"bars {from_bar} to {to_bar}"
    fault = f'Sections "{first}" and "{second}" share {which}; expected each bar in one section.'
    later = max((rules.form[first].at, rules.form[second].at), key=_place)
    return ExpanderError(fault, at=later, hint="Change where one of them begins or ends.")


def _place(spot: Spot | None) -> tuple[int, int]:
    return (spot.line, spot.column) if spot else (0, 0)


def _passage(passage: Passage, sketch: SketchFacts) -> Iterator[ExpanderError]:
    """What is wrong with a passage: labels that do not exist, or an end before the beginning."""
    mistakes = [*_labels(passage, sketch), *_marks(passage, sketch)]
    yield from mistakes
    if not mistakes and not span(passage, sketch):
        fault = f"{_shown(passage)} holds no bars in this sketch; expected the end after the start."
        yield ExpanderError(fault, at=passage.at)


def _shown(passage: Passage) -> str:
    if passage.first:
        return f"Bars {passage.first}-{passage.last}"
    if passage.mark:
        return f'Mark "{passage.mark}"'
    return f'From "{passage.start or "the beginning"}" to "{passage.stop or "the end"}"'


def _labels(passage: Passage, sketch: SketchFacts) -> Iterator[ExpanderError]:
    at = passage.spots.get("bars", passage.at)
    for label in dict.fromkeys((passage.first, passage.last)):
        if label and label != "end" and label not in sketch.bars:
            ends = f"bars {sketch.bars[0]} to {sketch.bars[-1]}" if sketch.bars else "no bars"
            fault = f"bars: the sketch has no bar {label}; expected {ends}."
            near = _nearest_bar(label, sketch.bars)
            hint = f"The nearest is bar {near}." if near else ""
            yield ExpanderError(fault, at=at, hint=hint)


def _nearest_bar(label: str, bars: Iterable[str]) -> str:
    """By number where both are numbers, else by spelling."""
    numbers = [bar for bar in bars if bar.isdecimal()]
    if label.isdecimal() and numbers:
        return min(numbers, key=lambda bar: abs(int(bar) - int(label)))
    return nearest(label, bars)


def _marks(passage: Passage, sketch: SketchFacts) -> Iterator[ExpanderError]:
    known = [name for name, _ in sketch.marks]
    named = (("mark", passage.mark), ("from", passage.start), ("to", passage.stop))
    for key, mark in named:
        if mark and mark not in known:
            expected = f"expected {listed(known)}" if known else "it has none"
            fault = f'{key}: the sketch has no rehearsal mark "{mark}"; {expected}.'
            hint = meant(mark, known) if known else "Say the passage in bars: {bars: 1-8}."
            yield ExpanderError(fault, at=passage.spots.get(key, passage.at), hint=hint)


def span(passage: Passage, sketch: SketchFacts) -> range:
    """The bar indices (from 0) of a passage; no bars where the sketch lacks one of its labels.

    Where bars share a number, it begins at the first and ends at the last of them.
    """
    marks, end = dict(sketch.marks), len(sketch.bars)
    if passage.first:
        return _bar_span(passage.first, passage.last or passage.first, sketch.bars)
    if not {passage.mark, passage.start, passage.stop} <= {"", *marks}:
        return range(0)
    if passage.mark:
        start = marks[passage.mark]
        return range(start, min((bar for bar in marks.values() if bar > start), default=end))
    return range(marks.get(passage.start, 0), marks.get(passage.stop, end))


def _bar_span(first: str, last: str, bars: tuple[str, ...]) -> range:
    if first not in bars or last not in {"end", *bars}:
        return range(0)
    stop = len(bars) if last == "end" else len(bars) - bars[::-1].index(last)
    return range(bars.index(first), stop)


def section_mistakes(rules: Rules, sketch: SketchFacts) -> Iterator[ExpanderError]:
    """Sections of the plan that neither the form nor, without one, the sketch's marks have."""
    sections = list(rules.form) or [name for name, _ in sketch.marks]
    known = [EVERYWHERE, *sections]
    for section in rules.plan:
        if section not in known:
            whose = "the form" if rules.form else "the sketch's rehearsal marks"
            fault = f'"{section}" is not a section: {whose} give {listed(known)}.'
            hint = meant(section, known) or f"Name it under form: {section}: {{bars: 1-8}}."
            yield ExpanderError(fault, at=rules.spots.get(f"plan.{section}"), hint=hint)


def strand_mistakes(
    rules: Rules, sketch: SketchFacts, voicings: Collection[str], approaches: Collection[str]
) -> Iterator[ExpanderError]:
    """Strands whose staff, layer, bars or chord symbols the sketch does not have."""
    for strand in rules.strands.values():
        yield from _staves(strand, sketch)
        yield from _passage(strand.bars, sketch) if strand.bars else ()
        yield from _known("voicing", strand.voicing, voicings, strand)
        yield from _known("approach", strand.approach, approaches, strand)
        if strand.chords and not sketch.chord_symbols:
            fault = f'"{strand.name}" is built from chord symbols, but the sketch has none.'
            hint = "Write them into the sketch, or take the strand from a staff."
            yield ExpanderError(fault, at=strand.spots.get("chords", strand.at), hint=hint)


def _staves(strand: StrandRule, sketch: SketchFacts) -> Iterator[ExpanderError]:
    numbers = [n for n in (strand.staff, *strand.more_staves) if n]
    last = len(sketch.layers)
    for index, number in enumerate(numbers):
        if number > last:
            fault = f"staff: the sketch has no staff {number}; expected {_one_to(last)}."
            spot = strand.spots.get(f"staff.{index}", strand.at)
            yield ExpanderError(fault, at=spot, hint="Staves are counted from the top.")
    present = [sketch.layers[n - 1] for n in numbers if n <= last]
    if strand.layer and present and strand.layer > max(present):
        fault = (
            f"layer: staff {numbers[0]} has no layer {strand.layer}; "
            f"expected {_one_to(max(present))}."
        )
        yield ExpanderError(fault, at=strand.spots.get("layer", strand.at))


def _one_to(last: int) -> str:
    return "1" if last == 1 else f"1 to {last}" if last else "none"


def _known(
    key: str, name: str, names: Collection[str], strand: StrandRule
) -> Iterator[ExpanderError]:
    if name and names and name not in names:
        fault = f'{key}: "{name}" is not known; expected {listed(names, most=20)}.'
        at = strand.spots.get(key, strand.at)
        yield ExpanderError(fault, at=at, hint=meant(name, names))
