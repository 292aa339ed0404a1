"""Dealing notes to players. What is expected is named at each row; without: common practice."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from expander.model.score import Mark
from expander.voicing.deal import Dealt, Desk, deal
from tests.voicing.notation import BAR, read, write

# Sounding compass and comfort in semitones (memory; only the order of size matters here).
VIOLIN_1 = Desk(55, 103, 55, 93, name="violin 1")
VIOLIN_2 = Desk(55, 103, 55, 88, name="violin 2")
VIOLA = Desk(48, 91, 48, 81, name="viola")
CELLO = Desk(36, 84, 36, 69, name="cello")
BASS = Desk(28, 67, 28, 55, name="double bass")
FLUTE = Desk(60, 98, 62, 91, name="flute")
OBOE = Desk(58, 91, 60, 86, name="oboe")
BASSOON = Desk(34, 75, 34, 67, name="bassoon")
HARP = Desk(24, 103, 28, 96, at_once=8, name="harp")
DRUM = Desk(name="side drum")
TRUMPET = Desk(52, 82, 54, 79, name="trumpet")
QUARTET = (VIOLIN_1, VIOLIN_2, VIOLA, CELLO)
STRINGS = (*QUARTET, BASS)

# Opening phrases from the collections of J. S. Bach's four-part chorales (soprano to bass).
BWV269 = (
    "r/8 G4 | G4/8 D5 | B4/6 A4/2 G4",
    "r/8 D4 | D4 E4 D4 | D4/8 B3",
    "r/8 B3 | B3 C4/2 B3/2 A3 | G3 F#3 G3",
    "r/8 G2 | G3 E3 F#3 | G3 D3 E3",
)
BWV66 = (
    "C#5/2 B4/2 | A4 B4 C#5 E5 | C#5 B4 A4 C#5",
    "E4 | F#4 E4 E4 E4 | E4/2 A4/2 G#4 E4 G#4",
    "A3/2 B3/2 | C#4 B3 A3 B3 | A3/2 E4/2 E4/2 D4/2 C#4 C#4",
    "A3/2 G#3/2 | F#3 G#3 A3 G#3 | A3/2 C#3/2 E3 A2 E#3",
)
BWV26 = (
    "A4 B4 C5 C5 | C5 D5 E5 E5 | E5 E5 D5 C5",
    "E4 E4 E4 E4 | E4 G4 G4 G4 | G4 C5/6 B4 A4/2",
    "C4 B3 A3 A3 | A3 B3 C4 C4 | C4/2 D4/2 C4/2 B3/2 A3/2 B3/2 C4/2 E4/2",
    "A3 G#3 A3 A2 | A3 G3 C4 C3 | C4/2 B3/2 A3/2 G3/2 F#3/2 G#3/2 A3",
)


def dealt(layers: tuple[str, ...], desks: tuple[Desk, ...], **options: object) -> list[str]:
    """What each desk gets, as text."""
    bars, starts = read(*layers)
    found = deal(bars, starts, desks, **options)  # type: ignore[arg-type]
    return [write(line, len(bars)) for line in found.lines]


def without_rests(text: str) -> str:
    """The text with leading rests of bars as `write` shows them."""
    return " ".join(text.split())


@pytest.mark.parametrize("chorale", [BWV269, BWV66, BWV26], ids=["BWV 269", "BWV 66.6", "BWV 26.6"])
def test_four_layers_for_four_players_are_their_lines(chorale):
    assert dealt(chorale, QUARTET) == [without_rests(part) for part in chorale]


def test_layers_stay_lines_where_they_cross():
    crossing = ("C5 B4 A4 G4", "A4 B4 C5 D5")
    assert dealt(crossing, (VIOLIN_1, VIOLIN_2)) == list(crossing)


def test_a_silent_layer_leaves_its_player_silent():
    layers = ("C5 D5 E5 F5 | E5/16", "r/16 | C5/16")
    assert dealt(layers, (VIOLIN_1, VIOLIN_2)) == ["C5 D5 E5 F5 | E5/16", " | C5/16"]


def test_layers_upside_down_go_to_the_players_who_have_the_notes():
    assert dealt(("C3 G2", "C6 B5"), (FLUTE, BASSOON)) == ["C6 B5", "C3 G2"]


def test_players_are_ranked_by_range_and_not_by_score_order():
    """A horn stands above the bassoon in some scores and a trumpet below both."""
    assert dealt(("C3+G3+E5",), (BASSOON, TRUMPET, VIOLA)) == ["C3", "E5", "G3"]


CHORDS = [
    # one chord a note each, from the top down
    (("C3+G3+E4+C5",), QUARTET, ["C5", "E4", "G3", "C3"]),
    # smooth lines: each player goes on with the nearest note
    (("E3+G3+C4 F3+A3+C4 D3+G3+B3",), (TRUMPET,) * 3, ["C4 C4 B3", "G3 A3 G3", "E3 F3 D3"]),
    # the chord keeps its rhythm
    (("C4+E4/6 D4+F4/2 C4+E4/8",), (VIOLIN_1, VIOLA), ["E4/6 F4/2 E4/8", "C4/6 D4/2 C4/8"]),
    # a tied note stays with its player while the others move
    (("G3+C4~ A3+C4 F3+A3",), (VIOLIN_1, VIOLA), ["C4~ C4 A3", "G3 A3 F3"]),
    # unison from two layers: two players
    (("C5 D5", "C5 B4"), (VIOLIN_1, VIOLIN_2), ["C5 D5", "C5 B4"]),
    # a chord in the upper layer over a moving bass
    (("E4+C5/8", "C3 D3"), (VIOLIN_1, VIOLA, CELLO), ["C5/8", "E4/8", "C3 D3"]),
    # syllables go with every note of the chord
    (("C4+E4:la D4+F4:lu",), (VIOLIN_1, VIOLA), ["E4:la F4:lu", "C4:la D4:lu"]),
    # across a barline
    (("C4+E4~/16 | C4+E4",), (VIOLIN_1, VIOLA), ["E4~/16 | E4", "C4/16 | C4"]),
]


@pytest.mark.parametrize(("layers", "desks", "expected"), CHORDS)
def test_chords_are_dealt_from_the_top_down(layers, desks, expected):
    assert dealt(layers, desks) == expected


FEWER = [
    # root position triad, root doubled: the inner doubling goes
    ("C3+C4+E4+G4", 3, ["G4", "E4", "C3"]),
    # dominant seventh: the fifth goes before third and seventh
    ("G2+F3+B3+D4+G4", 4, ["G4", "B3", "F3", "G2"]),
    ("G2+D3+F3+B3+G4", 3, ["G4", "B3", "G2"]),
    # ninth over third and seventh: the fifth goes, then the ninth
    ("C3+E3+G3+Bb3+D4+G4", 5, ["G4", "D4", "Bb3", "E3", "C3"]),
    ("C3+E3+G3+Bb3+D4+G4", 4, ["G4", "Bb3", "E3", "C3"]),
    # first inversion: bass has the third, the root inside stays before the fifth
    ("E3+G3+C4+E4", 3, ["E4", "C4", "E3"]),
    # the altered fifth is kept before the root
    ("D3+C4+F#4+G#4+E5", 4, ["E5", "F#4", "C4", "D3"]),
    # two players: tune and bass
    ("C3+G3+E4+C5", 2, ["C5", "C3"]),
    # one player: the tune
    ("C3+G3+E4+C5", 1, ["C5"]),
]


@pytest.mark.parametrize(("chord", "players", "expected"), FEWER)
def test_too_few_players_keep_tune_bass_third_and_seventh(chord, players, expected):
    bars, starts = read(chord)
    found = deal(bars, starts, (Desk(20, 110, 24, 100),) * players)
    assert [write(line) for line in found.lines] == expected
    assert len(found.dropped) == chord.count("+") + 1 - players


def test_a_chord_symbol_says_which_note_is_the_root():
    """F, A, C, D: as F6 the sixth stays and the fifth C goes; as D minor seventh over F, A goes."""
    bars, starts = read("F3+A3+C4+D4+F4")
    desks = (Desk(30, 90),) * 4
    sixth = deal(bars, starts, desks, roots=((0, 5),))
    seventh = deal(bars, starts, desks, roots=((0, 2),))
    assert [write(line) for line in sixth.lines] == ["F4", "D4", "A3", "F3"]
    assert [write(line) for line in seventh.lines] == ["F4", "D4", "C4", "F3"]


def test_what_is_given_up_is_reported_by_its_sketch_number():
    bars, starts = read("C3+C4+E4+G4")
    assert deal(bars, starts, (VIOLIN_1, VIOLA, CELLO)).dropped == ((1, "more notes than players"),)


def test_a_tune_over_held_chords_goes_to_the_only_player():
    assert dealt(("r C5 D5 E5", "C4+E4+G4/16"), (FLUTE,)) == ["r C5 D5 E5"]


MORE = [
    # the top line is doubled first
    (("E4+G4+C5",), (TRUMPET,) * 4, ["C5", "C5", "G4", "E4"]),
    # then the bass
    (("E4+G4+C5",), (TRUMPET,) * 5, ["C5", "C5", "G4", "E4", "E4"]),
    (("E4+G4+C5",), (TRUMPET,) * 6, ["C5", "C5", "G4", "G4", "E4", "E4"]),
    # a single line: everybody
    (("C5 D5",), (VIOLIN_1, VIOLIN_2), ["C5 D5", "C5 D5"]),
    # where the basses have nothing of their own they join the cellos' line
    (("C3+G4+C5+E5",), STRINGS, ["E5", "C5", "G4", "C3", "C3"]),
    # comfort first: neither the bassoon nor the flute can take the other's note
    (("C3+E5",), (FLUTE, OBOE, BASSOON), ["E5", "E5", "C3"]),
    # two layers, four players: two to each throughout
    (("C5 r", "E4 F4"), (TRUMPET,) * 4, ["C5", "C5", "E4 F4", "E4 F4"]),
]


@pytest.mark.parametrize(("layers", "desks", "expected"), MORE)
def test_spare_players_double(layers, desks, expected):
    assert dealt(layers, desks) == expected


def test_spare_players_rest_if_asked():
    assert dealt(("C3+E5 D3+F5",), (FLUTE, OBOE, BASSOON), double="none").count("") == 1


def test_the_player_who_rests_is_the_one_whose_line_stops():
    thin = "C3+G4+C5 G4+C5 G4+B4 C3+G4+C5"
    desks = (VIOLIN_1, VIOLA, CELLO)
    assert dealt((thin,), desks, double="none") == ["C5 C5 B4 C5", "G4 G4 G4 G4", "C3 r/8 C3"]


SPECIAL = [
    # grace notes go with the note they precede
    (("(D5) E4+C5 D4+B4",), (VIOLIN_1, VIOLA), ["(D5) C5 B4", "E4 D4"]),
    (("(F4+D5) E4+C5",), (VIOLIN_1, VIOLA), ["(D5) C5", "(F4) E4"]),
    (("(D4) E4+C5",), (VIOLIN_1, VIOLA), ["C5", "(D4) E4"]),
    # an after-beat at the end of the bar belongs to the note before it
    (("E4+C5 (D5) | D4+B4",), (VIOLIN_1, VIOLA), ["C5 (D5) | B4", "E4 | D4"]),
    # a rest with a fermata is for everybody
    (("E4+C5 r!",), (VIOLIN_1, VIOLA), ["C5 r!", "E4 r!"]),
    # a plain rest is left out
    (("E4+C5 r D4+B4",), (VIOLIN_1, VIOLA), ["C5 r B4", "E4 r D4"]),
    # unpitched notes are for everybody
    (("*C5 *C5",), (VIOLIN_1, DRUM), ["*C5 *C5", "*C5 *C5"]),
    # a drum beside a line has its rhythm
    (("C3 G2/8",), (BASS, DRUM), ["C3 G2/8", "C3 G2/8"]),
    # a harp takes what is over, in chords
    (("C3+G3+E4+C5",), (VIOLIN_1, HARP), ["C5", "C3+G3+E4"]),
    (("C3+G3+E4+C5",), (HARP,), ["C3+G3+E4+C5"]),
]


@pytest.mark.parametrize(("layers", "desks", "expected"), SPECIAL)
def test_what_is_not_a_plain_note_goes_where_it_belongs(layers, desks, expected):
    assert dealt(layers, desks) == expected


def test_marks_and_beams_stay_on_every_part_of_a_split_chord():
    bars, starts = read("E4+C5")
    accent = Mark("articulations", "accent")
    beam = Mark("note", "beam", (("number", "1"),), "begin")
    event = replace(bars[0][0][0], marks=(accent,), beams=(beam,), stem="up")
    found = deal({0: ((event,),)}, starts, (VIOLIN_1, VIOLA))
    for line in found.lines:
        assert (line[0][0].marks, line[0][0].beams, line[0][0].stem) == ((accent,), (beam,), "up")


def test_no_desk_is_refused():
    bars, starts = read("C5")
    with pytest.raises(ValueError, match="no desk"):
        deal(bars, starts, ())


# ---------------------------------------------------------------- properties

NAMES = ("C3", "E3", "G3", "A3", "C4", "D4", "E4", "F4", "G4", "B4", "C5", "E5", "G5")


@st.composite
def layer(draw: st.DrawFn) -> str:
    """Bars of random chords, rests and ties; every bar is full."""
    bars = []
    for _ in range(draw(st.integers(1, 3))):
        left, tokens = BAR, []
        while left:
            length = draw(st.sampled_from([n for n in (2, 4, 8, 16) if n <= left]))
            chord = draw(st.lists(st.sampled_from(NAMES), max_size=4, unique=True))
            tie = "~" if chord and draw(st.booleans()) else ""
            tokens.append(("+".join(sorted(chord)) + tie if chord else "r") + f"/{length}")
            left -= length
        bars.append(" ".join(tokens))
    return " | ".join((bars * 3)[:3])


STRANDS = st.lists(layer(), min_size=1, max_size=3)
DESKS = st.lists(
    st.builds(
        lambda low, size, at_once: Desk(low, low + size, low + 3, low + size - 3, at_once),
        st.integers(30, 70),
        st.integers(12, 40),
        st.sampled_from((1, 1, 1, 2, 6)),
    ),
    min_size=1,
    max_size=12,
)


def placed(found: Dealt) -> Counter[int]:
    notes = (n for line in found.lines for bar in line.values() for e in bar for n in e.notes)
    return Counter(n.origin for n in notes)


@settings(max_examples=60, deadline=None)
@given(STRANDS, DESKS)
def test_every_note_is_placed_or_reported_and_never_both(strand, desks):
    bars, starts = read(*strand)
    found = deal(bars, starts, desks)
    numbers = {n.origin for b in bars.values() for la in b for e in la for n in e.notes}
    lost = {origin for origin, _ in found.dropped}
    assert set(placed(found)) | lost == numbers
    assert not set(placed(found)) & lost


@settings(max_examples=60, deadline=None)
@given(STRANDS, DESKS)
def test_a_line_is_one_voice_that_its_player_can_sound(strand, desks):
    bars, starts = read(*strand)
    for line, desk in zip(deal(bars, starts, desks).lines, desks, strict=True):
        for events in line.values():
            assert all(a.end <= b.at for a, b in pairwise(events))
            assert all(0 < len(e.notes) <= desk.at_once for e in events)


@settings(max_examples=60, deadline=None)
@given(STRANDS, DESKS)
def test_a_tied_chain_is_whole_wherever_it_is(strand, desks):
    bars, starts = read(*strand)
    lengths: Counter[int] = Counter(
        n.origin for b in bars.values() for la in b for e in la for n in e.notes
    )
    for line in deal(bars, starts, desks).lines:
        here = Counter(n.origin for bar in line.values() for e in bar for n in e.notes)
        assert all(count == lengths[origin] for origin, count in here.items())


@settings(max_examples=20, deadline=None)
@given(STRANDS, DESKS)
def test_the_same_music_is_dealt_the_same_way(strand, desks):
    bars, starts = read(*strand)
    assert deal(bars, starts, desks) == deal(dict(reversed(bars.items())), starts, desks)


@settings(max_examples=40, deadline=None)
@given(STRANDS, st.integers(1, 12))
def test_nobody_rests_while_others_could_be_doubled_in_a_chord_that_all_begin(strand, players):
    """In one layer of chords every desk plays whenever anybody does."""
    bars, starts = read(strand[0].replace("~", ""))
    found = deal(bars, starts, (Desk(20, 110),) * players)
    busy = [{(b, e.at) for b, bar in line.items() for e in bar} for line in found.lines]
    deepest = max((len(e.notes) for b in bars.values() for e in b[0]), default=0)
    if players >= deepest:
        assert all(times == busy[0] for times in busy)


def test_random_seeds_play_no_part():
    bars, starts = read(*BWV66)
    first = deal(bars, starts, STRINGS)
    Random(5).random()
    assert deal(bars, starts, STRINGS) == first
