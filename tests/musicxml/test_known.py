"""Music that stands in a file twice is read once, and comes to what it would be read alone."""

import pytest

from expander.musicxml import read_bytes
from tests.musicxml import broken as b
from tests.musicxml.corpus import CONFORMANCE, label

QUARTER = b.NOTE.replace(">4</dur", ">1</dur").replace("whole", "quarter")
FOUR = QUARTER * 4
TWO_STAVES = QUARTER.replace("<type>", "<staff>2</staff><type>")
NOT_LOOKED_UP = b"<!-- <note default-x -->"
"""With this in it, a file is read without looking anything up."""


def parts(*bars_of_each, listed=""):
    """A score of several parts, each of some bars."""
    names = [f"P{n + 1}" for n in range(len(bars_of_each))]
    head = "".join(
        f'<score-part id="{n}"><part-name>{n}</part-name>{listed.format(n)}</score-part>'
        for n in names
    )
    music = "\n".join(
        f'<part id="{n}">{"".join(bars)}</part>'
        for n, bars in zip(names, bars_of_each, strict=True)
    )
    return (
        f'<score-partwise version="4.0"><part-list>{head}</part-list>{music}</score-partwise>'
    ).encode()


def bars(*contents, opening=b.OPENING):
    return [b.bar(c, str(n + 1), "" if n else opening) for n, c in enumerate(contents)]


def alone(data):
    """The file read with nothing looked up."""
    return read_bytes(data + NOT_LOOKED_UP, "air")


TWO_SOUNDS = "".join(
    f'<score-instrument id="I{n}"><instrument-name>{n}</instrument-name></score-instrument>'
    for n in (1, 2)
)
EMPTY = "<note/>"
NESTED = f"<note>{QUARTER}</note>"

ROWS = {
    "the same bar over and over": parts(bars(FOUR, FOUR, FOUR)),
    "the same bar in two parts": parts(bars(FOUR, FOUR), bars(FOUR, FOUR)),
    "the same text at other divisions": parts(
        bars(FOUR, QUARTER * 2, QUARTER * 2),
        bars(QUARTER * 8, QUARTER * 2, opening=b.OPENING.replace(">1</div", ">2</div")),
    ),
    "divisions that change on the way": parts(
        bars(FOUR, FOUR, "<attributes><divisions>2</divisions></attributes>" + FOUR * 2, FOUR * 2)
    ),
    "no divisions at all": parts(bars(FOUR, FOUR, opening=""), bars(FOUR, FOUR, opening="")),
    "a second staff": parts(bars(FOUR, FOUR), bars(TWO_STAVES * 4, FOUR), bars(FOUR, FOUR)),
    "sounds of each part's own, by the same names": parts(
        *[bars(*[FOUR.replace("<voice>", '<instrument id="I2"/><voice>')] * 2)] * 2,
        listed=TWO_SOUNDS,
    ),
    "a note inside a note and an empty one": parts(
        bars(EMPTY + NESTED + FOUR, NESTED + EMPTY + FOUR, FOUR)
    ),
    "a chord whose heads bring marks of their own": parts(
        bars(
            (
                QUARTER
                + QUARTER.replace("<pitch>", "<chord/><pitch>", 1).replace(
                    "</note>", "<notations><fermata/></notations></note>"
                )
            )
            * 4,
            FOUR,
        )
    ),
    "what is odd, said once": parts(bars(*[FOUR.replace("quarter", "crotchet")] * 3)),
    "what is odd, said each time": parts(bars(*[FOUR + "<backup/>"] * 3)),
    "times too fine for the grid": parts(
        bars(*[QUARTER.replace(">1</dur", ">0.3333</dur") * 3 + QUARTER * 3] * 2)
    ),
}


@pytest.mark.parametrize("name", ROWS)
def test_a_bar_read_before_is_what_it_would_be_read_alone(name):
    assert repr(read_bytes(ROWS[name], "air")) == repr(alone(ROWS[name]))


@pytest.mark.parametrize("path", CONFORMANCE, ids=label)
def test_a_conformance_file_is_the_same_with_nothing_looked_up(path, plain):
    data = plain(path)
    assert repr(read_bytes(data, "air")) == repr(alone(data))


def test_players_who_double_share_their_events():
    score = read_bytes(ROWS["the same bar in two parts"], "air")
    one, other = (part.bars[1].layers[0] for part in score.parts)
    assert one is other


def test_bars_that_sound_alike_but_are_written_otherwise_do_not():
    score = read_bytes(ROWS["the same text at other divisions"], "air")
    one, other = (part.bars[1].layers[0] for part in score.parts)
    assert [e.duration for e in one] == [2 * e.duration for e in other]
