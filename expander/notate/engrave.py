"""One bar of one staff: rests, beams, stems, written pitch and accidentals, in that order.

The order is the tuple `VOICE_PASSES`; each pass takes a voice and returns it, the same object
where nothing changed. What is engraved once serves every player who reads the same.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping

from msgspec import Struct
from msgspec.structs import replace

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
    stem = STEMS[setting.voice]
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
    """Engraves bars for all parts; what is read alike is engraved once."""

    def __init__(self, grid: int) -> None:
        self._grid = grid
        self._manners: dict[Hashable, Manner] = {}

    def manner(
        self, bar: Bar, spelling: Spelling, sounds: tuple[tuple[str, str], ...] = ()
    ) -> Manner:
        """How bars like this one are engraved for those who read them so."""
        metre = (bar.length, bar.nominal, bar.time, bar.implicit)
        name = (metre, spelling.interval, spelling.shown, sounds)
        if name not in self._manners:
            self._manners[name] = Manner(Setting(bar, self._grid, spelling, sounds=sounds))
        return self._manners[name]


class Manner:
    """Engraves bars that are alike in all but their music, and keeps what it has engraved.

    Music is known by its identity, and held.
    """

    def __init__(self, setting: Setting) -> None:
        self._alone = setting
        self._places = [replace(setting, voice=n, stems=True) for n in range(len(STEMS))]
        self._shown = setting.spelling.shown
        self._voices: dict[tuple[int, int], tuple[Events, WrittenEvents]] = {}
        self._staves: dict[tuple[int, ...], tuple[object, tuple[WrittenEvents, ...]]] = {}

    def staff(
        self, voices: tuple[Events, ...], keys: tuple[tuple[int, int], ...] = ()
    ) -> tuple[WrittenEvents, ...]:
        """The voices of one staff in one bar, as written; `keys` change in it, (tick, fifths)."""
        if keys:
            return with_accidentals(self._written(voices), self._shown, keys)
        name = tuple(map(id, voices))
        found = self._staves.get(name)
        if found is None:
            written = with_accidentals(self._written(voices), self._shown)
            found = self._staves[name] = (voices, written)
        return found[1]

    def _written(self, voices: tuple[Events, ...]) -> tuple[WrittenEvents, ...]:
        if len(voices) == 1:
            return (_engraved(voices[0], self._alone),)
        return tuple([self._voice(events, number) for number, events in enumerate(voices)])

    def _voice(self, events: Events, number: int) -> WrittenEvents:
        """One of several voices, which may share the staff with others elsewhere."""
        place = number % len(STEMS)
        found = self._voices.get((id(events), place))
        if found is None:
            written = _engraved(events, self._places[place])
            found = self._voices[id(events), place] = (events, written)
        return found[1]


def _engraved(events: Events, setting: Setting) -> WrittenEvents:
    for each in VOICE_PASSES:
        events = each(events, setting)
    return written_voice(events, setting.spelling.interval)
