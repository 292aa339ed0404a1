"""One bar of one part from three versions, aspect by aspect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.choose import Account, Choice, Told, Verdict, choose, choose_set
from expander.merge.facts import (
    DIRECTION,
    LYRIC,
    MARKS,
    NOTES,
    SETS,
    SYMBOL,
    FactKey,
    Facts,
)
from expander.merge.grid import Layer
from expander.merge.hang import Hangers
from expander.merge.notes import Piece, Versions, laid, pieces
from expander.merge.signs import put_together, with_breaks
from expander.merge.voices import in_order, regrouped
from expander.merge.wording import beat_of, in_words, notes_in_words, place_of, thing
from expander.model.pitch import Written
from expander.model.score import Bar, LayerId, PartBar

_ONE_ONLY = frozenset({"dynamics", "metronome", "rehearsal"})
_NONE: frozenset[object] = frozenset()


class Version(Struct, frozen=True):
    """A bar of a part in one version, its facts, and its facts as they came (see `losses`)."""

    bar: PartBar[Written]
    facts: Facts


class Where(Struct, frozen=True):
    """The place of a bar of a part in the merged score, for telling."""

    part: str
    row: int
    bar: Bar
    grid: int


class Made(Struct, frozen=True):
    """A merged bar and the version it is wholly from ("edited", "new"), "" where it is mixed."""

    bar: PartBar[Written]
    source: str


class BarMerge:
    """Merges the bars of one part. `slots` are its layers, `sounds` the names of its sounds."""

    def __init__(
        self, slots: Sequence[LayerId], sounds: Mapping[str, str], account: Account
    ) -> None:
        self.slots = slots
        self.sounds = sounds
        self.account = account

    def merged(
        self, old: Version, new: Version, edited: Version, where: Where, *, restored: bool
    ) -> Made:
        """The bar as it stands. With `restored` the edited facts hold more than its bar does."""
        if edited.facts == old.facts == new.facts and not restored:
            return Made(edited.bar, "edited")
        keys = {**edited.facts, **new.facts, **old.facts}
        choices = {
            key: self._choice(key, old.facts, new.facts, edited.facts)
            for key in keys
            if key[0] != NOTES
        }
        self._tell(choices, (old.facts, new.facts, edited.facts), where)
        layers, sources = self._layers(old, new, edited, where)
        if not restored and new.facts in (old.facts, edited.facts):
            return Made(edited.bar, "edited")
        if sources <= {"new"} and old.facts == edited.facts and new.facts != old.facts:
            return Made(with_breaks(new.bar, edited.bar), "new")
        chosen = {key: c.value for key, c in choices.items() if c.value not in (None, _NONE)}
        return Made(self._built(chosen, layers, (edited.bar, new.bar, old.bar), where), "")

    # Deciding --------------------------------------------------------------------------------

    def _choice(self, key: FactKey, old: Facts, new: Facts, edited: Facts) -> Choice[object]:
        keep = self.account.keep_edited
        if key[0] not in SETS:
            return choose(old.get(key), new.get(key), edited.get(key), keep_edited=keep)
        values = [facts.get(key, _NONE) for facts in (old, new, edited)]
        single = key[0] == SYMBOL or (key[0] == DIRECTION and key[3] in _ONE_ONLY)
        o, n, e = (v if isinstance(v, frozenset) else frozenset({v}) for v in values)
        found = choose_set(o, n, e, single=single, keep_edited=keep)
        return Choice(found.value, found.verdict)

    def _tell(
        self, choices: Mapping[FactKey, Choice[object]], facts: Sequence[Facts], where: Where
    ) -> None:
        for key, choice in choices.items():
            if choice.verdict is not None:
                self.account.note(choice.verdict, partial(_told_fact, where, key, facts))

    # Notes -----------------------------------------------------------------------------------

    def _layers(
        self, old: Version, new: Version, edited: Version, where: Where
    ) -> tuple[tuple[Layer, ...], set[str]]:
        """The layers, staff by staff, and the versions they are from ("" for mixed ones)."""
        layers: list[Layer] = [()] * len(self.slots)
        sources: set[str] = set()
        for staff in dict.fromkeys(slot.staff for slot in self.slots):
            own = [i for i, slot in enumerate(self.slots) if slot.staff == staff]
            made, source = self._staff(staff, own, (old, new, edited), where)
            sources.add(source)
            for index, layer in zip(own, made, strict=True):
                layers[index] = layer
        return tuple(layers), sources - {"any"}

    def _staff(
        self, staff: int, own: Sequence[int], versions: Sequence[Version], where: Where
    ) -> tuple[list[Layer], str]:
        _, new, edited = versions
        o, n, e = (v.facts.get((NOTES, staff), ()) for v in versions)
        choice = choose(o, n, e, keep_edited=self.account.keep_edited)
        if choice.verdict is not Verdict.CONFLICT:
            self.account.note(choice.verdict, lambda: self._told_staff(own, versions, where))
            from_new = choice.verdict is Verdict.CHANGE
            source = "any" if choice.verdict is None else "new" if from_new else "edited"
            bar = (new if from_new else edited).bar
            return [bar.layers[i] for i in own], source
        before, fresh, by_hand = ([v.bar.layers[i] for i in own] for v in versions)
        fresh, by_hand = in_order(before, fresh), in_order(before, by_hand)
        if regrouped(before, fresh) or regrouped(before, by_hand):
            self.account.note(choice.verdict, lambda: self._told_staff(own, versions, where))
            winner = self.account.winner
            return (fresh if winner == "new" else by_hand), winner
        found = [
            self._pieces(Versions(*three, staff, self.sounds), where)
            for three in zip(before, fresh, by_hand, strict=True)
        ]
        return [self._laid(row, where) for row in found], ""

    def _pieces(self, layers: Versions, where: Where) -> list[tuple[Piece, Versions]]:
        found = pieces(layers, where.bar, where.grid, keep_edited=self.account.keep_edited)
        for piece in found:
            three = (piece.old, piece.new, piece.edited)
            self.account.note(
                piece.choice.verdict,
                partial(_told_notes, where, piece.start, three),
            )
        return [(piece, layers) for piece in found]

    @staticmethod
    def _told_staff(own: Sequence[int], versions: Sequence[Version], where: Where) -> Told:
        """The notes of a staff, all layers of it one after the other."""
        three = [tuple([e for i in own for e in v.bar.layers[i]]) for v in versions]
        return _told_notes(where, None, three)

    def _laid(self, row: Sequence[tuple[Piece, Versions]], where: Where) -> Layer:
        found = [piece for piece, _ in row]
        return laid(found, row[0][1], where.bar, where.grid, self.account.winner)

    # Putting together ------------------------------------------------------------------------

    def _built(
        self,
        chosen: Facts,
        layers: tuple[Layer, ...],
        sources: Sequence[PartBar[Written]],
        where: Where,
    ) -> PartBar[Written]:
        hangers = Hangers(chosen, sources, self.slots, self.sounds)
        dressed = hangers.hung(layers)
        for key, sign in sorted(hangers.left, key=repr):
            self._tell_lost(key, sign, where)
        bar = put_together(chosen, sources, sources[0])
        return replace(bar, layers=dressed)

    def _tell_lost(self, key: FactKey, sign: object, where: Where) -> None:
        """A mark or syllable whose note is no more."""
        value = frozenset({sign}) if key[0] == MARKS else sign
        what = "words sung" if key[0] == LYRIC else "mark"
        told = _told(where, place_of(key), what, ("", "", in_words(key, value)))
        message = "has no note to stand on any more, and is not written"
        self.account.remarks.append(replace(told, stands="neither", message=message))


def _told(where: Where, at: int | None, what: str, words: Sequence[str]) -> Told:
    """Something at a place, with its old, new and edited versions in words."""
    beat = None if at is None else beat_of(at, where.bar, where.grid)
    old, new, edited = words
    return Told(where.part, where.bar.number, beat, what, edited, new, old, index=where.row)


def _told_fact(where: Where, key: FactKey, facts: Sequence[Facts]) -> Told:
    return _told(where, place_of(key), thing(key), [in_words(key, f.get(key)) for f in facts])


def _told_notes(where: Where, at: int | None, layers: Sequence[Layer]) -> Told:
    words = [notes_in_words(layer, where.bar, where.grid) for layer in layers]
    return _told(where, at, "notes", words)
