"""What hangs on the notes: marks and syllables put on the events that were decided on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from expander.merge.facts import LYRIC, MARKS, FactKey, Facts, grace_places, hanging
from expander.merge.grid import Layer
from expander.merge.same import Sign, is_music, lyric_sign, pitch_sign
from expander.model.pitch import Written
from expander.model.score import Event, LayerId, Lyric, Mark, Note, PartBar

Layers = tuple[Layer, ...]


class Hangers:
    """Puts what was decided on a bar's events; `sources` are searched in order for the marks."""

    def __init__(
        self,
        chosen: Facts,
        sources: Sequence[PartBar[Written]],
        slots: Sequence[LayerId],
        sounds: Mapping[str, str],
    ) -> None:
        self.chosen = {k: v for k, v in chosen.items() if k[0] in (MARKS, LYRIC)}
        self.slots = slots
        self.sounds = sounds
        self.marks: dict[tuple[FactKey, Sign], tuple[Mark, Note[Written] | None]] = {}
        self.lyrics: dict[FactKey, list[Lyric]] = {}
        for bar in sources:
            self._gather(bar)
        self.left: set[tuple[FactKey, Sign]] = set()
        for key, value in self.chosen.items():
            self.left |= {(key, sign) for sign in _signs(value)}

    def _gather(self, bar: PartBar[Written]) -> None:
        for slot, layer in zip(self.slots, bar.layers, strict=True):
            for key, event in _keyed(layer, slot.staff):
                for sign, mark, note in hanging(event, self.sounds):
                    self.marks.setdefault((key, sign), (mark, note))
                for lyric in event.lyrics:
                    verse = (LYRIC, *key[1:], lyric.verse)
                    self.lyrics.setdefault(verse, []).append(lyric)

    def hung(self, layers: Layers) -> Layers:
        """The layers with just what was decided on each event; what found no event is left."""
        bare = [[self._kept(k, e) for k, e in _keyed(la, s.staff)] for s, la in self._zip(layers)]
        return tuple(
            [
                self._layer(layer, events, slot.staff)
                for (slot, layer), events in zip(self._zip(layers), bare, strict=True)
            ]
        )

    def _zip(self, layers: Layers) -> Iterator[tuple[LayerId, Layer]]:
        return zip(self.slots, layers, strict=True)

    def _kept(self, key: FactKey, event: Event[Written]) -> Event[Written]:
        """The event with those of its own marks and syllables that stand."""
        wanted = self.chosen.get(key, frozenset())
        assert isinstance(wanted, frozenset)
        stay = {id(m) for sign, m, _ in hanging(event, self.sounds) if sign in wanted}
        self.left -= {(key, sign) for sign, _, _ in hanging(event, self.sounds)}
        marks = tuple([m for m in event.marks if id(m) in stay or not is_music(m)])
        notes = tuple([_cut(n, stay) for n in event.notes])
        lyrics = tuple([ly for ly in event.lyrics if self._stands(key, ly)])
        return replace(event, marks=marks, notes=notes, lyrics=lyrics)

    def _stands(self, key: FactKey, lyric: Lyric) -> bool:
        if not lyric.text.strip():
            return True
        verse = (LYRIC, *key[1:], lyric.verse)
        stands = self.chosen.get(verse) == lyric_sign(lyric)
        if stands:
            self.left.discard((verse, lyric_sign(lyric)))
        return stands

    def _layer(self, before: Layer, events: list[Event[Written]], staff: int) -> Layer:
        made = tuple([self._given(k, e) for k, e in _keyed(tuple(events), staff)])
        return before if made == before else made

    def _given(self, key: FactKey, event: Event[Written]) -> Event[Written]:
        """The event with what it is still to get."""
        missing = [k for k in self.left if _is_for(k[0], key)]
        if not missing or not (event.notes or _only_on_rests(missing)):
            return event
        for place in sorted(missing, key=repr):
            given = self._with(event, *place)
            if given is not event:
                self.left.discard(place)
            event = given
        return event

    def _with(self, event: Event[Written], key: FactKey, sign: Sign) -> Event[Written]:
        if key[0] == LYRIC:
            found = [ly for ly in self.lyrics.get(key, ()) if lyric_sign(ly) == sign]
            return replace(event, lyrics=_in_order((*event.lyrics, found[0]))) if found else event
        if (key, sign) not in self.marks:
            return event
        mark, head = self.marks[key, sign]
        if head is None:
            return replace(event, marks=(*event.marks, mark))
        notes = tuple([_with_mark(n, mark) if _same(n, head) else n for n in event.notes])
        return event if notes == event.notes else replace(event, notes=notes)


def _signs(value: object) -> Iterator[Sign]:
    for sign in value if isinstance(value, frozenset) else [value]:
        assert isinstance(sign, tuple)
        yield sign


def _keyed(layer: Layer, staff: int) -> Iterator[tuple[FactKey, Event[Written]]]:
    for event, grace in zip(layer, grace_places(layer), strict=True):
        yield (MARKS, staff, event.at, grace), event


def _is_for(key: FactKey, event: FactKey) -> bool:
    """Whether a mark's or syllable's key is of an event's place."""
    return key[1:4] == event[1:4]


def _only_on_rests(missing: Sequence[tuple[FactKey, Sign]]) -> bool:
    return all(sign and sign[0] == "fermata" for _, sign in missing)


def _same(one: Note[Written], other: Note[Written]) -> bool:
    return pitch_sign(one.pitch, {}) == pitch_sign(other.pitch, {})


def _with_mark(note: Note[Written], mark: Mark) -> Note[Written]:
    return replace(note, marks=(*note.marks, mark))


def _cut(note: Note[Written], stay: set[int]) -> Note[Written]:
    marks = tuple([m for m in note.marks if id(m) in stay or not is_music(m)])
    return note if len(marks) == len(note.marks) else replace(note, marks=marks)


def _in_order(lyrics: tuple[Lyric, ...]) -> tuple[Lyric, ...]:
    return tuple(sorted(lyrics, key=lambda ly: ly.verse))
