"""Full scores for other line-ups: nothing lost silently, outer lines kept, everybody in range."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from expander.catalogue.ensembles import load_ensemble
from expander.checks.runner import run
from expander.model.dynamics import level_after
from expander.model.pitch import Drum
from expander.model.rules import Entry, Rules, StrandRule
from expander.model.walk import events_of, notes_of
from expander.musicxml import read_bytes, to_bytes
from expander.pipeline import expand_score
from expander.revoice.lines import full_score
from expander.revoice.marking import directions_for
from expander.revoice.revoice import revoice_score
from expander.sounding import to_sounding
from tests import mini
from tests.revoice.conftest import QUARTET, line_up
from tests.strategies import Traits, documents, line_ups

SMALL = Traits(staves=5, layers=2, bars=3)
WINDS = ("flute", "oboe", "clarinet-bb", "horn", "bassoon")


def numbers(score):
    return {n.origin for n in notes_of(to_sounding(score))} - {-1}


def sounding(score, name):
    """What a player has, sounding, tied notes once."""
    heard = to_sounding(score)
    part = next(p for p in heard.parts if p.name == name)
    notes = (n for e in events_of(part) for n in e.notes if not n.tie_stop)
    return [str(n.pitch) for n in notes]


@settings(max_examples=15)
@given(documents(SMALL), line_ups())
def test_every_note_is_kept_doubled_or_left_out_with_a_reason(document, ensemble) -> None:
    done = revoice_score(document, ensemble)
    heads = {n.origin for n in notes_of(done.score)}
    beside = {o for n in notes_of(done.score) for o in n.also} - heads
    ledger = done.ledger
    assert ledger.notes == len(numbers(document))
    assert ledger.placed == len(heads & numbers(document))
    assert ledger.replaced == len(beside & numbers(document))
    assert ledger.notes == ledger.placed + ledger.replaced + len(ledger.unplaced)
    assert all(note.reason for note in ledger.unplaced)


@settings(max_examples=15)
@given(documents(SMALL), line_ups())
def test_nobody_is_sent_beyond_their_range(document, ensemble) -> None:
    done = revoice_score(document, ensemble)
    found = run(done.score, ensemble=done.ensemble, only=("above-range", "below-range"))
    wide = [f for f in found if f.severity == "error"]
    assert wide == []


@settings(max_examples=8)
@given(documents(SMALL), line_ups())
def test_the_same_score_and_line_up_give_the_same_bytes(document, ensemble) -> None:
    first, second = (to_bytes(revoice_score(document, ensemble).score) for _ in range(2))
    assert first == second


def test_a_quartet_for_winds_keeps_all_its_lines(quartet) -> None:
    done = revoice_score(quartet, line_up(*WINDS))
    assert done.ledger.unplaced == ()
    assert sounding(done.score, "Flute")[:5] == ["D5", "E5", "F5", "G5", "A5"]
    assert [p[:-1] for p in sounding(done.score, "Bassoon")[:4]] == ["D", "C", "Bb", "A"]
    assert not [f for f in run(done.score, ensemble=done.ensemble) if f.severity == "error"]


def test_two_players_get_tune_and_bass(quartet) -> None:
    done = revoice_score(quartet, line_up("flute", "bassoon"))
    assert sounding(done.score, "Flute")[:4] == ["D5", "E5", "F5", "G5"]
    assert [p[:-1] for p in sounding(done.score, "Bassoon")[:4]] == ["D", "C", "Bb", "A"]
    reasons = {note.reason for note in done.ledger.unplaced}
    assert reasons
    assert all(reason.startswith("no player is left for this ") for reason in reasons)
    assert {f.bar for f in done.findings if f.check == "left-out"} == {"1", "2", "3", "4"}


def test_an_octave_doubling_goes_first() -> None:
    text = "Flute: C6:q D6 E6 F6\nOboe: C5:q D5 E5 F5\nViola: @alto E4:h A4\nCello: @bass C3:w"
    done = revoice_score(mini.document(text), line_up("violin", "viola", "cello"))
    assert done.ledger.unplaced == ()
    assert done.ledger.replaced == 4


def test_more_players_double_where_it_is_loud_enough(quartet) -> None:
    loud = mini.document(QUARTET.replace("!p", "!ff"))
    band = load_ensemble("wind-band")
    soft_players = playing(revoice_score(quartet, band).score)
    loud_players = playing(revoice_score(loud, band).score)
    assert soft_players < loud_players
    assert "Trumpet in B♭ 1" in loud_players - soft_players


def playing(score):
    """The names of the parts that have notes."""
    return {part.name for part in score.parts if any(e.notes for e in events_of(part))}


def test_words_go_to_the_singer_and_nobody_else() -> None:
    text = ("Voice: C5:q 'Now D5 'we E5 'all F5 'go | G5:w 'home\n"
            "Violin: E5:h F5 | E5:w\nCello: @bass C3:w | C3:w")  # fmt: skip
    done = revoice_score(mini.document(text), line_up("flute", "mezzo-soprano", "bassoon"))
    sung = {p.name: [la.text for e in events_of(p) for la in e.lyrics] for p in done.score.parts}
    assert [words for words in sung.values() if words] == [["Now", "we", "all", "go", "home"]]
    assert next(name for name, words in sung.items() if words).startswith("Mezzo")


PLUCKED = 'Violin: "pizz." C5:q D5 E5 F5 | "arco" G5:w\nCello: @bass C3:w | C3:w'


def test_plucked_strings_stay_plucked() -> None:
    done = revoice_score(mini.document(PLUCKED), line_up("viola", "double-bass"))
    text = mini.to_text(done.score, show=())
    assert '"pizz."' in text
    assert '"arco"' in text


def test_a_colour_nobody_has_is_named() -> None:
    done = revoice_score(mini.document(PLUCKED), line_up("flute", "bassoon"))
    told = [f.message for f in done.findings if f.check == "colour-lost"]
    assert told == [
        "Violin is played pizzicato in bar 1; who plays it now has no such colour, "
        "or no time for it."
    ]
    assert "pizz" not in mini.to_text(done.score)


def test_what_was_said_to_one_player_is_not_said_to_another() -> None:
    text = ('Clarinet: tr(-1,-2,0) "to Bass Clarinet" "dolce" "flz." D5:q E5 F#5 G5\n'
            'Cello: @bass "div." "con sord." C3:w')  # fmt: skip
    words = mini.to_text(revoice_score(mini.document(text), line_up("violin", "bassoon")).score)
    assert '"dolce"' in words
    for word in ("Bass Clarinet", "flz", "div", "sord"):
        assert word not in words


def test_a_keyboard_has_chords_and_not_many_layers(quartet) -> None:
    done = revoice_score(quartet, line_up("piano"))
    layers = [
        la for bar in done.score.parts[0].bars for la in bar.layers if any(e.notes for e in la)
    ]
    assert done.ledger.unplaced == ()
    assert len(layers) <= 3 * len(done.score.bars)
    assert any(len(e.notes) > 1 for la in layers for e in la)


def test_harmonics_are_given_on_as_they_sound() -> None:
    file = mini.sketch("Violin: F6:w\nCello: @bass C3:w")
    rules = Rules(
        strands={"top": StrandRule("top", staff=1), "low": StrandRule("low", staff=2)},
        plan={
            "all": (
                Entry("top", ("violin",), technique="harmonics"),
                Entry("low", ("cello",)),
            )
        },
    )
    written = expand_score(file, rules, line_up("violin", "cello")).score
    done = revoice_score(written, line_up("flute", "bassoon"))
    assert sounding(done.score, "Flute") == ["F6"]
    assert done.ledger.unplaced == ()


def test_drums_go_to_drums_or_are_left_out_with_a_reason() -> None:
    text = "Flute: C5:q D5 E5 F5\nSnare Drum: @perc x:q x x x\nCello: @bass C3:w"
    with_drums = revoice_score(mini.document(text), line_up("violin", "snare-drum", "cello"))
    without = revoice_score(mini.document(text), line_up("violin", "viola", "cello"))
    assert with_drums.ledger.unplaced == ()
    assert len(without.ledger.unplaced) == 4
    assert "drum part" in without.ledger.unplaced[0].reason


def test_a_slur_ends_where_its_line_goes_to_another_player(quartet) -> None:
    slurred = QUARTET.replace(
        "D5:q( E5 F5 G5) | A5:h G5 | F5:q", "D5:q( E5 F5 G5 | A5:h G5 | F5:q)"
    )
    for players in (WINDS, ("flute", "bassoon"), ("violin", "violin", "cello")):
        done = revoice_score(mini.document(slurred), line_up(*players))
        kinds = [m.get("type") for p in done.score.parts for e in events_of(p) for m in e.marks
                 if m.name == "slur"]  # fmt: skip
        assert kinds.count("start") == kinds.count("stop")


@pytest.mark.parametrize(
    ("players", "bottom"),
    [(("flute", "flute"), 60), (("violin", "violin"), 55), (("soprano-sax", "alto-sax"), 49)],
)
def test_high_players_take_low_music_up_by_octaves(quartet, players, bottom) -> None:
    done = revoice_score(quartet, line_up(*players))
    heights = [n.pitch.semitone for n in notes_of(to_sounding(done.score))
               if not isinstance(n.pitch, Drum)]  # fmt: skip
    assert min(heights) >= bottom


def spanned(score, name):
    """(bar, start or stop) of every such mark of a score's directions, and the words beside it."""
    return [
        (bar, mark.get("type"))
        for part in score.parts
        for bar, content in enumerate(part.bars)
        for direction in content.directions
        for mark in direction.marks
        if mark.name == name
    ]


