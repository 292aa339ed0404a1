"""Key signatures that do not fit the score's key."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Hand, Music, Stand
from expander.model.finding import Severity

CIRCLE = 12
KEYLESS = ("brass", "pitched percussion", "unpitched percussion")
"""Families traditionally written without signature."""


def detect(music: Music) -> Iterator[Hit]:
    """Stands whose signature disagrees with what most of the others say, once a region."""
    if len(music.stands) < 2:
        return
    told: dict[int, tuple[int, int] | None] = {}
    for bar in _turns(music):
        concert = _concert(music, bar)
        if concert is None:
            continue
        for stand in music.stands:
            state = _disagrees(stand, stand.hands[bar], concert)
            if state and told.get(stand.index) != state:
                yield _hit(stand, bar, concert, stand.hands[bar])
            told[stand.index] = state


def _turns(music: Music) -> Iterator[int]:
    """The bars in which any signature or transposition is another than in the bar before."""
    before: object = None
    for bar, hands in enumerate(zip(*[stand.hands for stand in music.stands], strict=True)):
        now = [(hand.fifths, hand.move.chromatic) for hand in hands]
        if now != before:
            yield bar
        before = now


def _concert(music: Music, bar: int) -> int | None:
    """The signature (mod 12) that more than half of the stands with one agree on, sounding."""
    votes = Counter(
        _sounding(stand.hands[bar])
        for stand in music.stands
        if stand.hands[bar].fifths is not None and not _may_be_keyless(stand, stand.hands[bar])
    )
    if not votes:
        return None
    key, count = votes.most_common(1)[0]
    return key if 2 * count > sum(votes.values()) else None


def _sounding(hand: Hand) -> int:
    return ((hand.fifths or 0) + 7 * hand.move.chromatic) % CIRCLE


def _may_be_keyless(stand: Stand, hand: Hand) -> bool:
    one = stand.instrument
    keyless = one is None or one.keyless or one.family in KEYLESS or not one.pitched
    return keyless and not hand.fifths


def _disagrees(stand: Stand, hand: Hand, concert: int) -> tuple[int, int] | None:
    if hand.fifths is None or stand.instrument is None or _may_be_keyless(stand, hand):
        return None
    if stand.doubtful:
        return None  # voices before 1700 may each have a signature of their own
    if stand.stated is None and stand.move.chromatic:
        return None  # the key of the instrument was inferred, not told
    return None if _sounding(hand) == concert else (hand.fifths, concert)


def _hit(stand: Stand, bar: int, concert: int, hand: Hand) -> Hit:
    wanted = (concert - 7 * hand.move.chromatic) % CIRCLE
    wanted = wanted - CIRCLE if wanted > CIRCLE // 2 else wanted
    return Hit(
        stand,
        bar,
        0,
        f"the key signature has {_worded(hand.fifths or 0)}; the key of the score, transposed "
        f"for this part, has {_worded(wanted)}.",
        figure=_worded(wanted),
    )


def _worded(fifths: int) -> str:
    if not fifths:
        return "no sharps or flats"
    kind = "sharp" if fifths > 0 else "flat"
    return f"{abs(fifths)} {kind}{'s' if abs(fifths) > 1 else ''}"


CHECK = Check(
    id="wrong-key-signature",
    title="Key signature does not fit",
    finds="A part whose signature is not the score's key moved by the part's transposition.",
    why="Every note that relies on the signature is read wrong.",
    example="A clarinet in B flat with two sharps in a piece in D major: it needs four.",
    instead="Give the part the transposed signature, or none where the instrument goes without.",
    severity=Severity.ERROR,
    source="The circle of fifths; brass and drums without signature are common practice.",
    detect=detect,
)
