"""What holds for any line and any instrument."""

from __future__ import annotations

from itertools import accumulate

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.catalogue.loader import instrument
from tests import mini
from tests.fitting.lines import run

PLAYERS = ("flute", "violin", "horn", "trumpet-bb", "cello", "clarinet-bb", "tuba", "piccolo")

NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def bars_of(keys):
    """Bars of four quarters: a pitch by its key or a rest, and whether it is tied to the next."""
    pitches = keys.map(lambda key: (NAMES[key % 12], key // 12 - 1))
    events = st.tuples(pitches | st.none(), st.booleans())
    return st.lists(st.lists(events, min_size=4, max_size=4), min_size=1, max_size=6)


bars = bars_of(st.integers(36, 100))


def text(rows):
    """Quarters, rests and ties to the next note, which is then the same."""
    words, held = [], None
    flat = [event for row in rows for event in row]
    for number, (pitch, tied) in enumerate(flat):
        pitch = held or pitch
        goes_on = bool(pitch) and tied and number + 1 < len(flat)
        words.append(f"{pitch[0]}{pitch[1]}{'~' * goes_on}:q" if pitch else "r:q")
        held = pitch if goes_on else None
    return " | ".join(" ".join(words[i : i + 4]) for i in range(0, len(words), 4))


def fit(rows, player, **entry):
    sketch = mini.sketch(f"Tune: @treble {text(rows)}")
    before = {i: bar.layers[0] for i, bar in enumerate(sketch.parts[0].bars)}
    (line, *_), found = run(sketch, before, [player], **entry)
    return before, line.bars, found


def pairs(before, after):
    """Every note before and after, in order, with the tick it begins at and whether it is tied."""
    for bar, events_here in before.items():
        assert len(events_here) == len(after[bar])
        for old, new in zip(events_here, after[bar], strict=True):
            assert (old.at, old.duration, old.value) == (new.at, new.duration, new.value)
            for a, b in zip(old.notes, new.notes, strict=True):
                yield bar, old, a, b


def shift(a, b):
    octaves, rest = divmod(int(b.pitch.semitone) - int(a.pitch.semitone), 12)
    assert rest == 0
    assert a.pitch.name == b.pitch.name
    return octaves


@pytest.mark.parametrize("player", PLAYERS)
@settings(deadline=None, max_examples=25)
@given(rows=bars)
def test_every_note_that_has_an_octave_in_range_is_in_range(player, rows):
    """Every instrument here has an octave or more, and ties hold one pitch: so every note has."""
    low, high = (p.semitone for p in instrument(player).sounding(instrument(player).professional))
    before, after, _ = fit(rows, player)
    assert [b.pitch for *_, b in pairs(before, after) if not low <= b.pitch.semitone <= high] == []


@pytest.mark.parametrize("player", PLAYERS[:4])
@settings(deadline=None, max_examples=25)
@given(rows=bars)
def test_tied_notes_are_never_split(player, rows):
    before, after, _ = fit(rows, player)
    held = None
    for _, _, a, b in pairs(before, after):
        if a.tie_stop:
            assert held == b.pitch
        assert (a.tie_start, a.tie_stop) == (b.tie_start, b.tie_stop)
        held = b.pitch if a.tie_start else None


@pytest.mark.parametrize("player", PLAYERS)
@settings(deadline=None, max_examples=25)
@given(rows=bars)
def test_nobody_is_moved_above_the_comfortable_register_where_an_octave_lies_in_it(player, rows):
    low, high = (int(p.semitone) for p in comfortable(player))
    before, after, _ = fit(rows, player)
    strained = [b for *_, a, b in pairs(before, after) if a.pitch != b.pitch]
    strained = [int(b.pitch.semitone) for b in strained if b.pitch.semitone > high]
    assert [key for key in strained if (key - low) // 12 > (key - high - 1) // 12] == []


@pytest.mark.parametrize("player", PLAYERS)
@settings(deadline=None, max_examples=25)
@given(st.lists(st.integers(-2, 2), min_size=7, max_size=7), st.data())
def test_a_phrase_that_moves_by_step_and_lies_well_an_octave_away_moves_whole(player, steps, data):
    low, high = (int(p.semitone) for p in comfortable(player))
    walk = list(accumulate(steps, initial=0))
    bottom, top = low - min(walk), high - max(walk)
    start = data.draw(st.integers(bottom, top)) + 12 * data.draw(st.sampled_from([-1, 1]))
    keys = [start + step for step in walk]
    rows = [[((NAMES[k % 12], k // 12 - 1), False) for k in keys[i : i + 4]] for i in (0, 4)]
    before, after, _ = fit(rows, player)
    assert len({shift(a, b) for *_, a, b in pairs(before, after)}) == 1


def comfortable(player):
    return instrument(player).sounding(instrument(player).comfortable)


@settings(deadline=None, max_examples=25)
@given(rows=bars, dynamic=st.sampled_from(["", "pp", "ff"]))
def test_the_same_line_is_fitted_the_same_way_again(rows, dynamic):
    once, again = (fit(rows, "flute", dynamic=dynamic) for _ in range(2))
    assert once == again


@settings(deadline=None, max_examples=25)
@given(rows=bars_of(st.integers(55, 100)))
def test_what_is_in_range_already_is_left_alone(rows):
    before, after, found = fit(rows, "violin")
    assert (after, found) == (before, [])


@settings(deadline=None, max_examples=25)
@given(rows=bars)
def test_fitting_twice_changes_nothing_more(rows):
    sketch = mini.sketch(f"Tune: @treble {text(rows)}")
    before = {i: bar.layers[0] for i, bar in enumerate(sketch.parts[0].bars)}
    (once,), _ = run(sketch, before, ["horn"])
    (twice,), found = run(sketch, once.bars, ["horn"])
    assert (twice.bars, found) == (once.bars, [])
