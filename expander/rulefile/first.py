"""A first rule file, written out with remarks, for an arranger to change."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Iterable, Iterator

from msgspec import Struct

from expander.model.rules import Entry, Passage, Rules, SketchFacts, StrandRule
from expander.rulefile.in_sketch import span
from expander.rulefile.scalar import quoted, remark

_WIDTH = 96

_LEGEND = (
    "Each line says what is played and by whom. More can be said in it:",
    "  octave: 1 (up; -1 down)   spacing: octaves   dynamic: mp   as: pizzicato   mute: cup",
    "  words: true   fit: octave, hand over or keep (for a phrase out of range)",
    'A section takes its players away from "all" for its bars.',
)


class Heading(Struct, frozen=True):
    """What stands above a first rule file: names of files as the command line takes them.

    `title` is the piece's; `players` are the names of the line-up that a plan may use.
    """

    sketch: str = "sketch.musicxml"
    score: str = "score.musicxml"
    title: str = ""
    players: tuple[str, ...] = ()


def first_rules(rules: Rules, facts: SketchFacts, heading: Heading | None = None) -> str:
    """The text of a rule file that says `rules`, with remarks for a musician.

    Remarks tell how to run it, which bars each section has and which staff each strand is.
    `parse_rules(text, rules.file)` gives `rules` back.
    """
    blocks = (
        _opening(rules, heading or Heading()),
        _settings(rules),
        _form(rules, facts),
        _strands(rules, facts),
        _plan(rules, facts, heading or Heading()),
    )
    return "\n\n".join("\n".join(lines) for block in blocks if (lines := list(block))) + "\n"


def _opening(rules: Rules, heading: Heading) -> Iterator[str]:
    yield f"# Rules for {remark(heading.title or heading.sketch)}"
    files = [heading.sketch, "-r", rules.file or "rules.yaml", "-o", heading.score]
    yield "# Change what you like, save, and run:"
    yield f"#   expander expand {remark(' '.join(shlex.quote(word) for word in files))}"
    yield "# What follows a # is a remark."


def _settings(rules: Rules) -> Iterator[str]:
    if rules.ensemble:
        yield f"ensemble: {quoted(rules.ensemble)}"
    yield f"pitch: {rules.pitch:<21} # or {_other_pitch(rules.pitch)}"
    if rules.arranger:
        yield f"arranger: {quoted(rules.arranger)}"
    if rules.version:
        yield f"version: {quoted(rules.version)}"
    if rules.keyless:
        yield f"keyless: {_row(rules.keyless)}"


def _other_pitch(pitch: str) -> str:
    return "transposed" if pitch == "concert" else "concert"


# The form


def _form(rules: Rules, facts: SketchFacts) -> Iterator[str]:
    if rules.form:
        yield "form:                             # the sections"
        yield from _aligned(
            (quoted(n), _passage(p), _bars(p, facts)) for n, p in rules.form.items()
        )
    elif facts.marks:
        yield "# The rehearsal marks are the sections. To name others, delete the # of these lines:"
        yield "#form:"
        marks = [(name, Passage(mark=name)) for name, _ in facts.marks]
        rows = _aligned((quoted(n), _passage(p), _bars(p, facts)) for n, p in marks)
        yield from (f"#{row}" for row in rows)


def _passage(passage: Passage) -> str:
    if passage.first:
        return f"{{bars: {_bar_text(passage)}}}"
    if passage.mark:
        return f"{{mark: {quoted(passage.mark)}}}"
    ends = (("from", passage.start), ("to", passage.stop))
    return _group((key, quoted(mark)) for key, mark in ends if mark)


def _bar_text(passage: Passage) -> str:
    alone = passage.last in {"", passage.first}
    return quoted(passage.first if alone else f"{passage.first}-{passage.last}", bars=True)


def _bars(passage: Passage, facts: SketchFacts) -> str:
    """How many bars a passage has, and which by their printed numbers."""
    bars = span(passage, facts)
    if not bars:
        return ""
    ends = f"{facts.bars[bars[0]]}-{facts.bars[bars[-1]]}"
    return f"{len(bars)} bars, {ends}" if len(bars) > 1 else f"bar {facts.bars[bars[0]]}"


# The strands


def _strands(rules: Rules, facts: SketchFacts) -> Iterator[str]:
    if rules.strands:
        yield "strands:                          # names for what the sketch holds"
        yield from _aligned(
            (quoted(name), _strand(rule), _staff_name(rule, facts))
            for name, rule in rules.strands.items()
        )


def _strand(rule: StrandRule) -> str:
    staves = [str(n) for n in (rule.staff, *rule.more_staves) if n]
    said = (
        ("staff", staves[0] if len(staves) == 1 else f"[{', '.join(staves)}]" if staves else ""),
        ("chords", rule.chords),
        ("under", quoted(rule.under)),
        ("slashes", "true" if rule.slashes else ""),
        ("layer", _number(rule.layer)),
        ("notes", "" if rule.notes == "all" else rule.notes),
        ("bars", _bar_text(rule.bars) if rule.bars else ""),
        ("repeat", "true" if rule.repeat else ""),
        ("voicing", quoted(rule.voicing)),
        ("voices", _number(rule.voices)),
        ("tensions", rule.tensions),
        ("rhythm", quoted(rule.rhythm)),
        ("kicks", quoted(rule.kicks)),
        ("approach", quoted(rule.approach)),
    )
    return _group((key, value) for key, value in said if value)


def _staff_name(rule: StrandRule, facts: SketchFacts) -> str:
    known = 0 < rule.staff <= len(facts.staff_names)
    return facts.staff_names[rule.staff - 1] if known else ""


# The plan


def _plan(rules: Rules, facts: SketchFacts, heading: Heading) -> Iterator[str]:
    yield from (f"# {line}" for line in _LEGEND)
    yield from _names(heading.players)
    if rules.plan:
        yield "plan:"
    for section, entries in rules.plan.items():
        yield f"  {quoted(section)}:" if entries else f"  {quoted(section)}: []"
        yield from (f"    - {_entry(entry)}" for entry in entries)
    yield from _open_sections(rules, facts)


def _names(players: Iterable[str]) -> Iterator[str]:
    names = remark(", ".join(players))
    if names:
        yield "# Players and groups:"
        yield from textwrap.wrap(
            names,
            _WIDTH,
            initial_indent="#   ",
            subsequent_indent="#   ",
            break_long_words=False,
            break_on_hyphens=False,
        )


def _open_sections(rules: Rules, facts: SketchFacts) -> Iterator[str]:
    """The sections nothing is said of yet, as remarks to be filled in."""
    sections = list(rules.form) or [name for name, _ in facts.marks]
    strand = next(iter(rules.strands), "")
    for section in sections if strand else ():
        if section not in rules.plan:
            yield f"#  {quoted(section)}:"
            yield f"#    - {{play: {quoted(strand)}, by: ...}}"


def _entry(entry: Entry) -> str:
    said = (
        ("play", quoted(entry.play)),
        ("by", quoted(entry.by[0]) if len(entry.by) == 1 else _row(entry.by)),
        ("octave", _number(entry.octave)),
        ("spacing", "" if entry.spacing == "unison" else entry.spacing),
        ("dynamic", quoted(entry.dynamic)),
        ("as", quoted(entry.technique)),
        ("mute", quoted(entry.mute)),
        ("words", "" if entry.words is None else str(entry.words).lower()),
        ("fit", entry.fit),
    )
    return _group((key, value) for key, value in said if value)


# How it is written


def _number(value: int) -> str:
    return str(value) if value else ""


def _group(pairs: Iterable[tuple[str, str]]) -> str:
    return f"{{{', '.join(f'{key}: {value}' for key, value in pairs)}}}"


def _row(names: Iterable[str]) -> str:
    return f"[{', '.join(quoted(name) for name in names)}]"


def _aligned(rows: Iterable[tuple[str, str, str]]) -> Iterator[str]:
    """Names, values and remarks in columns."""
    table = list(rows)
    names = max(len(name) for name, _, _ in table) + 2
    values = max(len(value) for _, value, _ in table) + 2
    for name, value, said in table:
        note = f"# {remark(said)}" if said else ""
        yield f"  {f'{name}:':<{names}}{value:<{values}}{note}".rstrip()
