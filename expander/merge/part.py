"""One part from three versions: its bars row by row, then what runs through them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import cast

from msgspec import Struct, field
from msgspec.structs import replace

from expander.merge.align import Row
from expander.merge.bar import BarMerge, Made, Version, Where
from expander.merge.choose import Account, Told, Verdict, choose
from expander.merge.facts import FactReader, Facts
from expander.merge.force import Places, Seams, State, fresh_changes, states
from expander.merge.losses import Kind, restored
from expander.merge.notes import shaped
from expander.merge.pairs import SpanMerge, SpanSides
from expander.merge.same import value_sign
from expander.merge.slots import on_slots, slots_for
from expander.merge.sounds import Band, one_band, with_sounds
from expander.merge.spans import PutBack, Stripped, strip
from expander.merge.ties import Loose, loose_ends
from expander.merge.ties import mended as whole_ties
from expander.merge.wording import value_in_words
from expander.model.pitch import Written
from expander.model.score import Bar, Clef, Event, Key, LayerId, Part, PartBar
from expander.notate.accidentals import with_accidentals
from expander.parts.inforce import keys_inside

OLD, NEW, EDITED = "old", "new", "edited"
SIDES = (OLD, NEW, EDITED)


class Trio(Struct, frozen=True):
    """The indices of one part in the three versions (None: not in it)."""

    old: int | None = None
    new: int | None = None
    edited: int | None = None


class Versions(Struct):
    """A part's versions on the same slots, without their spans; facts are read when asked for."""

    band: Band
    slots: tuple[LayerId, ...]
    laid: dict[str, Part[Written]]
    bare: dict[str, Stripped]
    sounds: dict[str, str]
    lost: tuple[Kind, ...] = ()
    readers: dict[str, FactReader] = field(default_factory=dict)
    read: dict[tuple[str, int], Facts] = field(default_factory=dict)

    def bar(self, side: str, index: int) -> PartBar[Written]:
        """A bar of a version, without spans."""
        return self.bare[side].part.bars[index]

    def facts(self, side: str, index: int) -> Facts:
        """The facts of a bar of a version."""
        found = self.read.get((side, index))
        if found is None:
            found = self.read[side, index] = self.readers[side].facts(self.bar(side, index))
        return found

    def has(self, side: str) -> bool:
        """Whether the part is in a version."""
        return side in self.laid

    def same(self, one: str, index: int, other: str, there: int) -> bool:
        """Whether a bar of one version is the same music as one of another."""
        mine, yours = self.bar(one, index), self.bar(other, there)
        return mine == yours or self.facts(one, index) == self.facts(other, there)


def versions_of(
    old: Part[Written] | None,
    new: Part[Written] | None,
    edited: Part[Written] | None,
    pairs: Iterable[tuple[int, int]],
) -> Versions:
    """A part's versions made comparable; `pairs` are the old bars with the same edited ones."""
    band = one_band(old, new, edited)
    given = {OLD: band.old, NEW: band.new, EDITED: band.edited}
    if band.old is not None and band.edited is not None:
        given[EDITED] = with_sounds(band.edited, band.old, pairs)
    parts = {side: part for side, part in given.items() if part is not None}
    first = [parts[side] for side in (EDITED, NEW, OLD) if side in parts]
    slots = slots_for(first)
    laid = {side: on_slots(part, slots) for side, part in parts.items()}
    bare = {side: strip(part) for side, part in laid.items()}
    sounds = {sound.id: sound.name for sound in band.sounds}
    readers = {side: FactReader(one.part, sounds) for side, one in bare.items()}
    return Versions(band, slots, laid, bare, sounds, (), readers)


class Frame(Struct, frozen=True):
    """What all parts share: the rows, the merged score's bars, the old versions' bar lengths.

    `forced` names for each row the version whose length all parts must have, "" where all agree.
    """

    rows: tuple[Row, ...]
    bars: tuple[Bar, ...]
    grid: int
    lengths: dict[str, tuple[int, ...]]
    forced: tuple[str, ...]


