"""The view that checks read: instruments, pitches, tempo, states of the hand, sonorities."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.loader import instrument
from expander.checks.music import Music, Stand
from expander.checks.prepare import music_of
from expander.checks.saying import said_by
from expander.checks.slide import positions, shift, slides
from expander.checks.sonority import slices
from expander.checks.stopping import spread
from expander.model.pitch import Sounding
from expander.model.score import Direction, Mark, Sound
from tests.mini import document


def view(text: str) -> Music:
    return music_of(document(text))


def stand(text: str) -> Stand:
    return view(text).stands[0]


def height(name: str) -> int:
    return int(Sounding.named(name).semitone)


VIOLIN = tuple(height(name) for name in ("G3", "D4", "A4", "E5"))
CELLO = tuple(height(name) for name in ("C2", "G2", "D3", "A3"))


@pytest.mark.parametrize(
    ("head", "written", "sounding"),
    [
        ("Flute", "C5", "C5"),
        ("Clarinet in Bb (-1 -2 0)", "C5", "Bb4"),
        ("Horn in F (-4 -7 0)", "C5", "F4"),
        ("Horn in D (-6 -10 0)", "C5", "D4"),
        ("Double Bass (0 0 -1)", "C3", "C2"),
        ("Piccolo (0 0 1)", "C5", "C6"),
    ],
)
def test_heights_are_what_is_heard(head: str, written: str, sounding: str) -> None:
    assert stand(f"{head}: {written}:w").chords[0].heads[0].height == height(sounding)


def test_a_part_that_states_nothing_is_read_in_the_octave_that_fits() -> None:
    low = stand("Double Bass: @bass E2:q G2 C3 B3")
    assert low.chords[0].heads[0].height == height("E1")
    heard = stand("Double Bass: @bass E1:q G1 C2 A1")
    assert heard.chords[0].heads[0].height == height("E1")


def test_a_tenor_may_stand_in_the_plain_treble_clef() -> None:
    high = stand("Tenor: @treble C5:q E5 G5 F5 | C5:w")
    assert high.chords[0].heads[0].height == height("C4")


def test_at_concert_pitch_nothing_moves() -> None:
    score = document("Clarinet in Bb: C5:w")
    score = replace(score, header=replace(score.header, concert_pitch=True))
    assert music_of(score).stands[0].chords[0].heads[0].height == height("C5")


def test_a_player_may_start_on_another_instrument_than_the_parts_name_says() -> None:
    score = document("Alto Saxophone in Eb 2 (-1 -2 0): D4:w | C5:w")
    part = score.parts[0]
    sounds = (
        Sound("P1-I1", "Alto Saxophone", "wind.reed.saxophone.alto"),
        Sound("P1-I2", "Clarinet", "wind.reed.clarinet.bflat"),
    )
    change = Mark("direction", "sound", (), "", '<instrument-change id="P1-I2"/>')
    told = Direction(0, (Mark("direction-type", "words", (), "Clarinet"),), sound=change)
    bars = (replace(part.bars[0], directions=(told,)), *part.bars[1:])
    score = replace(score, parts=(replace(part, bars=bars, sounds=sounds),))
    found = music_of(score).stands[0]
    assert found.hands[0].instrument is instrument("clarinet-bb")
    assert found.chords[0].heads[0].height == height("C4")


@pytest.mark.parametrize(
    ("name", "players"),
    [
        ("Oboe 1", 1),
        ("Oboi", 2),
        ("2 Oboen", 2),
        ("Horns in F 1. 2.", 2),
        ("Timpani", 1),
        ("Violins", 12),
        ("Violin", 1),
        ("Violins 2", 10),
    ],
)
def test_players_are_counted_by_the_name(name: str, players: int) -> None:
    assert stand(f"{name}: R").players == players


def test_a_single_violin_stands_for_a_section_in_an_orchestra() -> None:
    music = view("Oboe: C5:w\nViolin 1: C5:w\nViolin 2: C5:w\nViola: @alto C4:w\nCello: @bass C3:w")
    assert [s.players for s in music.stands] == [1, 12, 10, 8, 6]


def test_the_line_up_tells_how_many_play() -> None:
    line_up = load_ensemble("string-orchestra", None)
    label = line_up.staves[0].label
    size = sum(line_up.players[i].size for i in line_up.staves[0].players)
    music = music_of(document(f"{label}: C5:w"), ensemble=line_up)
    assert music.stands[0].players == size


def test_the_line_up_tells_the_instrument_where_the_name_does_not() -> None:
    line_up = load_ensemble("string-quartet", None)
    rows = "\n".join(f"Line {n}: C4:w" for n in "abcd")
    found = music_of(document(rows), ensemble=line_up).stands
    assert [s.instrument.id for s in found if s.instrument] == [
        "violin",
        "violin",
        "viola",
        "cello",
    ]
    assert [s.instrument for s in view(rows).stands] == [None] * 4


@pytest.mark.parametrize(
    ("mark", "seconds"),
    [
        ("<q=120>", 2.0),
        ("<h=60>", 2.0),
        ("<q.=40>", 4.0),
        ('"Adagio"', 4.0),
        ('"Presto"', 4 * 60 / 175),
        ("", 2.4),
    ],
)
def test_a_bar_of_four_quarters_lasts(mark: str, seconds: float) -> None:
    music = view(f"Flute: {mark} C5:w | C5:w")
    bar = music.score.bars[1].start
    assert music.seconds(0, bar) == pytest.approx(seconds)


def test_a_change_of_tempo_holds_from_its_place() -> None:
    music = view("Flute: <q=60> C5:w | <q=120> C5:w | C5:w")
    starts = [bar.start for bar in music.score.bars]
    assert [music.clock.at(tick) for tick in starts] == pytest.approx([0.0, 4.0, 6.0])


def test_what_holds_is_known_at_each_note() -> None:
    found = stand('Violin: !p "pizz." C5:q D5 !f "arco" E5 "con sord." F5 | G5:w')
    states = [(c.hand.dynamic, c.hand.bow, c.hand.mute) for c in found.chords]
    assert states == [
        ("p", "pizz", ""),
        ("p", "pizz", ""),
        ("f", "arco", ""),
        ("f", "arco", "mute"),
        ("f", "arco", "mute"),
    ]


@pytest.mark.parametrize(
    ("words", "states"),
    [
        ("pizz.", {"bow": "pizz"}),
        ("arco, con sord.", {"bow": "arco", "mute": "mute"}),
        ("senza sord.", {"mute": ""}),
        ("mit dampfer", {"mute": "mute"}),
        ("avec sourdine", {"mute": "mute"}),
        ("harmon mute (stem out)", {"mute": "harmon"}),
        ("harmonics", {}),
        ("cup mute", {"mute": "cup"}),
        ("open", {"mute": ""}),
        ("gestopft", {"mute": "stopped"}),
        ("div. a 3", {"split": "div"}),
        ("non div.", {"split": "non div"}),
        ("unis.", {"split": "unis"}),
        ("a 2", {"label": "a 2"}),
        ("1. 2.", {"label": "1. 2."}),
        ("1.", {"label": "1."}),
        ("zu 2", {"label": "a 2"}),
        ("to piccolo", {}),
        ("arcobaleno", {}),
        ("dolce", {}),
    ],
)
def test_words_set_states(words: str, states: dict[str, str]) -> None:
    assert dict(said_by(words)) == states


def test_cue_notes_are_information_and_no_music() -> None:
    found = stand("Trombone: @bass ,C4:w | F3:w")
    assert [c.bar for c in found.chords] == [1]
    assert found.cued == {0}


def test_sonorities_hold_what_sounds_together() -> None:
    found = slices(view("Flute: C5:h E5:h\nViola: @alto C4:w"))
    assert [[t.height for t in s.tones] for s in found] == [
        [height("C4"), height("C5")],
        [height("C4"), height("E5")],
    ]


@pytest.mark.parametrize(
    ("notes", "width"),
    [
        ("G3 D4", 0),
        ("A4 C6", 0),
        ("C4 A4", 2),
        ("B4 G5", 1),
        ("A3 C4", None),
        ("G3 E4 C5 A5", 3),
        ("B4 F6", 11),
    ],
)
def test_fingers_lie_so_far_apart_on_the_violin(notes: str, width: int | None) -> None:
    """By hand from the tuning; C. Forsyth, Orchestration, pp. 316-317, names the easy ones."""
    heights = tuple(height(name) for name in notes.split())
    found = spread(heights, VIOLIN, False)
    assert found == width


def test_the_thumb_gives_cellists_octaves_high_up() -> None:
    high = (height("A3"), height("A4"))
    assert spread(high, CELLO, True) == 0
    assert spread(high, CELLO, False) == 5


@pytest.mark.parametrize(
    ("note", "first"),
    [("Bb2", 1), ("A2", 2), ("Ab2", 3), ("G2", 4), ("F#2", 5), ("F2", 6), ("E2", 7)],
)
def test_the_slide_positions_of_the_second_partial(note: str, first: int) -> None:
    """Any trombone method: B flat 2 in first position down to E2 in seventh."""
    assert positions(height(note))[0] == first


def test_the_slide_moves_as_far_as_it_must() -> None:
    tenor = instrument("tenor-trombone")
    assert shift(tenor, height("Bb2"), height("B2")) == 6
    assert shift(tenor, height("Bb2"), height("A2")) == 1
    assert shift(instrument("bass-trombone"), height("Bb2"), height("B2")) < 6


def test_only_notes_of_one_partial_are_joined_by_a_glissando() -> None:
    assert slides(height("E3"), height("Bb3"))
    assert not slides(height("B1"), height("F2"))  # Bartók, Concerto for Orchestra, IV
