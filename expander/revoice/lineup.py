"""The line-up a score is for, as rule files name it: a shipped one, or a file of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.catalogue import entries
from expander.catalogue.ensembles import load_ensemble, shipped_ensembles
from expander.catalogue.lineup import built
from expander.catalogue.loader import instrument
from expander.catalogue.naming import called
from expander.catalogue.seating import seats
from expander.catalogue.yamlfile import Places
from expander.model.instrument import Ensemble
from expander.revoice.chairs import UNKNOWN
from expander.revoice.lines import FullScore, Owner
from expander.rulefile.scalar import quoted

DRUMS = "drum-set"
"""What reads a part of drums that was not recognised."""

MOST_READERS = 60


class LineUp(Struct, frozen=True):
    """A line-up with the players of each part of the score, by their places in it.

    `text` is what its file holds; "" where the line-up is shipped and `ensemble.id` names it.
    """

    ensemble: Ensemble
    players: tuple[tuple[int, ...], ...]
    text: str = ""

    def name(self, player: int, instrument: str) -> str:
        """What rules call a player with an instrument in hand; "": the one they begin with."""
        one = self.ensemble.players[player]
        if instrument in ("", one.instrument.id) or len(one.instruments) == 1:
            return one.name
        return next(
            (
                name
                for name, found in self.ensemble.doubling.items()
                if [(s.player, s.instrument.id) for s in found] == [(player, instrument)]
            ),
            one.name,
        )


def line_up_of(score: FullScore) -> LineUp:
    """The shipped line-up whose players a score's parts are, or one made for it."""
    for name in shipped_ensembles():
        ensemble = load_ensemble(name)
        players = _matched(score, ensemble)
        if players:
            return LineUp(ensemble, players)
    return _own(score)


def _matched(score: FullScore, ensemble: Ensemble) -> tuple[tuple[int, ...], ...]:
    """The players of each part where a line-up has just these; nothing where it has not."""
    known: dict[str, tuple[int, ...]] = {p.label: (i,) for i, p in enumerate(ensemble.players)}
    known |= {stave.label: stave.players for stave in ensemble.staves}
    found = [known.get(part.name, ()) for part in score.sketch.parts]
    everybody = [player for players in found for player in players]
    silent = {i for stave in ensemble.staves if not stave.optional for i in stave.players}
    alike = all(
        players and owner.instrument and _plays(ensemble, players[0], owner.instrument.id)
        for players, owner in zip(found, score.owners, strict=True)
    )
    whole = len(set(everybody)) == len(everybody) and silent <= set(everybody)
    return tuple(found) if alike and whole else ()


def _plays(ensemble: Ensemble, player: int, instrument: str) -> bool:
    return any(one.id == instrument for one in ensemble.players[player].instruments)


# -- one of its own --------------------------------------------------------------------------------


def _own(score: FullScore) -> LineUp:
    rows = [_row(score, owner) for owner in score.owners]
    ensemble = _built(rows)
    for index, row in enumerate(rows):
        if [s.player for s in seats(ensemble, str(row["name"]))] != [index]:
            row["name"] = f"{row['name']} (part {index + 1})"
    ensemble = _built(rows)
    text = "\n".join(["title: Line-up of the score", "players:", *map(_line, rows), ""])
    return LineUp(ensemble, tuple((i,) for i in range(len(rows))), text)


def _built(rows: Sequence[Mapping[str, object]]) -> Ensemble:
    file = entries.line_up({"title": "Line-up of the score", "players": list(rows)})
    assert file is not None
    return built("line-up", file, Places("", {}, {}))


def _row(score: FullScore, owner: Owner) -> dict[str, object]:
    part = score.sketch.parts[owner.part]
    played = [score.hands[key][0] for key in sorted(score.hands) if key[0] == owner.part]
    first = owner.instrument.id if owner.instrument else ""
    plays = [one for one in dict.fromkeys([first, *played]) if one] or [_unknown(score, owner)]
    label = " ".join(part.name.split())[:80] or owner.name
    row = {"name": called(owner.name)[:60], "plays": plays if len(plays) > 1 else plays[0]}
    size = min(MOST_READERS, max(owner.size, _readers(score, owner.part, plays[0])))
    short = " ".join(owner.short.split())[:80]
    more = {"size": size if size > 1 else 0, "label": label, "short": short}
    return row | {key: value for key, value in more.items() if value}


def _unknown(score: FullScore, owner: Owner) -> str:
    drums = any(line.unpitched for line in score.lines if line.owner.part == owner.part)
    return DRUMS if drums else UNKNOWN


def _readers(score: FullScore, part: int, plays: str) -> int:
    """How many readers the part needs: for its lines at once, and the notes of its chords."""
    mine = [line for line in score.lines if line.owner.part == part]
    if instrument(plays).at_once > 1:
        return 1
    bars = {bar for line in mine for bar in line.cells}
    return max((sum(_notes(line.cells.get(bar, ())) for line in mine) for bar in bars), default=1)


def _notes(cell: Sequence[object]) -> int:
    return max((len(event.notes) for event in cell), default=0)  # type: ignore[attr-defined]


def _line(row: Mapping[str, object]) -> str:
    pairs = []
    for key, value in row.items():
        if isinstance(value, list):
            text = f"[{', '.join(quoted(str(v)) for v in value)}]"
        else:
            text = str(value) if isinstance(value, int) else quoted(str(value))
        pairs.append(f"{key}: {text}")
    return f"  - {{{', '.join(pairs)}}}"
