"""A lead sheet alone and ten lines of rules become a score that can be played."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from expander.catalogue.limits import low_interval_limits as published_limits
from expander.checks import run as run_checks
from expander.model.finding import Severity
from expander.model.pitch import Drum, Sounding
from expander.model.walk import events_of
from expander.musicxml import read, to_bytes
from expander.pipeline import expand_file
from expander.voicing import pads
from expander.voicing.lead import lead as led
from expander.voicing.lead import motion_price, total_price
from tests.schema import assert_valid

SAMPLES = Path(__file__).parents[2] / "samples"
SHEET = SAMPLES / "paper-harbour-lead-sheet.musicxml"
RULES = SAMPLES / "paper-harbour-lead-sheet-jazz.yaml"
TIME_KEEPERS = ("Guitar", "Piano", "Bass", "Drums")
PADS = ("pad", "brass", "wide")
SPAN = 4


@pytest.fixture(scope="module")
def progressions():
    """For each pad in the order built, the candidates of every chord and the path taken."""
    return []


@pytest.fixture(scope="module")
def expanded(progressions):
    def watched(rows, *motion):
        path = led(rows, *motion)
        progressions.append(([tuple(row) for row in rows], path))
        return path

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pads, "lead", watched)
        return expand_file(read(SHEET), RULES)


@pytest.fixture(scope="module")
def parts(expanded):
    return {part.name: part for part in expanded.score.parts}


def test_the_rules_are_about_ten_lines():
    lines = [line for line in RULES.read_text().splitlines() if "{" in line]
    assert len(lines) <= 18


def test_every_note_of_the_sheet_is_played(expanded):
    notes = [n for n in ET.parse(SHEET).iter("note") if n.find("pitch") is not None]
    struck = [n for n in notes if all(t.get("type") != "stop" for t in n.findall("tie"))]
    assert expanded.ledger.notes == expanded.ledger.placed == len(struck)
    assert expanded.ledger.unplaced == ()


def test_every_player_can_play_every_note(expanded):
    outside = [
        (line.seat.instrument.id, bar, str(note.pitch))
        for line in expanded.lines
        for bar, events in line.bars.items()
        for event in events
        for note in event.notes
        if isinstance(note.pitch, Sounding) and not in_range(line.seat.instrument, note.pitch)
    ]
    assert outside == []


def in_range(instrument, pitch):
    low, high = instrument.sounding(instrument.professional)
    return low.semitone <= pitch.semitone <= high.semitone


def test_the_checks_find_no_error_no_warning_and_no_mud(expanded):
    found = run_checks(expanded.score)
    grave = {Severity.ERROR, Severity.WARNING}
    assert [f for f in found if f.severity in grave or f.check == "low-interval"] == []


def test_no_chord_that_is_built_has_an_interval_below_its_limit(expanded):
    table = {size: int(row.lowest.semitone) for size, row in published_limits().items()}
    low = [
        (line.task.entry.play, keys)
        for line_up in by_task(expanded.lines)
        for line, keys in sonorities(line_up)
        for one, other in pairwise(keys)
        if one < table.get(other - one, 0)
    ]
    assert low == []


def by_task(lines):
    tasks = {}
    for line in lines:
        tasks.setdefault(id(line.task), []).append(line)
    return [group for group in tasks.values() if len(group) > 1]


def sonorities(lines):
    """What the players of one task sound together at each onset, the lowest first."""
    for bar in sorted({b for line in lines for b in line.bars}):
        events = [e for line in lines for e in line.bars.get(bar, ())]
        for at in sorted({e.at for e in events}):
            now = [e for e in events if e.at <= at < e.end]
            pitches = [n.pitch for e in now for n in e.notes if isinstance(n.pitch, Sounding)]
            yield lines[0], sorted({int(p.semitone) for p in pitches})


# Every way through four chords is tried: the definition of the optimum, no method of ours.
@pytest.mark.parametrize("place", range(len(PADS)), ids=PADS)
def test_four_chords_could_not_go_more_smoothly_from_what_was_before_to_what_comes(
    expanded, progressions, place
):
    rows, path = progressions[place]
    for start in range(len(rows) - SPAN + 1):
        before, after = path[max(0, start - 1) : start], path[start + SPAN : start + SPAN + 1]
        chosen = total_price((*before, *path[start : start + SPAN], *after))
        assert chosen == best_of_all([before, *rows[start : start + SPAN], after]), start


@pytest.mark.parametrize("place", range(len(PADS)), ids=PADS)
def test_four_chords_alone_are_led_as_smoothly_as_can_be(expanded, progressions, place):
    rows, _ = progressions[place]
    for start in range(0, len(rows) - SPAN + 1, SPAN):
        span = rows[start : start + SPAN]
        assert total_price(led(span)) == best_of_all(span), start


def best_of_all(rows):
    """The lowest price of all combinations, one voicing for each row; empty rows are left out."""
    rows = [row for row in rows if row]
    total = np.zeros([len(row) for row in rows], dtype=np.int32)
    for axis, row in enumerate(rows):
        total += along([v.price for v in row], (axis,), len(rows))
    for axis, (row, following) in enumerate(pairwise(rows)):
        moves = [[motion_price(a.keys, b.keys) for b in following] for a in row]
        total += along(moves, (axis, axis + 1), len(rows))
    return int(total.min())


def along(values, axes, dimensions):
    table = np.array(values, dtype=np.int32)
    shape = [1] * dimensions
    for axis, size in zip(axes, table.shape, strict=True):
        shape[axis] = size
    return table.reshape(shape)


def test_what_was_built_is_what_is_played(expanded, progressions):
    """No voice is moved on its way: the chords above are the ones in the score."""
    for name, (_, path) in zip(PADS, progressions, strict=True):
        built = {tuple(reversed(v.keys)) for v in path}
        lines = [line for line in expanded.lines if line.task.entry.play == name]
        heard = {tuple(keys) for group in by_task(lines) for _, keys in sonorities(group) if keys}
        assert heard <= built


@pytest.mark.parametrize("name", TIME_KEEPERS)
def test_time_keepers_have_a_slash_on_every_beat(expanded, parts, name):
    for number, bar in enumerate(parts[name].bars[1:], 1):
        slashes = [e.at for layer in bar.layers for e in layer if is_slash(e)]
        beat = expanded.score.grid
        assert slashes == list(range(0, expanded.score.bars[number].length, beat)), number


def is_slash(event):
    heads = [n.head for n in event.notes]
    return bool(heads) and all(h is not None and h.text == "slash" for h in heads)


@pytest.mark.parametrize("name", TIME_KEEPERS)
def test_time_keepers_read_the_chord_symbols_of_the_sheet(parts, name):
    sheet = [len(bar.harmonies) for bar in read(SHEET).parts[0].bars]
    assert [len(bar.harmonies) for bar in parts[name].bars] == sheet


@pytest.mark.parametrize("name", TIME_KEEPERS)
def test_kicks_are_small_notes_and_all_else_is_slashes(parts, name):
    sounding = [e for e in events_of(parts[name]) if e.notes]
    assert all(isinstance(n.pitch, Drum) for e in sounding for n in e.notes)
    assert {e.cue for e in sounding if not is_slash(e)} == {True}
    assert not any(e.cue for e in sounding if is_slash(e))


def test_the_left_hand_of_the_piano_rests(parts):
    piano = parts["Piano"]
    lower = [i for i, layer in enumerate(piano.layers) if layer.staff == 2]
    assert all(e.whole_bar for bar in piano.bars for i in lower for e in bar.layers[i])


def test_the_score_is_valid_musicxml(expanded):
    assert_valid(to_bytes(expanded.score))


def test_a_melody_in_blocks_keeps_its_tune_on_top(expanded):
    tune = [e for line in expanded.lines if line.task.entry.play == "tune" for e in line.bars[20]]
    lead = next(line for line in expanded.lines if line.task.entry.play == "block")
    assert [n.pitch for e in lead.bars[20] for n in e.notes] == [
        n.pitch for e in tune for n in e.notes
    ]


def test_chord_symbols_stand_over_the_upper_stave_of_a_keyboard(expanded):
    # W3C MusicXML 4.0: <harmony> may hold <staff>. Without it readers take the stave they are on.
    written = ET.fromstring(to_bytes(expanded.score))
    names = {p.get("id"): p.findtext("part-name") for p in written.iter("score-part")}
    found = {
        (names[part.get("id")], symbol.findtext("staff"))
        for part in written.iter("part")
        for symbol in part.iter("harmony")
    }
    assert ("Piano", "1") in found
    assert {staff for name, staff in found if name not in ("Piano", "Harp")} == {None}
