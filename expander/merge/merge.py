"""Three versions of a score into one: as first written, as written now, as edited by hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.errors import BadUsage
from expander.merge.align import Pairs, Row, align, rows
from expander.merge.choose import Account, Told
from expander.merge.clip import clipped
from expander.merge.grid import on_one_grid
from expander.merge.head import Group, merged_brackets, merged_header, named_part
from expander.merge.losses import Kind, lost_kinds
from expander.merge.matching import Matched, Side, match
from expander.merge.order import moved_by_hand, part_order, system_bars, trios
from expander.merge.part import EDITED, NEW, OLD, Frame, PartMerge, Trio, Versions, versions_of
from expander.merge.rewritten import edited_only, is_rewritten
from expander.merge.shapes import ScoreShape, Shapes
from expander.merge.wording import listed, lost_in_words
from expander.model.pitch import Written
from expander.model.score import Document, Part

_SMALL = 8
"""Bars of music of all parts in a piece that is too short to tell whether scores are akin."""

_AKIN, _AKIN_RHYTHM = 0.1, 0.6
"""The share of bars, or of their rhythms, that versions of one score have in common at least."""


class Merged(Struct, frozen=True):
    """The merged score, and what there is to say about it.

    `edits` are what the hand changed and stands; `changes` counts what the new score brought.
    `conflicts` are what both changed in different ways; `remarks` what could not be carried over
    and what was taken for granted.
    """

    score: Document
    edits: tuple[Told, ...]
    changes: int
    conflicts: tuple[Told, ...]
    remarks: tuple[Told, ...]


def merge(old: Document, new: Document, edited: Document, *, keep_edited: bool = False) -> Merged:
    """Carry what changed from `old` to `new` into `edited`, where `old` was changed by hand.

    Where both changed the same thing in different ways the new version stands, or with
    `keep_edited` the hand's, and the other is told. See `same` for what counts as a change.
    Beams, stems and other looks of a bar go with the version it is from; places on the page are
    not read.
    Raises BadUsage where `old` is evidently not what the others come from.
    """
    first, second, third = on_one_grid((old, new, edited))
    work = _Merge(first, second, third, Account(keep_edited))
    score = work.score()
    account = work.account
    return Merged(
        score,
        tuple(account.edits),
        account.changes,
        tuple(account.conflicts),
        tuple(account.remarks),
    )


class _Merge:
    def __init__(self, old: Document, new: Document, edited: Document, account: Account) -> None:
        self.account = account
        shapes = Shapes()
        self.shapes = {OLD: shapes.of(old), NEW: shapes.of(new), EDITED: shapes.of(edited)}
        self.old, self.new = old, new
        to_new, to_edited = self._matched(old, new, NEW), self._matched(old, edited, EDITED)
        self.to_new = self._pairs(to_new, NEW)
        self.to_edited = self._pairs(to_edited, EDITED)
        self.edited = clipped(edited, old, self.to_edited)
        counts = (len(old.parts), len(new.parts), len(edited.parts))
        self.trios = trios(counts, to_new, to_edited)
        self.versions = [self._versions(trio) for trio in self.trios]
        self._tell_guesses(to_new, to_edited)
        self._tell_order()

    def score(self) -> Document:
        """The merged score."""
        self._find_losses()
        frame = self._frame()
        staying = self._staying()
        order = part_order(self.trios, staying)
        if moved_by_hand(self.trios, staying):
            self._edit("", "parts", "are in another order")
        parts = tuple([self._part(index, frame) for index in order])
        return Document(
            frame.grid,
            merged_header(self.old.header, self.new.header, self.edited.header, self.account),
            frame.bars,
            parts,
            merged_brackets(
                self._groups(OLD), self._groups(NEW), self._groups(EDITED), order, self.account
            ),
        )  # fmt: skip

    # Parts -----------------------------------------------------------------------------------

    def _matched(self, old: Document, other: Document, side: str) -> Matched:
        mine, yours = self.shapes[OLD], self.shapes[side]
        found = match(Side(old.parts, mine.parts()), Side(other.parts, yours.parts()))
        if not _akin(mine, yours, found):
            raise BadUsage(
                f"the first score is not what the {_ORDINAL[side]} comes from: hardly a bar of "
                "its music is in it.",
                hint="Give the score as it was first written, the score as it is written now, and "
                "the edited one, in this order, all at concert pitch or all transposed.",
            )
        return found

    def _versions(self, trio: Trio) -> Versions:
        given: list[Part[Written] | None] = [
            None if index is None else score.parts[index]
            for score, index in (
                (self.old, trio.old), (self.new, trio.new), (self.edited, trio.edited)
            )
        ]  # fmt: skip
        return versions_of(given[0], given[1], given[2], self.to_edited)

    def _tell_guesses(self, to_new: Matched, to_edited: Matched) -> None:
        for matched, score, what in (
            (to_new, self.new, "new"),
            (to_edited, self.edited, "edited"),
        ):
            for mine, yours in matched.guessed:
                name = self.old.parts[mine].name
                other = score.parts[yours].name
                message = f"was taken for {other!r} of the {what} score, by its place alone"
                self._remark(name, "part", message)

    def _tell_order(self) -> None:
        """Say so where the scores seem to be given in another order than asked for."""
        far, near = self._apart(OLD, EDITED), self._apart(NEW, EDITED)
        if far > near > 0:
            self._remark(
                "", "the edited score", "is nearer to the new one than to the old: " + _ASK
            )
        elif self._as_written(EDITED) > _SURELY > self._as_written(NEW):
            message = "seems to have been saved by another program, the third by this: " + _ASK
            self._remark("", "the second score", message)

    def _triples(self) -> Iterator[tuple[Trio, int, int, int]]:
        """Every part and bar that all three scores have."""
        new_at, edited_at = dict(self.to_new), dict(self.to_edited)
        both = [(o, n, edited_at[o]) for o, n in new_at.items() if o in edited_at]
        for trio in self.trios:
            if None not in (trio.old, trio.new, trio.edited):
                yield from ((trio, *bars) for bars in both)

    def _apart(self, one: str, other: str) -> int:
        """In how many bars of parts two scores have other notes."""
        sides = (OLD, NEW, EDITED)
        mine, yours = self.shapes[one].notes, self.shapes[other].notes
        return sum(
            mine[getattr(trio, one)][bars[sides.index(one)]]
            != yours[getattr(trio, other)][bars[sides.index(other)]]
            for trio, *bars in self._triples()
        )

    def _as_written(self, side: str) -> float:
        """Of the bars with the same music, the share that has it in the same form too, 0 to 1."""
        pairs = self.to_new if side == NEW else self.to_edited
        both = [v for v in self.versions if v.has(OLD) and v.has(side)]
        same = [(v, o, i) for v in both for o, i in pairs if v.same(OLD, o, side, i)]
        equal = sum(v.bar(OLD, o).layers == v.bar(side, i).layers for v, o, i in same)
        return equal / len(same) if len(same) > _SMALL else 1.0

    def _remark(self, part: str, what: str, message: str, bar: str = "", index: int = -1) -> None:
        told = Told(part, bar, None, what, stands="neither", message=message, index=index)
        self.account.remarks.append(told)

    def _staying(self) -> list[int]:
        """The parts of the merged score; what became of the others is counted and told."""
        return [i for i, trio in enumerate(self.trios) if self._stays(i, trio)]

    def _stays(self, index: int, trio: Trio) -> bool:
        if trio.old is None:
            self.account.changes += trio.new is not None
            if trio.edited is not None:
                self._edit(self.edited.parts[trio.edited].name, "part", "was added")
            return True
        name = self.old.parts[trio.old].name
        if trio.new is None and trio.edited is not None:
            return self._outlives(index, name)
        if trio.edited is None and trio.new is not None:
            self._edit(name, "part", "was taken out")
            if self._differs(index, NEW):
                message = "was taken out by hand and stays out; the new score changes it"
                self._remark(name, "part", message)
            return False
        return trio.new is not None

    def _outlives(self, index: int, name: str) -> bool:
        """Whether a part that the new score does not have stays: where the hand changed it."""
        if not self._differs(index, EDITED):
            self.account.changes += 1
            return False
        message = "is not in the new score; it stays, as it was changed by hand"
        self._remark(name, "part", message)
        self._edit(name, "part", "was changed")
        return True

    def _edit(self, part: str, what: str, message: str, bar: str = "") -> None:
        self.account.edits.append(Told(part, bar, None, what, stands=EDITED, message=message))

    def _differs(self, index: int, side: str) -> bool:
        """Whether a part differs from the old score in any bar both have."""
        pairs = self.to_new if side == NEW else self.to_edited
        versions = self.versions[index]
        return any(not versions.same(OLD, o, side, there) for o, there in pairs)

    def _part(self, index: int, frame: Frame) -> Part[Written]:
        versions, trio = self.versions[index], self.trios[index]
        given = [versions.laid.get(side) for side in (OLD, NEW, EDITED)]
        if trio.new is None:
            given[0] = None
        named = named_part(given[0], given[1], given[2], self.account)
        if is_rewritten(versions, self.to_edited):
            self._tell_rewritten(index, named.name)
            versions = edited_only(versions)
        made = PartMerge(named.name, versions, frame, self.account).merged()
        return replace(named, bars=made.bars, layers=made.layers, sounds=made.sounds,
                       staves=made.staves)  # fmt: skip

    def _tell_rewritten(self, index: int, name: str) -> None:
        message = "is at another pitch in the edited score and stays as it is there"
        if self.trios[index].new is not None and self._differs(index, NEW):
            message += "; what is new in it is not in the merged score"
        self._edit(name, "part", "is at another pitch")
        self._remark(name, "part", message)

    def _groups(self, side: str) -> list[Group]:
        score = {OLD: self.old, NEW: self.new, EDITED: self.edited}[side]
        places = {getattr(trio, side): i for i, trio in enumerate(self.trios)}
        return [
            (frozenset(places[p] for p in range(b.first, b.last + 1)), b) for b in score.brackets
        ]

    # Bars ------------------------------------------------------------------------------------

    def _pairs(self, matched: Matched, side: str) -> Pairs:
        both = [(o, n) for o, n in enumerate(matched.to) if n is not None]
        mine = self.shapes[OLD].bars([o for o, _ in both])
        return align(mine, self.shapes[side].bars([n for _, n in both]))

    def _frame(self) -> Frame:
        ends = (len(self.new.bars), len(self.edited.bars))
        every = rows(len(self.old.bars), self.to_new, self.to_edited, ends, self._alike)
        kept = tuple([row for row in every if self._is_kept(row)])
        keep = self.account.keep_edited
        bars, forced = system_bars(kept, self.old, self.new, self.edited, keep_edited=keep)
        lengths = {
            side: tuple([bar.length for bar in score.bars])
            for side, score in ((OLD, self.old), (NEW, self.new), (EDITED, self.edited))
        }
        return Frame(kept, bars, self.old.grid, lengths, forced)

    def _alike(self, new: int, edited: int) -> bool:
        """Whether a bar of the new score has the notes of one of the edited score."""
        mine, yours = self.shapes[NEW].notes, self.shapes[EDITED].notes
        return all(
            mine[trio.new][new] == yours[trio.edited][edited]
            for trio in self.trios
            if trio.new is not None and trio.edited is not None
        )

    def _is_kept(self, row: Row) -> bool:
        """Whether a bar is in the merged score: one that either side cut is not."""
        if row.old is None:
            self.account.changes += row.new is not None and row.edited is None
            if row.edited is not None:
                self._edit("", "bar", "was put in", self.edited.bars[row.edited].number)
            return True
        if row.new is not None and row.edited is not None:
            return True
        if row.new is None and row.edited is None:
            return False
        cut, other = (NEW, EDITED) if row.new is None else (EDITED, NEW)
        names = self._changed_in(row.old, other, getattr(row, other))
        stays = bool(names) and cut == NEW and self.account.keep_edited
        if cut == EDITED or stays:
            how = "was changed" if stays else "was cut"
            self._edit("", "bar", how, self.old.bars[row.old].number)
        self.account.changes += cut == NEW and not stays
        if names:
            self._tell_cut(row.old, cut, names, stays=stays)
        return stays

    def _changed_in(self, old: int, side: str, there: int) -> list[str]:
        """The parts in which a bar differs from the old score's."""
        return [
            self.old.parts[trio.old].name
            for trio, versions in zip(self.trios, self.versions, strict=True)
            if trio.old is not None
            and getattr(trio, side) is not None
            and not versions.same(OLD, old, side, there)
        ]

    def _tell_cut(self, old: int, cut: str, names: Sequence[str], *, stays: bool) -> None:
        label = self.old.bars[old].number
        where = "the new score" if cut == NEW else "the edited score"
        who = "by hand" if cut == NEW else "in the new score"
        end = "it stays" if stays else "it is cut"
        message = f"is cut in {where} and was changed {who} in {listed(names[:4])}"
        message += f" and {len(names) - 4} more parts" * (len(names) > 4)
        stands = EDITED if stays or cut == EDITED else NEW
        self.account.conflicts.append(
            Told("", label, None, "bar", stands=stands, message=f"{message}; {end}")
        )

    # Losses ----------------------------------------------------------------------------------

    def _find_losses(self) -> None:
        lost = lost_kinds(
            (versions.facts(OLD, o), versions.facts(EDITED, e))
            for versions in self.versions
            if versions.has(OLD) and versions.has(EDITED)
            for o, e in self.to_edited
        )
        for kind, count in lost.items():
            message = (
                f"are not in the edited score at all, where the old one has {count}: taken to be "
                "lost in saving, and kept"
            )
            self._remark("", lost_in_words(kind), message)
        kinds: tuple[Kind, ...] = tuple(lost)
        for versions in self.versions:
            versions.lost = kinds


_ASK = "are the files named in the order old, new, edited?"
_SURELY = 0.8
"""The share of bars in the form this program writes that tells its scores from others."""

_ORDINAL = {NEW: "second", EDITED: "third"}


def _akin(one: ScoreShape, other: ScoreShape, matched: Matched) -> bool:
    """Whether two scores are versions of one."""
    mine, yours = one.parts(), other.parts()
    total = max(sum(part.total() for part in side) for side in (mine, yours))
    both = [(o, n) for o, n in enumerate(matched.to) if n is not None]
    if not both or total <= _SMALL:
        return bool(both)
    common = sum((mine[o] & yours[n]).total() for o, n in both)
    if common >= _AKIN * total:
        return True
    beats = [(one.rhythm(o), other.rhythm(n)) for o, n in both]
    return sum((a & b).total() for a, b in beats) >= _AKIN_RHYTHM * total
