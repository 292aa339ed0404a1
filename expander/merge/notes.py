"""The notes of one layer's bar from three versions, piece by piece.

The bar is cut where all three agree on a cut, and each piece taken from the version that
changed it. A cut never goes through a note or a tuplet of any version, so every piece is whole
music.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import cast

from msgspec import Struct

from expander.merge.choose import Choice, Verdict, choose
from expander.merge.grid import Layer
from expander.merge.same import Sign, event_sign
from expander.model.pitch import Written
from expander.model.plan import Events
from expander.model.score import Bar, Event
from expander.notate.beams import beamed
from expander.notate.rests import filled


class Piece(Struct, frozen=True):
    """A stretch of a layer, in ticks, with what was decided and its three versions."""

    start: int
    stop: int
    choice: Choice[tuple[Sign, ...]]
    old: Layer
    new: Layer
    edited: Layer


class Versions(Struct, frozen=True):
    """One layer's bar in the three versions, on staff `staff`; `sounds` names a part's sounds."""

    old: Layer
    new: Layer
    edited: Layer
    staff: int
    sounds: Mapping[str, str]


def pieces(versions: Versions, bar: Bar, grid: int, *, keep_edited: bool) -> list[Piece]:
    """The layer in pieces, each decided; neighbours with the same verdict are one piece."""
    layers = (versions.old, versions.new, versions.edited)
    found: list[Piece] = []
    for start, stop in _stretches(layers, bar.length, grid):
        old, new, edited = [_within(la, start, stop, bar.length) for la in layers]
        signs = [_signs(part, versions) for part in (old, new, edited)]
        choice = choose(signs[0], signs[1], signs[2], keep_edited=keep_edited)
        if found and found[-1].choice.verdict is choice.verdict:
            found[-1] = _joined(found[-1], stop, choice, (old, new, edited))
        else:
            found.append(Piece(start, stop, choice, old, new, edited))
    return found


def _joined(
    piece: Piece, stop: int, choice: Choice[tuple[Sign, ...]], more: Sequence[Layer]
) -> Piece:
    value = (*piece.choice.value, *choice.value)
    return Piece(
        piece.start,
        stop,
        Choice(value, choice.verdict),
        piece.old + more[0],
        piece.new + more[1],
        piece.edited + more[2],
    )


def _signs(events: Layer, versions: Versions) -> tuple[Sign, ...]:
    return tuple([event_sign(e, versions.staff, versions.sounds) for e in events if e.notes])


def _stretches(layers: Sequence[Layer], length: int, grid: int) -> Iterator[tuple[int, int]]:
    """Stretches between the places at which no version has a note or tuplet going on."""
    end = max([length, *(e.end for layer in layers for e in layer)])
    cuts = {0, end}
    for layer in layers:
        cuts |= {e.at for e in layer} | {e.end for e in layer}
    for layer in layers:
        whole = list(_wholes(layer, grid))
        cuts = {c for c in cuts if not any(start < c < stop for start, stop in whole)}
    return pairwise(sorted(cuts))


def _wholes(layer: Layer, grid: int) -> Iterator[tuple[int, int]]:
    """What is not to be cut: notes, and tuplets up to where they come out on a quarter."""
    begun: int | None = None
    for event in layer:
        if event.grace is not None:
            continue
        in_tuplet = event.value is not None and event.value.actual != event.value.normal
        if event.notes:
            yield event.at, event.end
        if not in_tuplet:
            begun = None
            continue
        begun = event.at if begun is None else begun
        yield begun, event.end
        if event.end % grid == 0:
            begun = None


def _within(layer: Layer, start: int, stop: int, length: int) -> Layer:
    """A layer's events in a stretch, grace notes with the note they lead to."""
    last = stop if stop < length else length + 1
    return tuple([e for e in layer if start <= e.at < last])


def laid(found: Sequence[Piece], versions: Versions, bar: Bar, grid: int, winner: str) -> Layer:
    """The layer as decided: a version's own where all of it is from one, else put together."""
    chosen = [_taken(piece, winner) for piece in found]
    if all(name != "new" for name, _ in chosen):
        return versions.edited
    if all(name != "edited" for name, _ in chosen):
        return versions.new
    events: list[Event[Written]] = []
    for (_, layer), piece in zip(chosen, found, strict=True):
        events += [e for e in layer if e.notes or (e.end <= piece.stop and not e.whole_bar)]
    return shaped(tuple(events), bar, grid)


def _taken(piece: Piece, winner: str) -> tuple[str, Layer]:
    """Whose version of a piece stands ("" where all agree), and its events."""
    verdict = piece.choice.verdict
    if verdict is Verdict.CHANGE or (verdict is Verdict.CONFLICT and winner == "new"):
        return "new", piece.new
    return ("" if verdict is None else "edited"), piece.edited


def shaped(layer: Layer, bar: Bar, grid: int) -> Layer:
    """A layer with its gaps filled and its beams whole."""
    full = filled(cast(Events, layer), bar, grid)
    return cast(Layer, beamed(full, bar, grid))
