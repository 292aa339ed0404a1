"""A full score as a short score of two to five staves, itself a sketch to expand.

Where the score has no more staves than that, each keeps its own. Otherwise lines that double are
written once, and the staves are tune, counter-lines, inner parts, bass and percussion; equal
rhythms of the inner parts are written as chords.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from expander.catalogue.loader import CLEFS, instrument
from expander.errors import BadUsage
from expander.model.finding import Ledger
from expander.model.instrument import ClefHabit, Ensemble, Instrument, Player, Seat, Stave
from expander.model.pitch import Drum, Sounding, Written
from expander.model.plan import Events, Strand, Task
from expander.model.plan import Line as Played
from expander.model.rules import Entry, Rules
from expander.model.score import Document, Event, Harmony, Note, Part, PartBar, Score, Sketch
from expander.notate.build import build
from expander.revoice.account import heads, lost_note
from expander.revoice.casting import Given
from expander.revoice.chording import Sourced, as_chords
from expander.revoice.doubling import Group, groups_of
from expander.revoice.layers import in_layers, signed
from expander.revoice.lines import FullScore, Line, full_score, heights
from expander.revoice.lineup import LineUp, line_up_of
from expander.revoice.marking import directions_for
from expander.revoice.players import bare_system
from expander.revoice.roles import BASS, COUNTER, DRUMS, FIGURE, INNER, TUNE, Voice, roles_of
from expander.revoice.rows import Rows
from expander.revoice.seats import standing_for
from expander.revoice.sharing import with_marks, with_players_lines
from expander.revoice.spans import mended
from expander.revoice.voiced import Row, with_row_marks
from expander.sounding import origins

MOST = 5
FEWEST = 2
NAMES = {
    TUNE: ("Tune", "Tune"),
    COUNTER: ("Counter-lines", "Ctr."),
    INNER: ("Inner parts", "Inner"),
    BASS: ("Bass", "Bass"),
    DRUMS: ("Percussion", "Perc."),
}

_LAYOUTS: dict[int, dict[str, str]] = {
    4: {TUNE: TUNE, COUNTER: COUNTER, INNER: INNER, FIGURE: INNER, BASS: BASS},
    3: {TUNE: TUNE, COUNTER: INNER, INNER: INNER, FIGURE: INNER, BASS: BASS},
    2: {TUNE: TUNE, COUNTER: TUNE, INNER: BASS, FIGURE: BASS, BASS: BASS},
    1: {TUNE: TUNE, COUNTER: TUNE, INNER: TUNE, FIGURE: TUNE, BASS: TUNE},
}
"""For so many staves with pitch, on which of them each role stands. Drums have their own."""


class Reduced(Struct, frozen=True):
    """A short score, and where every part's music went.

    In the ledger `placed` are notes that stand in it, `replaced` those doubled by one that does.
    `owners` are the parts whose staves were kept as they stand, one for each staff; empty where
    the staves are by role. `groups` are the lines written as one in each bar. `line_up` is the
    score's where the reduction is exact.
    """

    score: Document
    ledger: Ledger
    staves: tuple[str, ...]
    full: FullScore
    groups: tuple[tuple[Group, ...], ...]
    owners: tuple[int, ...] = ()
    line_up: LineUp | None = None


class _Staff(Struct):
    """A staff under construction: rows of cells by bar, and the lines they come from."""

    name: str
    short: str
    drums: bool = False
    owner: int = -1
    rows: list[dict[int, Events]] = field(default_factory=list)
    sources: list[dict[int, tuple[int, ...]]] = field(default_factory=list)

    def add(self, bar: int, cell: Events, row: int, lines: tuple[int, ...]) -> None:
        """A cell of these lines in a row."""
        while len(self.rows) <= row:
            self.rows.append({})
            self.sources.append({})
        self.rows[row][bar] = cell
        self.sources[row][bar] = lines


def reduce_score(
    document: Document, staves: int = 0, sketch: Sketch | None = None, *, exact: bool = False
) -> Reduced:
    """The short score of a document. `staves` is how many, 2 to 5; 0 as many as it needs.

    `sketch` is the document as heard, where it was moved to another key. With `exact` nothing is
    written as one but what is the same to the note, so that each line can be told from the rest.
    """
    full = full_score(document, sketch)
    line_up = line_up_of(full) if exact else None
    full = with_players_lines(full, line_up) if line_up else full
    full = with_marks(full, exact=exact)
    wanted = staves or MOST
    made = _as_it_stands(full)
    groups = groups_of(full.lines, len(full.sketch.bars), exact=exact)
    if not FEWEST <= len(made) <= wanted:
        made = [staff for staff in _by_roles(full, groups, wanted, exact=exact) if staff.rows]
    else:
        groups = _each_alone(full)
    if not made:
        raise BadUsage("the score holds no notes; there is nothing to reduce.")
    written = _engraved(full, made)
    if exact:
        written = _countable(written)
    owners = tuple(staff.owner for staff in made) if all(s.owner >= 0 for s in made) else ()
    names = tuple(s.name for s in made)
    return Reduced(written, _ledger(full, written), names, full, groups, owners, line_up)


def _countable(score: Document) -> Document:
    """The score with bars that can be told by number: counted anew where they cannot."""
    labels = [bar.number for bar in score.bars]
    if len(set(labels)) == len(labels) and all(label.isalnum() for label in labels):
        return score
    bars = tuple(replace(bar, number=str(i + 1)) for i, bar in enumerate(score.bars))
    return replace(score, bars=bars)


# -- staves ----------------------------------------------------------------------------------------


def _as_it_stands(full: FullScore) -> list[_Staff]:
    """Each staff of the score as a staff of its own."""
    staves: dict[tuple[int, int, bool], list[Line]] = {}
    for line in full.lines:
        staves.setdefault((line.owner.part, line.staff, line.unpitched), []).append(line)
    return [_as_one_stands(full, staves[key]) for key in sorted(staves)]


def _as_one_stands(full: FullScore, mine: Sequence[Line]) -> _Staff:
    """A row for each line of a staff; players who share it are on one stem where they can be."""
    owner, number = mine[0].owner, mine[0].staff
    several = full.sketch.parts[owner.part].staves > 1
    name = f"{owner.name} {number}" if several else owner.name
    staff = _Staff(name, owner.short, mine[0].unpitched, owner.part)
    rows = Rows(full.lines, {}) if len({line.player for line in mine}) > 1 else None
    for bar in sorted({bar for line in mine for bar in line.cells}):
        here = [(i, line) for i, line in enumerate(mine) if bar in line.cells]
        cells: list[tuple[int, Sourced]] = [
            (i, (_said(line, line.cells[bar]), (line.number,))) for i, line in here
        ]
        if rows:
            cells = rows.placed(rows.shared([cell for _, cell in cells], bar), bar, name)
        for row, (cell, numbers) in cells:
            staff.add(bar, cell, row, numbers)
    return staff


def _each_alone(full: FullScore) -> tuple[tuple[Group, ...], ...]:
    return tuple(
        tuple(Group(bar, (line.number,), line.number) for line in full.lines if bar in line.cells)
        for bar in range(len(full.sketch.bars))
    )


def _by_roles(
    full: FullScore, groups: Sequence[Sequence[Group]], count: int, *, exact: bool
) -> list[_Staff]:
    """Staves by role; doubled lines once."""
    drums = any(line.unpitched for line in full.lines)
    layout = {**_LAYOUTS[min(4, count - drums)], DRUMS: DRUMS}
    staves = {
        role: _Staff(*NAMES[role], drums=role == DRUMS) for role in dict.fromkeys(layout.values())
    }
    voices = roles_of(full, full.lines, groups)
    rows = Rows(full.lines, layout) if exact else None
    for bar, here in enumerate(voices):
        stand = [rows.staff(v) if rows else layout[v.role] for v in here]
        for role, staff in staves.items():
            mine = [v for v, name in zip(here, stand, strict=True) if name == role]
            for row, (cell, numbers) in _shared(full, mine, bar, staff.name, rows):
                staff.add(bar, cell, row, numbers)
    order = [TUNE, COUNTER, INNER, BASS, DRUMS]
    return [staves[role] for role in order if role in staves]


def _shared(
    full: FullScore, mine: Sequence[Voice], bar: int, staff: str, rows: Rows | None
) -> list[tuple[int, Sourced]]:
    """The cells of one staff in a bar by layer from the top down, equal rhythms as chords."""
    cells: list[Sourced] = [(_cell(full, v, bar), (v.group.lead,)) for v in mine]
    if rows:
        return rows.placed(_from_the_top(rows.shared(cells, bar)), bar, staff)
    return list(enumerate(_from_the_top(as_chords(cells) if len(cells) > 1 else cells)))


def _from_the_top(cells: Sequence[Sourced]) -> list[Sourced]:
    return sorted(cells, key=lambda cell: -_mean(cell[0]))


def _cell(full: FullScore, voice: Voice, bar: int) -> Events:
    line = full.lines[voice.group.lead]
    given = Given(line.number, voice)
    return _said(line, standing_for(line.cells[bar], given, bar, full.lines))


def _said(line: Line, cell: Events) -> Events:
    """The cell with its words where they are sung; labels under an instrument are left out."""
    if line.owner.sung or not any(e.lyrics for e in cell):
        return cell
    return tuple(replace(e, lyrics=()) if e.lyrics else e for e in cell)


def _mean(cell: Events) -> float:
    found = heights(cell)
    return sum(found) / len(found) if found else -1.0


# -- engraving -------------------------------------------------------------------------------------


def _engraved(full: FullScore, made: Sequence[_Staff]) -> Document:
    """The staves as a written score at concert pitch."""
    base = bare_system(full.sketch)
    lines = [line for place, staff in enumerate(made) for line in _played(full, staff, place)]
    players = tuple(_player(staff, place) for place, staff in enumerate(made))
    ensemble = Ensemble(
        id="short-score",
        title="Short score",
        players=players,
        staves=tuple(Stave(p.label, p.short, (i,)) for i, p in enumerate(players)),
        groups={},
        brackets=(),
    )
    score = build(base, lines, ensemble, Rules(), {}).score
    top, *others = (
        with_row_marks(in_layers(part, len(staff.rows)), [*_marked_rows(full, staff)])
        for part, staff in zip(score.parts, made, strict=True)
    )
    return replace(score, parts=(top, *map(_without_symbols, others)))


def _without_symbols(part: Part[Written]) -> Part[Written]:
    """The part without chord symbols, which stand over the top stave for all."""
    bars = tuple(replace(bar, harmonies=()) if bar.harmonies else bar for bar in part.bars)
    return replace(part, bars=bars)


def _player(staff: _Staff, place: int) -> Player:
    one = _reader(staff)
    return Player(f"staff {place + 1}", staff.name, staff.short, (one,))


def _reader(staff: _Staff) -> Instrument:
    """An instrument that reads treble or bass clef at concert pitch and sings its words."""
    if staff.drums:
        return replace(instrument("drum-set"), name=staff.name, short=staff.short)
    means = [_mean(cell) for row in staff.rows for cell in row.values()]
    low = sum(means) / len(means) < 58
    habits = (ClefHabit(CLEFS["bass"]), ClefHabit(CLEFS["treble"], Written.named("C4"), None))
    high = (ClefHabit(CLEFS["treble"]), ClefHabit(CLEFS["bass"], None, Written.named("C4")))
    return replace(
        instrument("piano"),
        name=staff.name,
        short=staff.short,
        clefs=(habits if low else high,),
        at_once=99,
    )


def _played(full: FullScore, staff: _Staff, place: int) -> Iterator[Played]:
    seat = Seat(place, _reader(staff))
    entry = Entry(staff.name, (f"staff {place + 1}",), words=True)
    task = Task("all", entry, Strand(staff.name, {}), (seat,), range(len(full.sketch.bars)))
    for desk, (row, sources) in enumerate(zip(staff.rows, staff.sources, strict=True)):
        yield Played(seat, task, signed(mended(row, sources), desk), desk)


def _marked_rows(full: FullScore, staff: _Staff) -> Iterator[Row]:
    """Each row with what the first of its lines is told."""
    for row, sources in zip(staff.rows, staff.sources, strict=True):
        numbers = {bar: lines[0] for bar, lines in sources.items()}
        yield Row(row, directions_for(full, full.lines, numbers, row))


def as_sketch(document: Document) -> Sketch:
    """A short score as heard, its notes with the numbers they have in the original."""
    parts = tuple(_heard_part(part) for part in document.parts)
    return Score(document.grid, document.header, document.bars, parts)


def _heard_part(part: Part[Written]) -> Part[Sounding]:
    bars = tuple(_heard(bar) for bar in part.bars)
    return Part(
        part.id, part.name, part.short, part.staves, part.layers, bars, part.sounds, part.carried
    )


def _heard(bar: PartBar[Written]) -> PartBar[Sounding]:
    return PartBar(
        layers=tuple(tuple(_heard_event(e) for e in layer) for layer in bar.layers),
        changes=bar.changes,
        directions=bar.directions,
        harmonies=tuple(_heard_symbol(h) for h in bar.harmonies),
        barlines=bar.barlines,
        carried=bar.carried,
        attributes=bar.attributes,
    )


def _heard_symbol(symbol: Harmony[Written]) -> Harmony[Sounding]:
    return Harmony(
        symbol.at, symbol.root, symbol.kind, symbol.text, symbol.inversion, symbol.bass,
        symbol.degrees, symbol.staff, symbol.mark,
    )  # fmt: skip


def _heard_event(event: Event[Written]) -> Event[Sounding]:
    bare: Event[Sounding] = Event(
        event.at, event.duration, (), event.value, event.marks, event.beams, event.lyrics,
        event.grace, event.cue, event.whole_bar, event.stem, event.rest_staff, event.attributes,
        event.carried,
    )  # fmt: skip
    return replace(bare, notes=tuple(_heard_note(n) for n in event.notes))


def _heard_note(note: Note[Written]) -> Note[Sounding]:
    pitch = note.pitch
    heard: Sounding | Drum = (
        pitch if isinstance(pitch, Drum) else Sounding(pitch.step, pitch.alter, pitch.octave)
    )
    return Note(
        heard, note.tie_start, note.tie_stop, None, note.head, note.marks, note.attributes,
        note.voice_staff, note.origin, note.also,
    )  # fmt: skip


# -- the account -----------------------------------------------------------------------------------


def _ledger(full: FullScore, written: Document) -> Ledger:
    known = origins(full.sketch)
    own, beside = heads(written)
    lost = [o for n, o in known.items() if n not in own and n not in beside]
    return Ledger(
        notes=len(known),
        placed=len(known.keys() & own),
        replaced=len(known.keys() & (beside - own)),
        unplaced=tuple(lost_note(full.sketch, o, "it could not be written") for o in lost),
    )
