"""From a full score to a part for every player."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.checks.tempo import Clock, clock_of
from expander.model.finding import Finding, Severity
from expander.model.pitch import Written
from expander.model.score import (
    Bar,
    Direction,
    Document,
    Key,
    LayerId,
    Part,
    PartBar,
    Score,
)
from expander.notate.accidentals import with_accidentals
from expander.parts.account import Account, account
from expander.parts.account import findings as account_findings
from expander.parts.apart import Taken, take_apart
from expander.parts.common import Common, common_of, with_common
from expander.parts.cues import Cued, Prompter
from expander.parts.desks import for_desk
from expander.parts.inforce import in_force, keys_inside
from expander.parts.layout import Layout
from expander.parts.lines import sources_of
from expander.parts.paging import laid_out
from expander.parts.readers import Reader, Stand, file_stem, readers_of
from expander.parts.rests import (
    full,
    rest_runs,
    with_bar_rests,
    with_holds,
    with_long_rests,
    without_idle_symbols,
)
from expander.parts.signs import Staff, dealt_signs
from expander.parts.spans import renumbered
from expander.parts.tacet import with_tacet
from expander.parts.title import part_header
from expander.parts.written import as_written, at_concert_pitch, hands
from expander.sounding import HeardPart, to_sounding

MOST_NAMED = 6
"""Instruments of one player that the head of a part names; a drum set has more."""


_TAKEN_FOR_CONCERT = (
    "the score does not say that it is at concert pitch; it was taken for it, as no part "
    "transposes, some instrument should, and all have the same keys."
)


class Options(Struct, frozen=True):
    """What can be chosen: string parts desk by desk, cues, one score for all percussion."""

    desks: bool = False
    cues: bool = True
    percussion_score: bool = False


class PlayerPart(Struct, frozen=True):
    """One player's part: its file name without ending, what is in it, and how it is laid out.

    `sources` are the indices of the score's parts it comes from, one for each of its own; `runs`
    its rests of many bars.
    """

    name: str
    stem: str
    sources: tuple[int, ...]
    document: Document
    runs: tuple[range, ...]
    cues: tuple[Cued, ...]
    layout: Layout


class PartSet(Struct, frozen=True):
    """The parts of a score, their account, and what there is to say about them."""

    parts: tuple[PlayerPart, ...]
    account: Account
    findings: tuple[Finding, ...]


USUAL = Options()


def make_parts(score: Document, options: Options = USUAL) -> PartSet:
    """One part for each player of a full score, at written pitch, laid out for the stand."""
    shop = _Shop(score, options)
    readers = readers_of(shop.score, desks=options.desks)
    stands = _stands(readers, options)
    parts = tuple(shop.part(who, i + 1, len(stands)) for i, who in enumerate(stands))
    books = account(shop.score, [(part.sources, part.document) for part in parts])
    told = [*shop.findings, *account_findings(books, shop.score)]
    return PartSet(parts, books, tuple(told))


def _also(stand: Stand, parts: Sequence[Part[Written]]) -> str:
    """What else a reader plays, by the part's playback sounds; "" for none or a whole set."""
    names = list(dict.fromkeys(s.name for part in parts for s in part.sounds))
    own = stand.readers[0].instrument
    others = [n for n in names if len(stand.readers) == 1 and not (own and n == own.name)]
    return ", ".join(others) if 1 < len(names) <= MOST_NAMED else ""


def _stands(readers: Sequence[Reader], options: Options) -> list[Stand]:
    """Who reads from one stand: everybody their own, or all percussion from one score."""
    drummers = [r for r in readers if options.percussion_score and r.beats]
    if len(drummers) < 2:
        return [Stand(reader.name, (reader,)) for reader in readers]
    stands: list[Stand] = []
    for reader in readers:
        if reader not in drummers:
            stands.append(Stand(reader.name, (reader,)))
        elif reader is drummers[0]:
            stands.append(Stand("Percussion score", tuple(drummers)))
    return stands


