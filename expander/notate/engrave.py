"""One bar of one staff: rests, beams, stems, written pitch and accidentals, in that order.

The order is the tuple `VOICE_PASSES`; each pass takes a voice and returns it, the same object
where nothing changed. What is engraved once serves every player who reads the same.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.memo import ByIdentity
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Bar, Event, Mark
from expander.notate.accidentals import with_accidentals
from expander.notate.beams import beamed, bracketed
from expander.notate.rests import filled
from expander.notate.spelling import Spelling, WrittenEvents, written_voice

STEMS = ("up", "down", "up", "down")


class Setting(Struct, frozen=True):
    """What decides how a voice is engraved, apart from its music.

    `voice` counts from 0; `stems` is true where several voices share the staff. `sounds` are the
    part's playback sounds as (name, id): drums by their names; one pair with an empty name is
    the sound of all notes; none where the part has only one.
    """

    bar: Bar
    grid: int
    spelling: Spelling
    voice: int = 0
    stems: bool = False
    sounds: tuple[tuple[str, str], ...] = ()


Pass = Callable[[Events, Setting], Events]


def _rests(events: Events, setting: Setting) -> Events:
    return filled(events, setting.bar, setting.grid)


def _beams(events: Events, setting: Setting) -> Events:
    return beamed(events, setting.bar, setting.grid)


def _brackets(events: Events, setting: Setting) -> Events:
    return bracketed(events, setting.grid)


def _stems(events: Events, setting: Setting) -> Events:
    if not setting.stems:
        return events
    stem = STEMS[setting.voice % len(STEMS)]
    return tuple([replace(e, stem=stem) if e.notes and e.stem != "none" else e for e in events])


def _sounds(events: Events, setting: Setting) -> Events:
    """Which playback sound each note names."""
    if not setting.sounds:
        return events
    ids = dict(setting.sounds)
    return tuple(_with_sound(e, ids) if e.notes else e for e in events)


def _with_sound(event: Event[Sounding], ids: Mapping[str, str]) -> Event[Sounding]:
    if "" in ids:
        mark = Mark("note", "instrument", (("id", ids[""]),))
        return replace(event, carried=(*event.carried, mark))
    notes = tuple(
        replace(n, pitch=replace(n.pitch, instrument=ids.get(n.pitch.instrument, "")))
        if isinstance(n.pitch, Drum)
        else n
        for n in event.notes
    )
    return replace(event, notes=notes)


VOICE_PASSES: tuple[Pass, ...] = (_rests, _beams, _brackets, _stems, _sounds)


class Engraver:
    """Engraves bars and keeps what it has engraved."""

    def __init__(self, grid: int) -> None:
        self._grid = grid
        self._voices: ByIdentity[WrittenEvents] = ByIdentity()
        self._staves: ByIdentity[tuple[WrittenEvents, ...]] = ByIdentity()
        self._ways: dict[Hashable, int] = {}

    def staff(
        self,
        voices: Sequence[Events],
        bar: Bar,
        spelling: Spelling,
        *,
        key_changes: tuple[tuple[int, int], ...] = (),
        sounds: tuple[tuple[str, str], ...] = (),
    ) -> tuple[WrittenEvents, ...]:
        """The voices of one staff in one bar, as written."""
        stems = len(voices) > 1
        way = self._way(bar, spelling, stems, sounds)
        written = tuple(
            [
                self._voices.get(
                    (events,),
                    (way, number),
                    lambda e=events, n=number: _engraved(  # type: ignore[misc]
                        e, Setting(bar, self._grid, spelling, n, stems, sounds)
                    ),
                )
                for number, events in enumerate(voices)
            ]
        )
        return self._staves.get(
            written,
            (spelling.shown, key_changes),
            lambda: with_accidentals(written, spelling.shown, key_changes),
        )

    def _way(
        self, bar: Bar, spelling: Spelling, stems: bool, sounds: tuple[tuple[str, str], ...]
    ) -> int:
        """A number for all that decides how a voice looks, apart from its music and its place."""
        metre = (bar.length, bar.nominal, bar.time, bar.implicit)
        return self._ways.setdefault((metre, spelling.interval, stems, sounds), len(self._ways))


def _engraved(events: Events, setting: Setting) -> WrittenEvents:
    for each in VOICE_PASSES:
        events = each(events, setting)
    return written_voice(events, setting.spelling.interval)