class PartMerge:
    """Merges one part. `name` is what it is called when something is told of it."""

    def __init__(self, name: str, versions: Versions, frame: Frame, account: Account) -> None:
        self.name = name
        self.versions = versions
        self.frame = frame
        self.account = account
        self.bars = BarMerge(versions.slots, versions.sounds, account)

    def merged(self) -> Part[Written]:
        """The part with its bars as they stand."""
        made = [self._row(index, row) for index, row in enumerate(self.frame.rows)]
        sources = [m.source for m in made]
        spans = self._spans()
        whole = self._untouched(sources, spans)
        bars = [self.versions.laid[EDITED].bars[r.edited or 0] for r in self.frame.rows] if whole \
            else [m.bar for m in made]  # fmt: skip
        if not whole:
            bars = self._put_back(bars, spans)
            bars = self._tied(bars, _touched(sources))
        bars = self._in_force(bars, sources)
        base = self.versions.laid.get(EDITED) or self.versions.laid[NEW]
        return replace(
            base, bars=tuple(bars), layers=self.versions.slots, sounds=self.versions.band.sounds
        )

    # Bars ------------------------------------------------------------------------------------

    def _row(self, index: int, row: Row) -> Made:
        at = {side: getattr(row, side) for side in SIDES if self.versions.has(side)}
        here = {side: bar for side, bar in at.items() if bar is not None}
        if len(here) == len(SIDES):
            return self._of_three(index, row)
        side = next((s for s in (EDITED, NEW) if s in here), None)
        if side is None:
            return Made(self._rests(index), "")
        bar = self.versions.bar(side, here[side])
        fits = self.frame.lengths[side][here[side]] == self.frame.bars[index].length
        return Made(bar if fits else self._fitted(bar, index), side if fits else "")

    def _of_three(self, index: int, row: Row) -> Made:
        assert row.old is not None and row.new is not None and row.edited is not None
        old, new, edited = (self.versions.bar(s, getattr(row, s)) for s in SIDES)
        told = self.versions.facts(EDITED, row.edited)
        facts = self.versions.facts(OLD, row.old)
        was = restored(told, facts, self.versions.lost) if self.versions.lost else told
        now = facts if new == old else self.versions.facts(NEW, row.new)
        where = Where(self.name, index, self.frame.bars[index], self.frame.grid)
        forced = self.frame.forced[index]
        if forced:
            return self._forced(forced, row, (facts, now, was), where)
        return self.bars.merged(
            Version(old, facts), Version(new, now), Version(edited, was), where,
            restored=was != told,
        )  # fmt: skip

    def _forced(self, side: str, row: Row, facts: Sequence[Facts], where: Where) -> Made:
        """The bar of the version that all parts must follow here; what it overrules is told."""
        old, new, edited = facts
        changed = {NEW: new != old, EDITED: edited != old}
        verdict = Verdict.EDIT if side == EDITED else Verdict.CHANGE
        told = Told(where.part, where.bar.number, None, "bar", index=where.row)
        self.account.note(verdict if changed[side] else None, lambda: told)
        other = EDITED if side == NEW else NEW
        if changed[other] and new != edited:
            message = f"the bar is as long as in the {_CALLED[side]}, so its music stands here"
            self.account.conflicts.append(
                Told(where.part, where.bar.number, None, "bar", _CALLED[EDITED], _CALLED[NEW],
                     "", side, message, where.row)
            )  # fmt: skip
        return Made(self.versions.bar(side, getattr(row, side)), side)

    def _rests(self, index: int) -> PartBar[Written]:
        rest: Event[Written] = Event(0, self.frame.bars[index].length, whole_bar=True)
        staves: set[int] = set()
        layers: list[tuple[Event[Written], ...]] = []
        for slot in self.versions.slots:
            layers.append((rest,) if slot.staff not in staves else ())
            staves.add(slot.staff)
        return PartBar(tuple(layers))

    def _fitted(self, bar: PartBar[Written], index: int) -> PartBar[Written]:
        """A bar made as long as its row: filled up with rests, or else silent and told."""
        shared, grid = self.frame.bars[index], self.frame.grid
        ends = [e.end for layer in bar.layers for e in layer if e.notes]
        if max(ends, default=0) > shared.length:
            self._remark(index, "bar", "does not fit the length the bar has now; rests are written")
            return self._rests(index)
        heard = [tuple([e for e in la if e.notes or e.grace]) for la in bar.layers]
        return replace(
            bar,
            layers=tuple([shaped(la, shared, grid) if la else () for la in heard])
            if any(heard) else self._rests(index).layers,
        )  # fmt: skip

    def _remark(self, index: int, what: str, message: str) -> None:
        bar = self.frame.bars[index]
        self.account.remarks.append(
            Told(self.name, bar.number, None, what, stands="neither", message=message, index=index)
        )

    # What runs through the bars --------------------------------------------------------------

    def _spans(self) -> SpanMerge:
        sides = {
            side: SpanSides(one.spans, self._rows_of(side), self.frame.lengths[side])
            for side, one in self.versions.bare.items()
        }
        return SpanMerge(sides, self.name, self.frame.bars, self.frame.grid, self.account)

    def _rows_of(self, side: str) -> list[int | None]:
        """The row of each bar of a version."""
        found: list[int | None] = [None] * len(self.frame.lengths[side])
        for index, row in enumerate(self.frame.rows):
            bar = getattr(row, side)
            if bar is not None:
                found[bar] = index
        return found

    def _untouched(self, sources: Sequence[str], spans: SpanMerge) -> bool:
        """Whether the part stands as the hand left it."""
        whole = all(source == EDITED for source in sources) and spans.all_edited
        return whole and not self.versions.bare[EDITED].loose

    def _put_back(self, bars: list[PartBar[Written]], spans: SpanMerge) -> list[PartBar[Written]]:
        staves = [slot.staff for slot in self.versions.slots]
        lengths = [bar.length for bar in self.frame.bars]
        work = PutBack(bars, staves, lengths)
        for span in work.put(spans.standing):
            spans.tell_lost(span)
        for side in (EDITED, NEW):
            if side in self.versions.bare:
                spans.tell_loose(side, self.versions.bare[side].loose)
        return work.bars

    def _tied(self, bars: list[PartBar[Written]], touched: Iterable[int]) -> list[PartBar[Written]]:
        slots = self.versions.slots
        done = whole_ties(bars, slots, self.frame.bars, frozenset(touched), self._loose_ties())
        for row, pitch in done.gone:
            self._remark(row, f"tie of {pitch}", "leads to no note of its pitch and is not written")
        return done.bars

    def _loose_ties(self) -> Loose:
        """Ends of ties that have no other end in the version they are from, in rows."""
        found: set[tuple[int, int, object]] = set()
        for side, part in self.versions.laid.items():
            rows = self._rows_of(side)
            lone = loose_ends(part.bars, self.versions.slots, self.frame.lengths[side])
            for bar, at, pitch in lone:
                row = rows[bar] if 0 <= bar < len(rows) else None
                if row is not None:
                    found.add((row, at, pitch))
        return frozenset(found)

    def _in_force(
        self, bars: list[PartBar[Written]], sources: Sequence[str]
    ) -> list[PartBar[Written]]:
        wanted, held = self._wanted()
        staves = max(slot.staff for slot in self.versions.slots)
        made = Seams(staves, wanted, self._fresh(sources, staves)).mended(bars, self.frame.bars)
        return [
            self._signed(bar, wanted[i])
            if not sources[i] or held[sources[i]][i] != [s.key for s in wanted[i]]
            else bar
            for i, bar in enumerate(made)
        ]

    def _fresh(self, sources: Sequence[str], staves: int) -> list[Places]:
        """For each row what the version its opening is from changes there."""
        by_side = {s: fresh_changes(part, staves) for s, part in self.versions.laid.items()}
        found: list[Places] = []
        for row, source in zip(self.frame.rows, sources, strict=True):
            side = source or EDITED
            bar = getattr(row, side) if side in by_side else None
            found.append(frozenset() if bar is None or not found else by_side[side][bar])
        return found

    def _wanted(self) -> tuple[list[tuple[State, ...]], dict[str, list[list[Key]]]]:
        """What is wanted in force in each row, and the keys each version has there."""
        staves = max(slot.staff for slot in self.versions.slots)
        given: dict[str, list[tuple[State, ...]]] = {}
        for side, part in self.versions.laid.items():
            bars = [getattr(row, side) for row in self.frame.rows]
            given[side] = cast(list[tuple[State, ...]], states(part, bars, staves))
        held = {side: [[s.key for s in row] for row in rows] for side, rows in given.items()}
        return Standing(given, self.name, self.frame.bars, self.account).rows(), held

    def _signed(self, bar: PartBar[Written], state: Sequence[State]) -> PartBar[Written]:
        """The bar with the accidentals it needs where its music is of several versions."""
        layers = list(bar.layers)
        part = replace(self.versions.laid[next(iter(self.versions.laid))], bars=(bar,))
        for number, staff in enumerate(state, 1):
            own = [i for i, slot in enumerate(self.versions.slots) if slot.staff == number]
            inside = keys_inside(part, 0, number)
            made = with_accidentals(tuple([layers[i] for i in own]), staff.key.fifths, inside)
            for index, layer in zip(own, made, strict=True):
                layers[index] = layer
        return replace(bar, layers=tuple(layers))


