"""Which notes make a line. Sources stand beside the rows; without one: common practice."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.model.pitch import Sounding
from expander.voicing.assign import LEFT_OUT, assign, search
from expander.voicing.cost import costs
from expander.voicing.figures import set_for, shipped
from expander.voicing.polyphony import best, prepare, untangle
from expander.voicing.registers import registers
from expander.voicing.tones import Tone, Voice
from tests.voicing.test_deal import BWV26, BWV66, BWV269

BEAT = 4
ANY = Voice()


def line(text: str, layer: int = 0) -> list[Tone]:
    """A part in the notation of `notation.py`, without ties, as tones."""
    found, now = [], 0
    for token in text.replace("|", " ").split():
        name, _, length = token.partition("/")
        end = now + int(length or 4)
        if name != "r":
            found.append(Tone(now, end, int(Sounding.named(name).semitone), layer))
        now = end
    return found


def mixed(*parts: str) -> tuple[list[Tone], list[int]]:
    """All notes in order of time and pitch, without trace of their part; and the parts."""
    rows = [(tone, number) for number, part in enumerate(parts) for tone in line(part)]
    rows.sort(key=lambda row: (row[0].onset, -row[0].semitone, row[0].end, row[1]))
    return [tone for tone, _ in rows], [number for _, number in rows]


FOUR_PARTS = [
    pytest.param(BWV269, id="BWV 269"),
    pytest.param(BWV66, id="BWV 66.6"),
    pytest.param(BWV26, id="BWV 26.6"),
]

BELOW_A_FIGURE = (
    "B5/2 r/14 D6/6 r/10",
    "G5/2 r/2 B3/6 G#3/1 A3/1 A3/2 r/2 F#5/6 r/4",
    "D4/1 D5/1 D4/1 D5/1 D4/1 D5/1 D4/1 D5/1 D4/1 D5/1 D4/1 D5/1 D4/1 D5/1 D4/1 D5/1",
)


@pytest.mark.parametrize("parts", FOUR_PARTS)
@pytest.mark.parametrize("method", [untangle, assign], ids=["notes alone", "dealing"])
def test_the_four_parts_of_a_chorale_are_found_from_the_notes(parts, method):
    """J. S. Bach's chorales, opening phrases, soprano to bass."""
    tones, truth = mixed(*parts)
    assert method(tones, (ANY,) * 4, beat=BEAT) == tuple(truth)


LINES = [
    # steps are kept together, the higher line first
    (("C5 D5 E5 F5", "A4 B4 C5 D5"), 2),
    # contrary motion to a unison
    (("C5 B4 A4 G4", "E4 F4 G4 G4"), 2),
    # a held note keeps its voice while the other moves
    (("C5/16", "E4 F4 G4 F4"), 2),
    (("C5 D5 E5 F5", "E4/16"), 2),
    # the upper voice is silent for a while: the lower one goes on where it was
    (("C5 D5 r/8 E5 D5", "E4 F4 G4 F4 G4 F4"), 2),
    # and the other way round
    (("C5 D5 E5 D5 C5 D5", "E4 F4 r/8 G4 F4"), 2),
    # the inner voice rests
    (("C5 D5 E5 D5", "G4 r/8 G4", "C3 D3 C3 B2"), 3),
]


@pytest.mark.parametrize(("parts", "count"), LINES)
@pytest.mark.parametrize("method", [untangle, assign], ids=["notes alone", "dealing"])
def test_lines_are_told_apart(parts, count, method):
    tones, truth = mixed(*parts)
    assert method(tones, (ANY,) * count, beat=BEAT) == tuple(truth)


def test_layers_are_kept_where_they_cross():
    tones = line("C5 B4 A4 G4", layer=0) + line("A4 B4 C5 D5", layer=1)
    assert assign(tones, (ANY, ANY), beat=BEAT) == (0, 0, 0, 0, 1, 1, 1, 1)


def test_a_note_out_of_the_upper_range_goes_to_the_lower_voice():
    high, low = Voice(60, 90), Voice(40, 90)
    assert assign([Tone(0, 4, 50)], (high, low), beat=BEAT) == (1,)
    assert untangle([Tone(0, 4, 50)], (high, low), beat=BEAT) == (1,)


def test_a_comfortable_voice_is_preferred():
    uneasy = Voice(40, 90, 70, 90)
    assert assign([Tone(0, 4, 60)], (uneasy, Voice(40, 90, 50, 70)), beat=BEAT) == (1,)


def test_one_player_starts_and_ends_chords_together():
    """The longer note cannot join the chord of the same player and is left out."""
    hands = (Voice(player=0), Voice(player=0))
    tones = [Tone(0, 4, 72), Tone(0, 8, 60)]
    assert assign(tones, hands, beat=BEAT).count(LEFT_OUT) == 1
    assert assign([Tone(0, 4, 72), Tone(0, 4, 60)], hands, beat=BEAT) == (0, 1)


def test_one_player_does_not_play_a_note_twice():
    hands = (Voice(player=0), Voice(player=0))
    assert assign([Tone(0, 4, 60)] * 2, hands, beat=BEAT).count(LEFT_OUT) == 1


