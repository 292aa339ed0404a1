"""Whose a mark is where several voices share a staff: it names its voice unless others have it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.score import Direction, Mark
from expander.notate.lanes import Lane
from expander.notate.sharing import APART, Sharing

Said = Mapping[int, Sequence[Direction]]


class Speaker(Struct, frozen=True):
    """A lane with what it says itself (`own`) and what it would say alone (`all`), by bar."""

    lane: Lane
    own: Said
    all: Said


def with_voices(
    speakers: Sequence[Speaker], shared: Mapping[int, Sharing], first: int
) -> list[dict[int, list[Direction]]]:
    """What each lane of one staff says, with the name of its voice where it speaks for it alone.

    `first` is the number of the staff's first voice.
    """
    return [
        {
            bar: [_named(d, number, bar, speakers, shared.get(bar), first) for d in directions]
            for bar, directions in speaker.own.items()
        }
        for number, speaker in enumerate(speakers)
    ]


def _named(
    direction: Direction,
    number: int,
    bar: int,
    speakers: Sequence[Speaker],
    sharing: Sharing | None,
    first: int,
) -> Direction:
    if sharing is None or sharing.layout != APART or len(sharing.voices) < 2:
        return direction
    voice = next(i for i, owners in enumerate(sharing.owners) if number in owners)
    others = [i for i in sharing.playing if i not in sharing.owners[voice]]
    if not others or any(_says(speakers[i].all.get(bar, ()), direction) for i in others):
        return direction
    return replace(direction, voice=str(first + voice))


def _says(said: Sequence[Direction], direction: Direction) -> bool:
    wanted = [_plain(mark) for mark in direction.marks]
    here = [_plain(m) for d in said if d.at == direction.at for m in d.marks]
    return all(mark in here for mark in wanted)


def _plain(mark: Mark) -> tuple[str, str, str, str]:
    """A mark without its number, which is dealt out anew for each lane."""
    return mark.name, mark.get("type"), mark.text, mark.inner