def test_dashes_of_a_ritardando_end_where_they_did(quartet) -> None:
    text = to_bytes(quartet).decode()
    bars = text.split("</attributes>", 1)
    begin = (
        "<direction><direction-type><words>rit.</words></direction-type><direction-type>"
        '<dashes type="start" number="1"/></direction-type></direction>'
    )
    end = '<direction><direction-type><dashes type="stop" number="1"/></direction-type></direction>'
    one, two = bars[1].split('<measure number="2">', 1)
    text = f'{bars[0]}</attributes>{begin}{one}<measure number="2">{end}{two}'
    score = read_bytes(text.encode(), "score.musicxml")
    assert spanned(score, "dashes") == [(0, "start"), (1, "stop")]
    done = revoice_score(score, line_up("flute", "oboe", "horn", "bassoon"))
    assert spanned(done.score, "dashes") == [(0, "start"), (1, "stop")]


def test_no_old_level_is_written_in_a_bar_that_goes_to_a_new_one() -> None:
    score = full_score(mini.document("Flute: !p C6:w | R\nOboe: !mf E5:w | B5:q !f C6:h."))
    flute, oboe = score.lines
    cells = {0: flute.cells[0], 1: oboe.cells[1]}
    marks = directions_for(score, score.lines, {0: flute.number, 1: oboe.number}, cells)
    assert [level_after(d) for d in marks[1]] == ["f"]


