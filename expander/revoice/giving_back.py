"""The rule file that gives a short score back: each line to the players who had it, and how."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.rules import Entry, Passage, Rules, StrandRule
from expander.revoice.lineup import line_up_of
from expander.revoice.louder import Share
from expander.revoice.shares import shares_of
from expander.revoice.short import Reduced, as_sketch
from expander.revoice.spots import ALL, Spot, Spots
from expander.rulefile import Heading, facts_of, first_rules


class Files(Struct, frozen=True):
    """What goes to disk: the rule file, and its line-up's ("" where a shipped one is named).

    `untold` counts lines of a bar that the rules cannot give back.
    """

    rules: str
    line_up: str
    untold: int


class Run(Struct):
    """A share over neighbouring bars."""

    share: Share
    first: int
    last: int


def files_for(reduced: Reduced, rules_file: str, line_up_file: str, sketch_file: str) -> Files:
    """The rule file of a reduction and its line-up, by the names they will have."""
    line_up = reduced.line_up or line_up_of(reduced.full)
    spots = Spots(reduced.score)
    shares = shares_of(reduced, line_up, spots)
    short = as_sketch(reduced.score)
    runs = [_plain(run, spots) for run in _runs(shares.found, spots)]
    strands, entries = _told(runs, [bar.number for bar in short.bars], reduced.staves)
    pitch = "concert" if reduced.full.sketch.header.concert_pitch else "transposed"
    name = line_up_file if line_up.text else line_up.ensemble.id
    rules = Rules(
        ensemble=name, pitch=pitch, strands=strands, plan={"all": entries}, file=rules_file
    )
    header = reduced.score.header
    heading = Heading(
        sketch=sketch_file,
        title=header.movement_title or header.work_title,
        players=tuple(player.name for player in line_up.ensemble.players),
    )
    return Files(first_rules(rules, facts_of(short), heading), line_up.text, shares.untold)


# -- over how many bars ----------------------------------------------------------------------------


def _runs(shares: Sequence[tuple[int, Share]], spots: Spots) -> list[Run]:
    """Each share over as many bars as it goes on; bars between in which nothing is there count."""
    bars: dict[Share, list[int]] = {}
    for bar, share in shares:
        row = bars.setdefault(share, [])
        if not row or row[-1] != bar:
            row.append(bar)
    found: list[Run] = []
    for share, row in bars.items():
        taken = spots.occupied(replace(share.spot, note=ALL))  # its marks are others' there
        run = Run(share, row[0], row[0])
        for bar in row[1:]:
            if any(b in taken for b in range(run.last + 1, bar)):
                found.append(run)
                run = Run(share, bar, bar)
            run.last = bar
        found.append(run)
    return found


def _plain(run: Run, spots: Spots) -> Run:
    """Where there are no chords, the first note of each is the whole layer."""
    spot = run.share.spot
    if spot.note != 1 or not spots.chordal(spot).isdisjoint(range(run.first, run.last + 1)):
        return run
    whole = replace(spot, note=ALL)
    return Run(replace(run.share, spot=whole), run.first, run.last)


# -- in the words of a rule file -------------------------------------------------------------------


def _told(
    runs: Sequence[Run], labels: Sequence[str], staves: Sequence[str]
) -> tuple[dict[str, StrandRule], tuple[Entry, ...]]:
    """The strands, and who plays each: those who play it alike together."""
    together: dict[tuple[Spot, int, int], list[Share]] = {}
    for run in runs:
        together.setdefault((run.share.spot, run.first, run.last), []).append(run.share)
    strands: dict[str, StrandRule] = {}
    entries: list[Entry] = []
    for (spot, first, last), shares in sorted(together.items(), key=lambda item: item[0]):
        rule = _strand(spot, first, last, labels, staves)
        strands[rule.name] = rule
        entries += _entries(rule.name, shares)
    return strands, tuple(entries)


def _strand(
    spot: Spot, first: int, last: int, labels: Sequence[str], staves: Sequence[str]
) -> StrandRule:
    whole = first == 0 and last == len(labels) - 1
    bars = None if whole else Passage(first=labels[first], last=labels[last])
    words = [
        staves[spot.staff - 1].lower(),
        str(spot.layer) + "abcdefghijkl"[spot.note - 1 : spot.note],
    ]
    words += (
        [] if whole else [labels[first] if first == last else f"{labels[first]}-{labels[last]}"]
    )
    return StrandRule(
        " ".join(words),
        staff=spot.staff,
        layer=spot.layer,
        notes=str(spot.note) if spot.note else "all",
        bars=bars,
    )


def _entries(strand: str, shares: Sequence[Share]) -> Iterator[Entry]:
    alike: dict[Share, list[str]] = {}
    for share in shares:
        alike.setdefault(replace(share, name=""), []).append(share.name)
    for share, names in alike.items():
        yield Entry(
            strand,
            tuple(dict.fromkeys(names)),
            octave=share.octave,
            dynamic=share.dynamic,
            technique=share.technique,
            mute=share.mute,
            fit="keep",
        )