def test_more_notes_than_voices():
    chord = [Tone(0, 4, p) for p in (60, 64, 67)]
    assert assign(chord, (ANY, ANY), beat=BEAT).count(LEFT_OUT) == 1
    with pytest.raises(ValueError, match="more than 2 notes"):
        untangle(chord, 2, beat=BEAT)


def test_copies_of_a_doubled_note_are_weighed_once():
    """Who has which copy makes no difference: one pair on the tune, one reading after each note."""
    tune, held = line("C5 D5 E5 F5") * 2, line("C4/16")
    placed, readings = search([*tune, *held], [ANY] * 3, beat=BEAT)
    assert sorted(placed) == [0, 0, 0, 0, 1, 1, 1, 1, 2]
    assert placed[-1] == 2
    assert readings <= 1.5 * (len(tune) + len(held))


def test_no_notes_no_voices():
    assert assign([], (ANY,), beat=BEAT) == ()
    assert untangle([], 3, beat=BEAT) == ()


@pytest.mark.parametrize(
    ("semitones", "ticks", "lengths"), [(0, 0, (4, 4)), (7, 4, (4, 8)), (19, 64, (8, 1))]
)
def test_costs_grow_with_what_they_are_for(semitones, ticks, lengths):
    cost = costs()
    assert cost.leap_of(semitones) <= cost.leap_of(semitones + 12)
    assert cost.leap_of(semitones) == cost.leap_of(-semitones)
    assert cost.rest_of(ticks, BEAT) < cost.rest_of(2 * ticks + 8, BEAT)
    assert cost.lengths_of(*lengths) == cost.lengths_of(*reversed(lengths))


def test_registers_follow_the_voices_and_fade():
    """Two voices an octave lower in the second half: near registers follow, wide ones less."""
    times = list(range(0, 400, 4))
    chords = [(72, 60) if t < 200 else (60, 48) for t in times]
    near = registers(times, chords, 2, 12)
    wide = registers(times, chords, 2, 400)
    assert near[0][0] > wide[0][0] > wide[-1][0] > near[-1][0]
    assert all(a - b == 48 for a, b in near)


def test_registers_without_any_full_chord_share_the_pitches_out():
    assert registers([0, 4], [(72,), (48,)], 2, 12)[0] == (288, 192)


# ---------------------------------------------------------------- properties


@st.composite
def polyphony(draw: st.DrawFn) -> tuple[list[Tone], int]:
    """Up to 12 monophonic parts of random notes and rests, mixed."""
    count = draw(st.sampled_from((1, 2, 4, 5, 12)))
    found = []
    for part in range(count):
        now = 0
        for _ in range(draw(st.integers(0, 4))):
            length = draw(st.integers(1, 8))
            pitch = draw(st.integers(40, 84))
            if draw(st.booleans()):
                found.append(Tone(now, now + length, pitch, part % 3))
            now += length
    return found, count


def overlaps(tones: list[Tone], placed: tuple[int, ...]) -> bool:
    lines: dict[int, list[Tone]] = {}
    for tone, voice in zip(tones, placed, strict=True):
        lines.setdefault(voice, []).append(tone)
    ordered = (sorted(one, key=lambda t: t.onset) for one in lines.values())
    return any(a.end > b.onset for one in ordered for a, b in itertools.pairwise(one))


@settings(max_examples=40, deadline=None)
@given(polyphony())
def test_every_note_has_a_voice_and_no_voice_two_notes_at_once(music):
    tones, count = music
    for placed in (assign(tones, (ANY,) * count, beat=BEAT), untangle(tones, count, beat=BEAT)):
        assert all(0 <= voice < count for voice in placed)
        assert not overlaps(tones, placed)


@settings(max_examples=25, deadline=None)
@given(polyphony(), st.randoms())
def test_the_order_in_which_notes_are_given_does_not_matter(music, random):
    """But for notes that are the same: they may change places."""
    tones, count = music
    order = list(range(len(tones)))
    random.shuffle(order)
    for method in (assign, untangle):
        voices = (ANY,) * count
        straight = sorted(zip(tones, method(tones, voices, beat=BEAT), strict=True), key=repr)
        shuffled = [tones[i] for i in order]
        again = sorted(zip(shuffled, method(shuffled, voices, beat=BEAT), strict=True), key=repr)
        assert straight == again


@pytest.mark.parametrize("count", [2, 4, 8, 12])
def test_the_work_is_linear_in_the_length(count):
    """Readings looked at for music four times as long: four times as many, for any voices."""
    bar = [Tone(4 * k, 4 * k + 4 + k % 3, 48 + 3 * v + k % 5) for k in range(4) for v in range(1)]
    bar += [Tone(0, 16, 84 - 2 * v) for v in range(count - 2)]

    def music(bars: int) -> list[Tone]:
        return [
            Tone(t.onset + 20 * b, t.end + 20 * b, t.semitone) for b in range(bars) for t in bar
        ]

    def work(bars: int) -> tuple[int, int]:
        figures = shipped(set_for(count))
        piece = prepare(sorted(music(bars), key=lambda t: t.onset), count, BEAT, figures)
        best(piece)
        return search(music(bars), (ANY,) * count, beat=BEAT)[1], piece.work

    for short, long in zip(work(4), work(16), strict=True):
        assert long <= 4.5 * short