def test_a_slur_that_the_original_leaves_open_ends_before_the_next_rest() -> None:
    score = mini.document(
        "Violin: !p D5:q( E5 r F5) | G5:w | A5:w\nVioloncello: @bass !p C3:w | C3:w | C3:w"
    )
    text = to_bytes(score).decode()
    stop = text.index('<slur type="stop"')
    text = text[:stop] + text[text.index("/>", stop) + 2 :]
    done = revoice_score(read_bytes(text.encode(), "a.musicxml"), line_up("flute", "bassoon"))
    assert "D5:q( E5:q) r:q F5:q |" in mini.rows(to_sounding(done.score))["Flute"]


def test_who_joins_in_the_middle_of_a_bar_does_so_where_it_gets_loud() -> None:
    score = mini.document(
        "Violin: !pp D5:q E5 F5 G5 | G5:q !ff A5:q B5 A5 | G5:h A5\n"
        "Violoncello: @bass !pp C3:w | C3:q !ff C3:q C3 C3 | C3:w"
    )
    done = revoice_score(score, line_up("flute", "oboe", "horn", "bassoon"))
    rows = mini.rows(to_sounding(done.score), show=())
    assert rows["Oboe"].endswith("R | r:q !ff A5:q B5:q A5:q | G5:h A5:h")
    assert rows["Horn in F"].endswith("R | r:q !ff C3:q C3:q C3:q | C3:w")
