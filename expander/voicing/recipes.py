"""Voicings by their trade names: from a chord and a lead to notes.

The names and their data are in `voicings.toml`. All pitches are sounding; voicings are tuples
from the top voice down.
"""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from expander.errors import ExpanderError, Spot
from expander.model.pitch import LETTERS, Sounding
from expander.model.score import Degree, Harmony
from expander.model.tables import table
from expander.voicing.harmony import ChordTones, chord_tones
from expander.voicing.layout import Ask, Layout, key_of
from expander.voicing.limits import Limits, low_interval_limits
from expander.voicing.price import Terms, price, prices
from expander.voicing.shapes import SHAPES


class Recipe(Struct, frozen=True):
    """One voicing as `voicings.toml` describes it. `fewest` and `most` voices it is for."""

    name: str
    says: str
    shape: str
    fewest: int
    most: int
    drops: tuple[int, ...] = ()
    forms: tuple[tuple[int, tuple[tuple[str, ...], ...]], ...] = ()
    lowest: tuple[int, int] | None = None
    scale: bool = False
    seconds: bool = False


class Voicing(Struct, frozen=True):
    """One way to voice a chord: notes from the top down, their keys, and the price."""

    notes: tuple[Sounding, ...]
    keys: tuple[int, ...]
    price: int


class Explained(Struct, frozen=True):
    """A voicing for the list of what is shipped; `chord` and `notes` are an example as text."""

    name: str
    says: str
    voices: tuple[int, int]
    chord: str
    notes: tuple[str, ...]


def _data() -> Mapping[str, Any]:
    return table(__file__, "voicings.toml")


@lru_cache(maxsize=1)
def recipes() -> Mapping[str, Recipe]:
    """Every voicing by name, in the order of the data file."""
    return {name: _recipe(name, row) for name, row in _data().items()}


def _recipe(name: str, row: Mapping[str, Any]) -> Recipe:
    forms = tuple(
        (int(size), tuple(tuple(form.split()) for form in rows))
        for size, rows in row.get("forms", {}).items()
    )
    lowest = [int(Sounding.named(p).semitone) for p in row.get("lowest", ())]
    return Recipe(
        name=name,
        says=row["says"],
        shape=row["shape"],
        fewest=row["voices"][0],
        most=row["voices"][1],
        drops=tuple(row.get("drops", ())),
        forms=forms,
        lowest=(lowest[0], lowest[1]) if lowest else None,
        scale=row.get("scale", False),
        seconds=row.get("seconds", False),
    )


def recipe(name: str, voices: int, at: Spot | None = None) -> Recipe:
    """The voicing of that name, fit for so many voices. Raises ExpanderError."""
    found = recipes().get(name)
    if found is None:
        near = difflib.get_close_matches(name, recipes(), n=1)
        hint = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(recipes())}."
        raise ExpanderError(f"{name!r} is not a voicing.", at=at, hint=hint)
    if not found.fewest <= voices <= found.most:
        raise ExpanderError(
            f"The voicing {name!r} is for {found.fewest} to {found.most} voices, not {voices}.",
            at=at,
            hint="Change `voices` or take another voicing, such as 'close'.",
        )
    return found


def voice(
    chord: ChordTones,
    lead: Sounding | None,
    voicing: str,
    voices: int,
    limits: Limits | None = None,
    *,
    rich: bool = False,
    long: bool = False,
) -> tuple[Sounding, ...]:
    """The best voicing of one chord, from the top down.

    `lead` is the top note, which need not belong to the chord; None leaves it free. `limits`
    None takes the shipped low interval limits. `rich` welcomes the usual tensions that the
    symbol does not name; `long` is true where the lead lasts longer than a quarter. Raises
    ExpanderError for an unknown voicing or a number of voices it is not for.
    """
    terms = Terms(limits=low_interval_limits() if limits is None else limits, rich=rich, long=long)
    return candidates(chord, recipe(voicing, voices), voices, lead, terms)[0].notes


def candidates(
    chord: ChordTones,
    wanted: Recipe,
    voices: int,
    lead: Sounding | None = None,
    terms: Terms | None = None,
    most: int = 40,
) -> tuple[Voicing, ...]:
    """Ways to voice a chord, cheapest first, at most `most` of them and never none.

    Without a lead the top note stays inside the compass of `terms`. Where the voicing cannot
    be had under the lead (a fourth that the scale lacks), close position stands in for it. Where
    the lead is so low that every layout is muddy, closer ones with fewer different notes are
    added, the lowest of them for several voices.
    """
    terms = terms or Terms(limits=low_interval_limits())
    judged = replace(terms, scale=wanted.scale, seconds=wanted.seconds)
    layouts = _layouts(wanted, _ask(chord, wanted, voices, lead, terms))
    priced = [_priced(notes, chord, wanted, judged) for notes in layouts]
    if lead is not None and all(_is_muddy(v, chord, judged) for v in priced):
        ask = _ask(chord, wanted, voices, lead, terms)
        priced += [_priced(notes, chord, wanted, judged) for notes in _thinner(ask)]
    if lead is None:
        priced = [_centred(v, terms) for v in priced]
    priced.sort(key=lambda v: (v.price, tuple(-k for k in v.keys)))
    return tuple(priced[:most])