class _Shop:
    """Makes parts of one score and keeps what they have in common."""

    def __init__(self, score: Document, options: Options) -> None:
        self.options = options
        self.findings: list[Finding] = []
        concert = at_concert_pitch(score)
        self.score = self._written(score) if concert else score
        if concert and not score.header.concert_pitch:
            self.findings.append(Finding("concert-pitch", Severity.NOTE, _TAKEN_FOR_CONCERT))
        self.common: Common = common_of(self.score)
        self.clock: Clock = clock_of(self.score)
        heard = [HeardPart(part) for part in score.parts]
        self.keys = _concert_keys(score, heard)
        labels = [part.short or part.name for part in self.score.parts]
        sources = sources_of(self.score, heard, labels) if options.cues else ()
        self.prompter = Prompter(sources, score.bars, self.keys, self.clock)
        self._taken: dict[tuple[int, int], tuple[Taken, list[Part[Written]]]] = {}

    def _written(self, score: Document) -> Document:
        sketch = to_sounding(score)
        parts = tuple(
            as_written(part, heard, sketch, hands(part))
            for part, heard in zip(score.parts, sketch.parts, strict=True)
        )
        return replace(score, parts=parts, header=replace(score.header, concert_pitch=False))

    def part(self, stand: Stand, number: int, count: int) -> PlayerPart:
        """What stands on one music stand: a player's part, or a score of several."""
        bars, grid = self.score.bars, self.score.grid
        made = [self._read(reader, cued=len(stand.readers) == 1) for reader in stand.readers]
        parts = [part for part, _ in made]
        runs = rest_runs(parts, bars)
        parts, layout = laid_out(parts, bars, runs, self.clock, grid)
        parts = [with_long_rests(part, runs) for part in parts]
        named = tuple(
            replace(part, id=f"P{i + 1}", name=reader.name, short=reader.short if i else "")
            for i, (part, reader) in enumerate(zip(parts, stand.readers, strict=True))
        )
        header = part_header(self.score.header, stand.name, _also(stand, parts))
        document: Document = Score(grid, header, bars, named)
        return PlayerPart(
            stand.name,
            file_stem(stand.name, number, count),
            tuple(reader.part for reader in stand.readers),
            document,
            tuple(runs),
            tuple(cue for _, cues in made for cue in cues),
            layout,
        )

    def _read(self, reader: Reader, *, cued: bool) -> tuple[Part[Written], list[Cued]]:
        """One reader's part, all but its layout."""
        part = with_common(self._own(reader), self.common)
        part = with_bar_rests(part, self.score.bars, self.score.grid)
        part = with_holds(part, self.common.holds)
        if len(self.score.parts) > 1:
            part = without_idle_symbols(part)
        part, cues = self.prompter.with_cues(part, reader.part) if cued else (part, [])
        return with_tacet(renumbered(part)), cues

    def _own(self, reader: Reader) -> Part[Written]:
        part = self.score.parts[reader.part]
        if reader.shares:
            return self._divided(reader)[reader.place]
        return for_desk(part, reader.desk) if reader.desk else part

    def _divided(self, reader: Reader) -> list[Part[Written]]:
        """The parts of all who share a staff, taken apart once."""
        key = (reader.part, reader.staff)
        if key not in self._taken:
            part = self.score.parts[reader.part]
            taken = take_apart(part, reader.staff, reader.numbers)
            self._taken[key] = (taken, self._parts_of(part, reader, taken))
            self.findings += _unclear(part.name, taken, self.score.bars)
        return self._taken[key][1]

    def _parts_of(self, part: Part[Written], reader: Reader, taken: Taken) -> list[Part[Written]]:
        staff = Staff(reader.staff, reader.numbers, part.layers)
        signs = dealt_signs(part.bars, staff, taken)
        one = _one_staff(part, reader.staff)
        return [
            self._player(one, taken, place, signs[place]) for place in range(len(reader.numbers))
        ]

    def _player(
        self,
        part: Part[Written],
        taken: Taken,
        place: int,
        signs: Sequence[tuple[Direction, ...]],
    ) -> Part[Written]:
        voices = taken.voices[place]
        most = max((len(row) for row in voices), default=1)
        force = in_force(part)
        bars: list[PartBar[Written]] = []
        for index, row in enumerate(voices):
            layers = tuple(full(v, self.score.bars[index], self.score.grid) for v in row)
            key = force.keys[index].fifths
            shown = with_accidentals(layers, key, keys_inside(part, index))
            padded = (*shown, *((),) * (most - len(shown)))
            content = part.bars[index]
            bars.append(replace(content, layers=padded, directions=signs[index]))
        layers_of = tuple(LayerId(1, str(n + 1)) for n in range(most))
        return replace(part, layers=layers_of, bars=tuple(bars))


def _one_staff(part: Part[Written], staff: int) -> Part[Written]:
    """The changes, symbols and the rest of one staff of a part, its layers left as they are."""
    if part.staves == 1:
        return part
    bars = tuple(
        replace(
            bar,
            changes=tuple(replace(c, staff=0) for c in bar.changes if c.staff in (0, staff)),
            harmonies=tuple(replace(h, staff=0) for h in bar.harmonies if h.staff in (0, staff)),
        )
        for bar in part.bars
    )
    return replace(part, staves=1, bars=bars)


def _concert_keys(score: Document, heard: Sequence[HeardPart]) -> tuple[Key, ...]:
    """The concert key of each bar, from the first part with signatures that have any."""
    rows = [
        in_force(part, changes=own.changes).keys
        for part, own in zip(score.parts, heard, strict=True)
    ]
    signed = [row for row in rows if any(key.fifths for key in row)]
    return next(iter(signed or rows), ())


def _unclear(name: str, taken: Taken, bars: Sequence[Bar]) -> list[Finding]:
    """One finding for each reason for which a staff did not say whose its notes are."""
    found: dict[str, list[int]] = {}
    for index, why in taken.unclear:
        found.setdefault(why, []).append(index)
    return [
        Finding(
            check="whose-notes",
            severity=Severity.WARNING,
            message=f"{why} ({len(places)} bar{'s' * (len(places) > 1)}).",
            part=" ".join(name.split()),
            bar=bars[places[0]].number,
            index=places[0],
        )
        for why, places in found.items()
    ]