_CALLED = {NEW: "new score", EDITED: "edited score"}


def _touched(sources: Sequence[str]) -> set[int]:
    """Rows that are mixed or stand beside one of another version."""
    rows: set[int] = set()
    for index, source in enumerate(sources):
        if not source:
            rows |= {index - 1, index, index + 1}
        elif index and sources[index - 1] != source:
            rows |= {index - 1, index}
    return rows


class Standing:
    """What stands in force, staff by staff and row by row, of what each version has there.

    A transposition goes with the new score: other programs put the usual one of the instrument
    in its place, and by hand it changes only with all notes.
    """

    def __init__(
        self,
        given: dict[str, list[tuple[State, ...]]],
        name: str,
        bars: Sequence[Bar],
        account: Account,
    ) -> None:
        self.given = given
        self.name = name
        self.bars = bars
        self.account = account
        self.before: dict[tuple[int, type], tuple[object, ...]] = {}

    def rows(self) -> list[tuple[State, ...]]:
        """The state of every staff in every row."""
        if len(self.given) < len(SIDES):
            return self.given.get(EDITED) or self.given[NEW]
        return [
            tuple(self._state(row, *three) for three in enumerate(zip(*staves, strict=True)))
            for row, staves in enumerate(zip(*(self.given[s] for s in SIDES), strict=True))
        ]

    def _state(self, row: int, staff: int, three: tuple[State, State, State]) -> State:
        clef = self._value(row, staff, Clef, three)
        key = self._value(row, staff, Key, three)
        move = three[1].move
        return State(cast(Clef, clef), cast(Key, key), move)

    def _value(self, row: int, staff: int, kind: type, three: Sequence[State]) -> object:
        values = [state.of(kind) for state in three]
        signs = [value_sign(value) for value in values]
        choice = choose(*signs, keep_edited=self.account.keep_edited)
        if self.before.get((staff, kind), ()) != tuple(signs):
            self.before[staff, kind] = tuple(signs)
            self.account.note(choice.verdict, lambda: self._told(row, kind, signs))
        return values[1] if choice.value == signs[1] else values[2]

    def _told(self, row: int, kind: type, signs: Sequence[tuple[object, ...]]) -> Told:
        old, new, edited = (value_in_words(sign) for sign in signs)
        what = "clef" if kind is Clef else "key signature"
        return Told(self.name, self.bars[row].number, None, what, edited, new, old, index=row)