def _layouts(wanted: Recipe, ask: Ask) -> tuple[Layout, ...]:
    """What the shape knows, without repeats; close position where it knows nothing.

    A window too narrow for any chord tone is widened by octaves.
    """
    for shape in (SHAPES[wanted.shape], SHAPES["stack"]):
        found = tuple(n for n in dict.fromkeys(shape(ask)) if len(n) == ask.voices)
        if found:
            return found
    return _layouts(wanted, replace(ask, low=ask.low - 12, high=ask.high + 12))


def _is_muddy(found: Voicing, chord: ChordTones, terms: Terms) -> bool:
    return bool(terms.limits.too_low(found.keys, chord.root.pitch_class))


def _thinner(ask: Ask) -> Iterator[Layout]:
    """Close positions of fewer and fewer notes, down to the lead alone, for all voices."""
    for size in range(ask.voices - 1, 0, -1):
        for notes in SHAPES["stack"](replace(ask, voices=size, drops=())):
            if len(notes) == size:
                yield (*notes, *(notes[-1],) * (ask.voices - size))


def _ask(
    chord: ChordTones, wanted: Recipe, voices: int, lead: Sounding | None, terms: Terms
) -> Ask:
    return Ask(
        chord=chord,
        voices=voices,
        lead=lead,
        low=_window(terms)[0],
        high=_window(terms)[1],
        drops=wanted.drops,
        forms=dict(wanted.forms).get(voices, ()),
        lowest=wanted.lowest,
        rootless=wanted.shape == "rootless",
    )


def _priced(notes: Layout, chord: ChordTones, wanted: Recipe, terms: Terms) -> Voicing:
    keys = tuple(key_of(n) for n in notes)
    if wanted.shape in ("unison", "octaves"):
        return Voicing(notes, keys, 0)
    return Voicing(notes, keys, price(keys, chord, terms) + _shape_price(wanted.shape, keys))


def _centred(found: Voicing, terms: Terms) -> Voicing:
    """The same voicing, paying for its distance from the middle of the compass."""
    low, high = _window(terms)
    drift = abs(sum(found.keys) // len(found.keys) - (low + high) // 2)
    return replace(found, price=found.price + prices()["sound"]["drift"] * drift)


def _window(terms: Terms) -> tuple[int, int]:
    """Where free voicings are looked for: the compass, inside what ears take for harmony."""
    return max(terms.low, 36), min(terms.high, 84)


def _shape_price(shape: str, keys: tuple[int, ...]) -> int:
    """What a shape has against departures from its own pattern."""
    gaps = [high - low for high, low in itertools.pairwise(keys)]
    table = prices()
    if shape == "stack":
        return max(0, keys[0] - keys[-1] - table["stack"]["span"]) // 2
    if shape == "spread":
        ideal = table["spread"]
        high = ideal["high"] * max(0, keys[-1] - ideal["highest"])
        uneven = (gaps[-1] - ideal["bottom"]) ** 2 + sum((g - ideal["gap"]) ** 2 for g in gaps[:-1])
        return uneven + high
    if shape == "fourths":
        mine = table["fourths"]
        thirds = sum(mine["third" if i else "top_third"] for i, g in enumerate(gaps) if g <= 4)
        return thirds + mine["tritone"] * gaps.count(6)
    if shape == "cluster":
        return table["cluster"]["skip"] * sum(g > 2 for g in gaps)
    return 0


def explain() -> tuple[Explained, ...]:
    """Every voicing with a line of description and an example spelled out by the program."""
    return tuple(_explained(recipes()[name], row["example"]) for name, row in _data().items())


def _explained(wanted: Recipe, example: Mapping[str, Any]) -> Explained:
    symbol: Harmony[Sounding] = Harmony(
        at=0,
        root=(LETTERS.index(example["root"]), 0),
        kind=example["kind"],
        degrees=tuple(Degree(*d) for d in example.get("degrees", ())),
    )
    chord = chord_tones(symbol)
    if chord is None:
        raise ValueError(f"the example of {wanted.name!r} has no chord")
    lead = Sounding.named(example["lead"]) if "lead" in example else None
    notes = voice(chord, lead, wanted.name, example["voices"])
    kind = " ".join([example["root"], example["kind"], *_changes(symbol)])
    names = tuple(str(n) for n in notes)
    return Explained(wanted.name, wanted.says, (wanted.fewest, wanted.most), kind, names)


def _changes(symbol: Harmony[Sounding]) -> Iterator[str]:
    for degree in symbol.degrees:
        mark = "#" * degree.alter if degree.alter > 0 else "b" * -degree.alter
        yield f"{mark}{degree.value}"
