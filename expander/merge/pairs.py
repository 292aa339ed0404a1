"""Spans of three versions merged as pairs of ends."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.choose import Account, Told
from expander.merge.same import Sign
from expander.merge.spans import End, Span, moved
from expander.merge.wording import NOTHING, beat_of, called
from expander.model.score import Bar


class SpanSides(Struct, frozen=True):
    """One version's spans, the row of each of its bars, and its bars' lengths."""

    spans: tuple[Span, ...]
    rows: Sequence[int | None]
    lengths: Sequence[int]


class SpanMerge:
    """The spans that stand: those both sides have, and those either has made.

    Where both changed one beginning or one end in different ways the winner's stands.
    """

    def __init__(
        self,
        sides: Mapping[str, SpanSides],
        name: str,
        bars: Sequence[Bar],
        grid: int,
        account: Account,
    ) -> None:
        self.name, self.bars, self.grid, self.account = name, bars, grid, account
        self.lost: list[Span] = []
        self.rows = {side: one.rows for side, one in sides.items()}
        self.cut = self._cut_in_old(sides.get("old"))
        self.keyed = {side: self._by_key(one, side) for side, one in sides.items()}
        edited = self.keyed.get("edited")
        new = self.keyed.get("new")
        old = self.keyed.get("old", {})
        if edited is None or new is None:
            found = {**(new or {}), **(edited or {})}
        else:
            found = self._merged(old, new, edited)
        self.standing: list[Span] = list(found.values())
        self.all_edited = edited is not None and not self.lost and found.keys() == edited.keys()
        for span in self.lost:
            self.tell_lost(span)

    @staticmethod
    def _cut_in_old(side: SpanSides | None) -> set[Sign]:
        """What is left of old spans that reached into a bar that is no more."""
        left = [_left_of(span, side) for span in side.spans] if side else []
        return {key for key in left if key is not None}

    def _by_key(self, side: SpanSides, name: str) -> dict[Sign, Span]:
        found: dict[Sign, Span] = {}
        for span in side.spans:
            key = span.key(side.rows, side.lengths)
            placed = moved(span, side.rows)
            if key is not None and placed is not None:
                while key in found:  # of two voices that are phrased alike
                    key = (*key, "too")
                found[key] = placed
            elif name != "old" and _left_of(span, side) not in {None, *self.cut}:
                self._half_cut(span, side.rows)
        return found

    def _half_cut(self, span: Span, rows: Sequence[int | None]) -> None:
        """A span made by hand, or new, that reaches into a bar that is no more."""
        for end in (span.first, span.last):
            row = rows[end.place.bar]
            if row is not None:
                placed = replace(end, place=replace(end.place, bar=row))
                self.lost.append(Span(placed, placed))

    def _merged(
        self, old: Mapping[Sign, Span], new: Mapping[Sign, Span], edited: Mapping[Sign, Span]
    ) -> dict[Sign, Span]:
        by_hand = [k for k in edited if k not in old and k not in new]
        afresh = [k for k in new if k not in old and k not in edited]
        rivals = {(k, r) for k in by_hand for r in afresh if _rivals(k, r)}
        losers = {k if self.account.winner == "new" else r for k, r in rivals}
        for hand, fresh in sorted(rivals, key=repr):
            self._tell_rivals(edited[hand], new[fresh])
        self._note_edits(old, edited, {k for k, _ in rivals})
        taken = set(self._changed(old, new)) - set(self._changed(old, edited))
        self.account.changes += len(taken) - len({r for _, r in rivals})
        kept = {k: s for k, s in edited.items() if (k in new or k not in old) and k not in losers}
        return {**kept, **{k: new[k] for k in afresh if k not in losers}}

    @staticmethod
    def _changed(old: Mapping[Sign, Span], other: Mapping[Sign, Span]) -> list[Sign]:
        """Spans that were made, moved or taken away; a moved one once, as it is now."""
        made = [k for k in other if k not in old]
        gone = [k for k in old if k not in other]
        return [*made, *(g for g in gone if not any(_rivals(k, g) for k in made))]

    def _note_edits(
        self, old: Mapping[Sign, Span], edited: Mapping[Sign, Span], disputed: set[Sign]
    ) -> None:
        for key in self._changed(old, edited):
            if key in disputed:
                continue
            span = edited.get(key) or old[key]
            before = next((old[g] for g in old if g == key or _moved(key, g, old, edited)), None)
            words = [self._in_words(s) if s else NOTHING for s in (before, edited.get(key))]
            told = replace(self._told(span), old=words[0], edited=words[1], stands="edited")
            self.account.edits.append(told)

    # Telling ---------------------------------------------------------------------------------

    def _tell_rivals(self, hand: Span, fresh: Span) -> None:
        told = self._told(hand)
        texts = [self._in_words(span) for span in (hand, fresh)]
        self.account.conflicts.append(
            replace(told, edited=texts[0], new=texts[1], stands=self.account.winner)
        )

    def tell_lost(self, span: Span) -> None:
        """A span one of whose ends has no place any more."""
        message = "has lost the note or bar at one of its ends, and is not written"
        told = replace(self._told(span), stands="neither", message=message)
        if told not in self.account.remarks:
            self.account.remarks.append(told)

    def tell_loose(self, side: str, ends: Iterable[End]) -> None:
        """Ends that had no partner in the version they are from."""
        for end in ends:
            row = self.rows[side][end.place.bar]
            if row is not None:
                placed = replace(end, place=replace(end.place, bar=row))
                message = f"has only one end in the {side} score, and is not written"
                told = self._told(Span(placed, placed))
                told = replace(told, stands="neither", message=message)
                if told not in self.account.remarks:
                    self.account.remarks.append(told)

    def _told(self, span: Span) -> Told:
        place = span.first.place
        bar = self.bars[place.bar]
        beat = beat_of(place.at, bar, self.grid)
        return Told(self.name, bar.number, beat, called(span.name), index=place.bar)

    def _in_words(self, span: Span) -> str:
        first, last = span.first.place, span.last.place
        kind = span.kind or called(span.name)
        ends = [
            f"bar {self.bars[p.bar].number} beat {beat_of(p.at, self.bars[p.bar], self.grid):g}"
            for p in (first, last)
        ]
        return f"{kind} from {ends[0]} to {ends[1]}"


def _moved(key: Sign, before: Sign, old: Mapping[Sign, Span], edited: Mapping[Sign, Span]) -> bool:
    """Whether a span made by hand is one that was there, with another beginning or end."""
    return key not in old and before not in edited and _rivals(key, before)


def _left_of(span: Span, side: SpanSides) -> Sign | None:
    """The end of a span that is in a row where the other is not."""
    for which, end in (("first", span.first), ("last", span.last)):
        row = side.rows[end.place.bar]
        if row is not None:
            return (span.name, which, row, end.place.at, end.place.grace, end.place.staff)
    return None


def _rivals(one: Sign, other: Sign) -> bool:
    """Whether two spans are of one name and share one end."""
    return one[0] == other[0] and (one[2] == other[2] or one[3] == other[3])
