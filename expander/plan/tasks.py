"""Tasks: each entry of the plan with its bars and seats, and the conflicts between them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.finding import Finding, Severity
from expander.model.instrument import Ensemble, Seat
from expander.model.plan import Strand, Task
from expander.model.rules import Entry, Rules
from expander.model.score import Bar, Sections

Resolve = Callable[[str], tuple[Seat, ...]]
"""From a name of the rules to its seats in score order."""

EVERYWHERE = "all"


class Plan(Struct, frozen=True):
    """All tasks in the order of the rules, and what was found while making them."""

    tasks: tuple[Task, ...]
    findings: tuple[Finding, ...] = ()


def assign(
    rules: Rules,
    strands: Mapping[str, Strand],
    sections: Sections,
    bars: Sequence[Bar],
    resolve: Resolve,
    ensemble: Ensemble,
) -> Plan:
    """Resolve the plan to tasks.

    A section's entry takes its players away from `all` for the bars of that section; entries of
    `all` are cut accordingly. Slashes give way, bar by bar, to written music. Of several
    entries for the players of one shared stave, each player takes one in order; where a single
    player is left with two lines at once, the later is given up and a conflict reported.
    """
    tasks = [
        task
        for name, entries in rules.plan.items()
        for entry in entries
        for task in _tasks(name, entry, strands, sections, len(bars), resolve)
    ]
    tasks = _without_taken(tasks)
    tasks = _shared_out(tasks, ensemble)
    tasks = _giving_way(tasks)
    return _settled(tasks, ensemble, bars)


def _tasks(
    section: str,
    entry: Entry,
    strands: Mapping[str, Strand],
    sections: Sections,
    length: int,
    resolve: Resolve,
) -> list[Task]:
    bars = range(length) if section == EVERYWHERE else sections[section]
    seats = _seats(entry.by, resolve)
    return [Task(section, entry, strands[entry.play], seats, bars)] if seats and bars else []


def _seats(names: Sequence[str], resolve: Resolve) -> tuple[Seat, ...]:
    """All seats named, each once, in the order named."""
    found: dict[tuple[int, str], Seat] = {}
    for name in names:
        for seat in resolve(name):
            found.setdefault((seat.player, seat.instrument.id), seat)
    return tuple(found.values())


def _without_taken(tasks: list[Task]) -> list[Task]:
    """Cut `all` tasks so that nobody has them while a section gives them something else."""
    taken = [t for t in tasks if t.section != EVERYWHERE]
    kept: list[Task] = []
    for task in tasks:
        if task.section != EVERYWHERE:
            kept.append(task)
            continue
        rivals = [other for other in taken if _share_players(task, other)]
        kept += _stretches(task, [_away(task, index, rivals) for index in task.bars])
    return kept


def _share_players(task: Task, other: Task) -> bool:
    return not {s.player for s in task.seats}.isdisjoint({s.player for s in other.seats})


def _away(task: Task, bar: int, taken: list[Task]) -> frozenset[int]:
    mine = {seat.player for seat in task.seats}
    return frozenset(
        seat.player
        for other in taken
        if bar in other.bars
        for seat in other.seats
        if seat.player in mine
    )


def _stretches(task: Task, away: list[frozenset[int]]) -> list[Task]:
    """The task in pieces over which the same seats are free."""
    pieces: list[Task] = []
    start = task.bars.start
    for offset in range(1, len(away) + 1):
        if offset < len(away) and away[offset] == away[offset - 1]:
            continue
        gone = away[offset - 1]
        seats = tuple(seat for seat in task.seats if seat.player not in gone)
        stop = task.bars.start + offset
        if seats:
            pieces.append(replace(task, seats=seats, bars=range(start, stop)))
        start = stop
    return pieces


def _giving_way(tasks: list[Task]) -> list[Task]:
    """Cut slashes so that nobody has them in a bar in which they have notes to play."""
    music = [t for t in tasks if not t.strand.slashes]
    kept: list[Task] = []
    for task in tasks:
        if not task.strand.slashes:
            kept.append(task)
            continue
        away = [_away(task, i, [t for t in music if _has_notes(t, i)]) for i in task.bars]
        kept += _stretches(task, away)
    return kept


def _has_notes(task: Task, bar: int) -> bool:
    return any(e.notes for layer in task.strand.bars.get(bar, ()) for e in layer)


def _shared_out(tasks: list[Task], ensemble: Ensemble) -> list[Task]:
    """Where entries all ask for the same shared stave, give each of its players one of them."""
    for stave in ensemble.staves:
        if len(stave.players) > 1:
            tasks = _shared_on(tasks, stave.players)
    return tasks


def _shared_on(tasks: list[Task], players: tuple[int, ...]) -> list[Task]:
    rivals: dict[str, list[int]] = {}
    for index, task in enumerate(tasks):
        if set(players) <= {seat.player for seat in task.seats} and _sounds(task):
            rivals.setdefault(f"{task.section}{task.bars}", []).append(index)
    changed = list(tasks)
    for indices in rivals.values():
        if 1 < len(indices) <= len(players):
            for place, index in enumerate(indices):
                others = set(players) - set(_share(players, place, len(indices)))
                seats = tuple(s for s in tasks[index].seats if s.player not in others)
                changed[index] = replace(tasks[index], seats=seats)
    return changed


def _share(players: tuple[int, ...], place: int, count: int) -> tuple[int, ...]:
    """Players of one stave, in order, dealt out as evenly as possible."""
    size = len(players)
    return players[place * size // count : (place + 1) * size // count]


def _sounds(task: Task) -> bool:
    return any(index in task.strand.bars for index in task.bars)


def _settled(tasks: list[Task], ensemble: Ensemble, bars: Sequence[Bar]) -> Plan:
    """Drop seats that would have to play two lines at once where their stave holds one."""
    busy: dict[tuple[int, int], Task] = {}
    kept: list[Task] = []
    findings: list[Finding] = []
    for task in tasks:
        clashes = [s for s in task.seats if not _holds_two(ensemble, s)]
        bad = {s.player: bar for s in clashes for bar in _clash(task, s.player, busy)[:1]}
        for player, bar in bad.items():
            findings.append(_conflict(task, busy[player, bar], ensemble, player, bars[bar]))
        seats = tuple(s for s in task.seats if s.player not in bad)
        if seats:
            settled = replace(task, seats=seats)
            kept.append(settled)
            _occupy(settled, busy)
    return Plan(tuple(kept), tuple(findings))


def _holds_two(ensemble: Ensemble, seat: Seat) -> bool:
    return ensemble.players[seat.player].size > 1 or seat.instrument.at_once > 1


def _clash(task: Task, player: int, busy: Mapping[tuple[int, int], Task]) -> list[int]:
    """Bars in which the player already has music that overlaps the task's."""
    return [
        bar
        for bar in task.bars
        if (player, bar) in busy and _overlap(task.strand, busy[player, bar].strand, bar)
    ]


def _overlap(one: Strand, other: Strand, bar: int) -> bool:
    mine = [(e.at, e.end) for layer in one.bars.get(bar, ()) for e in layer if e.notes]
    theirs = [(e.at, e.end) for layer in other.bars.get(bar, ()) for e in layer if e.notes]
    return any(a < d and c < b for a, b in mine for c, d in theirs)


def _occupy(task: Task, busy: dict[tuple[int, int], Task]) -> None:
    for bar in task.bars:
        if bar in task.strand.bars:
            for seat in task.seats:
                busy.setdefault((seat.player, bar), task)


def _conflict(task: Task, other: Task, ensemble: Ensemble, player: int, bar: Bar) -> Finding:
    name = ensemble.players[player].label
    where = f" ({task.entry.at})" if task.entry.at else ""
    return Finding(
        check="two-lines-for-one-player",
        severity=Severity.ERROR,
        message=(
            f"{name} has {other.entry.play!r} and is also asked for {task.entry.play!r} from bar "
            f"{bar.number}{where}; one player plays one line, so {task.entry.play!r} is left to "
            "the others. Give it to somebody else, or to another section of the form."
        ),
        part=name,
        bar=bar.number,
    )
