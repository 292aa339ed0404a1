"""From the checked shape of a rule file to the values the stages use."""

from __future__ import annotations

from expander.errors import Spot
from expander.model.rules import Entry, Passage, Rules, Spots, StrandRule
from expander.rulefile.positions import Item
from expander.rulefile.shape import (
    BarsPassage,
    BlockStrand,
    ChordStrand,
    MarkPassage,
    MarksPassage,
    PlanEntry,
    RuleFile,
    SketchStrand,
    SlashStrand,
    split_bars,
)
from expander.rulefile.techniques import find_technique

_NOTHING = Item(None, (0, 0))


def rules_of(shape: RuleFile, root: Item, file: str) -> Rules:
    """The rules with the place of each; `root` is the tree the shape was read from."""
    form, strands, plan = (root.child(key) or _NOTHING for key in ("form", "strands", "plan"))
    return Rules(
        ensemble=shape.ensemble or "",
        pitch=shape.pitch,
        form={n: _passage(p, _at(form, n), file) for n, p in (shape.form or {}).items()},
        strands={n: _strand(n, s, _at(strands, n), file) for n, s in (shape.strands or {}).items()},
        plan={n: _entries(e or [], _at(plan, n), file) for n, e in (shape.plan or {}).items()},
        arranger=shape.arranger or "",
        version=shape.version or "",
        keyless=tuple(shape.keyless or ()),
        file=file,
        spots={**_spots(root, file), **_key_spots("plan", plan, file)},
    )


def _at(item: Item, step: str | int) -> Item:
    return item.child(step) or _NOTHING


def _spot(item: Item, file: str) -> Spot:
    return Spot(file, *item.place)


def _spots(item: Item, file: str) -> Spots:
    """The place of each value, and of each value in a list as `key.0`, `key.1`."""
    found: dict[str, Spot] = {}
    for key, inner in item.entries().items():
        found[key] = _spot(inner, file)
        found |= {f"{key}.{i}": _spot(value, file) for i, value in enumerate(inner.items())}
        if inner.text:
            found[f"{key}.0"] = found[key]  # a single value stands for a list of one
    return found


def _key_spots(group: str, item: Item, file: str) -> Spots:
    return {f"{group}.{key}": Spot(file, *place) for key, place in item.keys.items()}


def _passage(shape: BarsPassage | MarkPassage | MarksPassage, item: Item, file: str) -> Passage:
    at, spots = _spot(item, file), _spots(item, file)
    if isinstance(shape, BarsPassage):
        first, last = split_bars(shape.bars)
        return Passage(first=first, last=last, at=at, spots=spots)
    if isinstance(shape, MarkPassage):
        return Passage(mark=shape.mark, at=at, spots=spots)
    return Passage(start=shape.from_ or "", stop=shape.to or "", at=at, spots=spots)


def _strand(
    name: str, shape: SketchStrand | ChordStrand | BlockStrand | SlashStrand, item: Item, file: str
) -> StrandRule:
    at, spots = _spot(item, file), _spots(item, file)
    if isinstance(shape, SketchStrand):
        return _sketch_strand(name, shape, item, file)
    if isinstance(shape, SlashStrand):
        bars = _only_bars(shape.bars, item, file)
        return StrandRule(
            name, bars=bars, slashes=True, kicks=shape.kicks or "", at=at, spots=spots
        )
    voicing, voices, tensions = shape.voicing or "", shape.voices or 0, _TENSIONS[shape.tensions]
    if isinstance(shape, ChordStrand):
        rhythm = shape.rhythm or ""
        return StrandRule(
            name, chords=shape.chords, voicing=voicing, voices=voices, tensions=tensions,
            rhythm=rhythm, at=at, spots=spots,
        )  # fmt: skip
    return StrandRule(
        name, under=shape.under, voicing=voicing, voices=voices, tensions=tensions,
        approach=shape.approach or "", at=at, spots=spots,
    )  # fmt: skip


_TENSIONS = {None: "", "named": "", "usual": "usual"}


def _sketch_strand(name: str, shape: SketchStrand, item: Item, file: str) -> StrandRule:
    return StrandRule(
        name,
        staff=shape.staff[0],
        more_staves=tuple(shape.staff[1:]),
        layer=shape.layer or 0,
        notes=shape.notes,
        bars=_only_bars(shape.bars, item, file),
        repeat=shape.repeat,
        at=_spot(item, file),
        spots=_spots(item, file),
    )


def _only_bars(bars: str | None, item: Item, file: str) -> Passage | None:
    if not bars:
        return None
    at = _spot(_at(item, "bars"), file)
    first, last = split_bars(bars)
    return Passage(first=first, last=last, at=at, spots={"bars": at})


def _entries(shapes: list[PlanEntry], section: Item, file: str) -> tuple[Entry, ...]:
    return tuple(_entry(shape, _at(section, i), file) for i, shape in enumerate(shapes))


def _entry(shape: PlanEntry, item: Item, file: str) -> Entry:
    technique, mute = shape.as_ or "", shape.mute or ""
    found = find_technique(technique)
    if found and found.is_mute:
        technique, mute = "", found.id
    return Entry(
        play=shape.play,
        by=tuple(shape.by),
        octave=shape.octave,
        spacing=shape.spacing,
        dynamic=shape.dynamic or "",
        technique=technique,
        mute=mute,
        words=shape.words,
        fit=shape.fit or "",
        at=_spot(item, file),
        spots=_spots(item, file),
    )
