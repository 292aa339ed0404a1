"""The order of bars with repeats and jumps, by hand and beside music21's."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest

from expander.model.playing import playing_order
from expander.musicxml import read, to_bytes
from tests import mini

# After a jump repeats are not made again: common practice, no source; music21 agrees in all rows.
BOTH = {
    "straight": ("R | R | R", "123"),
    "from the beginning": ("R | R :| R", "12123"),
    "from a sign": ("R |: R :| R", "1223"),
    "two endings": ("R |: R | volta1+ volta1- R :| volta2+ volta2- R | R", "123245"),
    "da capo": ('R | R "Fine" | R | R "D.C. al Fine"', "123412"),
    "da capo after a repeat": ('R |: R :| R "Fine" | R "D.C. al Fine"', "12234123"),
    "dal segno": ('R | <segno> R | R "Fine" | R "D.S. al Fine"', "123423"),
    "coda": ('R | <segno> R "To Coda" | R | R "D.S. al Coda" | <coda> R | R', "1234256"),
}


@pytest.mark.parametrize(("text", "played"), BOTH.values(), ids=BOTH)
def test_bars_are_played_in_order(text: str, played: str) -> None:
    score = mini.document(f"Flute: {text}")
    assert numbered(playing_order(score)) == played
    assert numbered(by_music21(to_bytes(score).decode())) == played


ALONE = {
    # A repeat without a beginning goes back to the one before it (common practice, no source).
    "to the sign before": ("R |: R :| R | R :| R", "12234345"),
    # Two signs and no words: the first says from where, the second is the goal (common practice).
    "signs alone": ('R | <segno> R <coda> | R "D.S." | <coda> R', "12324"),
    "an ending that nothing closes": ("R |: R | volta1+ R :| R", "12324"),
    "a repeat that never ends": ("R |: R | R", "123"),
    "nothing to go back to": ('R | R "D.S."', "1212"),
}


@pytest.mark.parametrize(("text", "played"), ALONE.values(), ids=ALONE)
def test_what_music21_does_not_play_so(text: str, played: str) -> None:
    assert numbered(playing_order(mini.document(f"Flute: {text}"))) == played


MUSIC21 = Path(music21.__file__).parent
PIECES = [
    "musicxml/lilypondTestSuite/45a-SimpleRepeat.xml",
    "musicxml/lilypondTestSuite/45b-RepeatWithAlternatives.xml",
    "corpus/bach/bwv103.6.mxl",
    "corpus/leadSheet/fosterBrownHair.mxl",
    "corpus/leadSheet/berlinAlexandersRagtime.mxl",
]


@pytest.mark.parametrize("piece", PIECES)
def test_real_repeats_are_played_as_music21_does(piece: str) -> None:
    score = read(MUSIC21 / piece)
    played = playing_order(score)
    assert played == by_music21(to_bytes(score).decode())
    assert set(played) == set(range(len(score.bars)))


def test_a_passage_is_played_as_often_as_the_file_says() -> None:
    # 45c has times="5" and times="3"; the second passage begins where the first ends.
    score = read(MUSIC21 / "musicxml/lilypondTestSuite/45c-RepeatMultipleTimes.xml")
    assert playing_order(score) == (0, *(1, 2) * 5, *(3, 4, 5, 6) * 3, 7)


def numbered(bars: tuple[int, ...]) -> str:
    return "".join(str(bar + 1) for bar in bars)


def by_music21(text: str) -> tuple[int, ...]:
    part = music21.converter.parseData(text, format="musicxml").parts[0]
    for index, bar in enumerate(part.getElementsByClass("Measure")):
        bar.editorial.place = index
    played = part.expandRepeats().getElementsByClass("Measure")
    return tuple(bar.editorial.place for bar in played)
