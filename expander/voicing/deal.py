"""Deal the notes of a strand out to players: what a copyist does with a short score.

Layers and stems decide first: as many single-note layers as desks, and each layer is a line.
A chord is dealt from the top down with smooth lines; too many notes are thinned by need, too
few doubled by custom. What a player gets is one voice. Rests are left out, but for rests with a
fermata, which go to all who are silent there.

Conventions
    Pitches are sounding. Bars are indices from 0, `starts` their ticks from the start of the
    piece. Desks are in score order and are ranked by the middle of their comfortable range.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import combinations, groupby
from statistics import median_low

from msgspec import Struct

from expander.model.plan import Events
from expander.voicing.assign import LEFT_OUT, assign
from expander.voicing.chains import Chain, Gathered, Piece, gather
from expander.voicing.doubling import copies, middle, shares
from expander.voicing.lines import Known, line_of, merged
from expander.voicing.moments import Moments, most_at_once
from expander.voicing.polyphony import untangle
from expander.voicing.thin import Roots, given_up
from expander.voicing.tones import Stops, Tone, Voice

Bars = Mapping[int, tuple[Events, ...]]

NO_ROOM = "more notes than players"
NO_FREE = "no player is free for as long as it lasts, or can play it with another note"
NO_HOST = "a grace note with no note to go with"
RHYTHM = "an unpitched player takes the rhythm only"


class Desk(Struct, frozen=True):
    """A player to deal to. Ranges in sounding semitones; all None: unpitched.

    `at_once` is how many notes this player is given at a time: 1 for a line. `stops` tells which
    of them one hand can stop together.
    """

    low: int | None = None
    high: int | None = None
    comfortable_low: int | None = None
    comfortable_high: int | None = None
    at_once: int = 1
    name: str = ""
    stops: Stops | None = None

    @property
    def pitched(self) -> bool:
        """False where there is no range at all."""
        return self.low is not None or self.high is not None

    def voice(self, player: int = -1) -> Voice:
        """The desk as a voice of the search."""
        comfort = (self.comfortable_low, self.comfortable_high)
        return Voice(self.low, self.high, *comfort, player=player, stops=self.stops)


class Dealt(Struct, frozen=True):
    """What each desk plays, and what became of the notes.

    `lines` is parallel to the desks: bar index to the events of one voice. `dropped` has the
    sketch numbers of notes that nobody plays, with the reason.
    """

    lines: tuple[Mapping[int, Events], ...]
    dropped: tuple[tuple[int, str], ...] = ()


class _Table(Struct):
    """The deal as it goes: the pieces in front of each desk, and what was left."""

    hands: list[list[Piece]]
    left: dict[int, str]

    def drop(self, pieces: Sequence[Piece], reason: str) -> None:
        for piece in pieces:
            for note in piece.notes:
                self.left.setdefault(note.origin, reason)


def deal(
    layers: Bars,
    starts: Sequence[int],
    desks: Sequence[Desk],
    *,
    roots: Roots = (),
    double: str = "fill",
) -> Dealt:
    """Give a strand's notes to desks.

    `layers` are a strand's bars; bars not in it are silent. `roots` are chord roots as (tick
    from the start of the piece, pitch class), where chord symbols give them. `double` is "fill"
    (every desk plays) or "none" (spare desks rest). Raises ValueError without any desk.
    """
    if not desks:
        raise ValueError("no desk to deal to")
    return deal_gathered(gather(layers, starts), desks, Known(), roots=roots, double=double)


def deal_gathered(
    found: Gathered,
    desks: Sequence[Desk],
    known: Known,
    *,
    roots: Roots = (),
    double: str = "fill",
) -> Dealt:
    """As `deal`, for a strand that is taken apart already; `known` is what was dealt before."""
    table = _Table([[] for _ in desks], {})
    ranked = sorted(
        (i for i, d in enumerate(desks) if d.pitched), key=lambda i: -middle(desks[i].voice())
    )
    if ranked:
        _deal_pitched(found.chains, desks, ranked, table, roots, double)
    _give_rhythm(found, [i for i, d in enumerate(desks) if not d.pitched], table, bool(ranked))
    _add_everywhere(found, table)
    table.drop(found.stray, NO_HOST)
    return _settled(table, known)


def _deal_pitched(
    chains: Sequence[Chain],
    desks: Sequence[Desk],
    group: list[int],
    table: _Table,
    roots: Roots,
    double: str,
) -> None:
    """Deal to the desks of `group`, from the highest down."""
    by_layer = _by_layer(chains, desks, group, double)
    if by_layer is not None:
        for desk, members in by_layer:
            _hand_out(members, desk, table)
        return
    tones = [c.tone for c in chains]
    moments = Moments(tones)
    voices, owners = _slots(moments.most, desks, group)
    _close_places(moments, tones, desks, owners)
    lost = set(given_up(tones, moments, len(voices), roots))
    kept = [c for i, c in enumerate(chains) if i not in lost]
    for index in sorted(lost):
        _leave(chains[index], table, NO_ROOM)
    if double == "fill":
        kept = _repeated(kept, moments if not lost else None, [desks[i].voice() for i in group])
    placed = _placed([c.tone for c in kept], voices, _beat(chains), double)
    for chain, voice in zip(kept, placed, strict=True):
        if voice == LEFT_OUT:
            _leave(chain, table, NO_FREE)
        else:
            _hand_out([chain], owners[voice], table)


def _placed(
    tones: Sequence[Tone], voices: Sequence[Voice], beat: int, double: str
) -> Sequence[int]:
    """Voices of the notes. Where spare players rest and no layers tell, the notes alone must."""
    layers = {tone.layer for tone in tones}
    if double == "none" and len(layers) == 1 and all(v.player < 0 for v in voices):
        return untangle(tones, voices, beat=beat)
    return assign(tones, voices, beat=beat)


def _repeated(
    chains: Sequence[Chain], moments: Moments | None, voices: Sequence[Voice]
) -> list[Chain]:
    tones = [c.tone for c in chains]
    given = copies(tones, moments or Moments(tones), voices)
    return [c for c, count in zip(chains, given, strict=True) for _ in range(count)]


def _by_layer(
    chains: Sequence[Chain], desks: Sequence[Desk], group: list[int], double: str
) -> list[tuple[int, list[Chain]]] | None:
    """Each layer to its desk or desks, where no layer has more notes than its desk can take."""
    members: dict[int, list[Chain]] = {}
    for chain in chains:
        members.setdefault(chain.tone.layer, []).append(chain)
    layers = _in_order(members, desks, group)
    if len(layers) > len(group):
        return None
    owners = _desks_of_layers(layers, members, desks, group)
    if any(
        most_at_once([c.tone for c in members[layer]]) > min(desks[d].at_once for d in share)
        for layer, share in zip(layers, owners, strict=True)
    ):
        return None
    chosen = owners if double == "fill" else [share[:1] for share in owners]
    return [(d, members[la]) for la, share in zip(layers, chosen, strict=True) for d in share]


def _in_order(
    members: Mapping[int, list[Chain]], desks: Sequence[Desk], group: list[int]
) -> list[int]:
    """Layers as they stand, or by pitch where that puts fewer notes out of range."""
    stand = sorted(members)
    heights = {la: _mean(members[la]) for la in stand}
    by_pitch = sorted(stand, key=lambda la: -heights[la])
    if len(stand) != len(group) or by_pitch == stand:
        return stand

    def misfit(order: list[int]) -> int:
        return sum(_misfit(members[la], desks[d]) for la, d in zip(order, group, strict=True))

    return by_pitch if misfit(by_pitch) < misfit(stand) else stand


def _misfit(chains: Sequence[Chain], desk: Desk) -> int:
    low = 0 if desk.low is None else desk.low
    high = 999 if desk.high is None else desk.high
    return sum(max(0, low - c.tone.semitone, c.tone.semitone - high) for c in chains)


def _mean(chains: Sequence[Chain]) -> int:
    return sum(c.tone.semitone for c in chains) // len(chains)


def _desks_of_layers(
    layers: list[int],
    members: Mapping[int, list[Chain]],
    desks: Sequence[Desk],
    group: list[int],
) -> list[list[int]]:
    """Desks for each layer in order: one each, spare ones where they double best."""
    if not layers:
        return []
    pitches = [_mean(members[layer]) for layer in layers]
    counts = shares(pitches, [desks[i].voice() for i in group])
    waiting = iter(group)
    return [[next(waiting) for _ in range(count)] for count in counts]


def _slots(most: int, desks: Sequence[Desk], group: list[int]) -> tuple[list[Voice], list[int]]:
    """One voice for each desk; more for who can sound several, if there are more notes."""
    spare = max(0, most - len(group))
    voices, owners = [], []
    for desk in group:
        slots = min(desks[desk].at_once, 1 + spare)
        voices += [desks[desk].voice(desk if slots > 1 else -1)] * slots
        owners += [desk] * slots
    return voices, owners


def _close_places(
    moments: Moments, tones: Sequence[Tone], desks: Sequence[Desk], owners: Sequence[int]
) -> None:
    """Where no two notes go together in one hand, the second place of that player is no room."""
    several = [(desk, count) for desk, count in Counter(owners).items() if count > 1]
    for moment, sounding in enumerate(moments.sounding if several else ()):
        if len(sounding) <= len(set(owners)):
            continue
        chords: dict[tuple[int, int], set[int]] = {}
        for tone in (tones[t] for t in sounding):
            chords.setdefault((tone.onset, tone.end), set()).add(tone.semitone)
        for desk, count in several:
            if not any(_has_stop(heights, desks[desk]) for heights in chords.values()):
                moments.close(moment, count - 1)


def _has_stop(heights: Collection[int], desk: Desk) -> bool:
    """Whether two of these heights go together in one hand."""
    low, high = desk.low or 0, desk.high or max(heights)
    inside = sorted(height for height in heights if low <= height <= high)
    pairs = combinations(inside, 2)
    return len(inside) > 1 and (desk.stops is None or any(map(desk.stops, pairs)))


def _beat(chains: Sequence[Chain]) -> int:
    """Ticks of a quarter note, from a plain one; else the middle length stands in."""
    lengths = []
    for chain in chains:
        event = chain.pieces[0].event
        value = event.value
        if value and value.type == "quarter" and not value.dots and value.actual == value.normal:
            return max(1, event.duration)
        lengths.append(event.duration)
    return max(1, median_low(lengths)) if lengths else 1


def _hand_out(chains: Sequence[Chain], desk: int, table: _Table) -> None:
    for chain in chains:
        table.hands[desk] += [*chain.graces, *chain.pieces]


def _leave(chain: Chain, table: _Table, reason: str) -> None:
    table.drop([*chain.graces, *chain.pieces], reason)


def _give_rhythm(found: Gathered, desks: list[int], table: _Table, others: bool) -> None:
    """Desks without pitch take the rhythm of pitched music: the top notes, as one voice."""
    if not desks or not found.chains:
        return
    tops = [
        max(chords, key=lambda c: c.tone.semitone)
        for _, chords in groupby(
            sorted(found.chains, key=lambda c: (c.tone.layer, c.tone.onset)),
            key=lambda c: (c.tone.layer, c.tone.onset),
        )
    ]
    pieces = [p for c in tops for p in (*c.graces, *c.pieces)]
    played, _ = merged(pieces)
    for desk in desks:
        table.hands[desk] += played
    if not others:
        for chain in found.chains:
            _leave(chain, table, RHYTHM)


def _add_everywhere(found: Gathered, table: _Table) -> None:
    """Unpitched notes go to every desk, pauses to all who are silent there."""
    for hand in table.hands:
        hand[:], left = merged([*hand, *found.drums])
        table.drop(left, NO_FREE)
        if found.pauses:
            hand[:], _ = merged([*hand, *found.pauses])


def _settled(table: _Table, known: Known) -> Dealt:
    """Lines of the hands; what one desk left another may play, so it is not lost."""
    left = table.left
    played = {n.origin for hand in table.hands for p in hand for n in p.notes} if left else set()
    dropped = [(o, why) for o, why in left.items() if o < 0 or o not in played]
    names = [tuple(map(id, hand)) for hand in table.hands]
    hands = dict(zip(names, table.hands, strict=True))
    lines = {name: line_of(hand, known) for name, hand in hands.items()}
    return Dealt(tuple([lines[name] for name in names]), tuple(sorted(dropped)))
