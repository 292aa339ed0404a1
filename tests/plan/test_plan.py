"""The form, strands from the sketch, tasks and conflicts."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import seats
from expander.errors import ExpanderError
from expander.model.rules import Entry, Passage, Rules, StrandRule
from expander.plan.default import default_rules
from expander.plan.form import passage_bars, sections
from expander.plan.strands import take
from expander.plan.tasks import assign
from tests import mini

SONG = """Tune: r:q | [A] C5:q D5 E5 F5 | G5:w | [B] A5:w | [C] C5:w | R |.
Low: C3:q | C3+E3+G3:w | R | F3:h G3 | C3:w | C2:w"""


@pytest.mark.parametrize(
    ("passage", "bars"),
    [
        (Passage(first="0", last="2"), range(3)),
        (Passage(first="3"), range(3, 4)),
        (Passage(first="4", last="end"), range(4, 6)),
        (Passage(mark="A"), range(1, 3)),
        (Passage(mark="C"), range(4, 6)),
        (Passage(start="A", stop="C"), range(1, 4)),
        (Passage(start="B"), range(3, 6)),
        (Passage(stop="B"), range(3)),
    ],
)
def test_a_passage_is_found_by_numbers_or_marks(passage, bars) -> None:
    assert passage_bars(mini.sketch(SONG), passage) == bars


@pytest.mark.parametrize("passage", [Passage(first="99"), Passage(mark="Q"), Passage(start="Q")])
def test_a_passage_that_is_not_there_is_an_error_that_says_what_is(passage) -> None:
    with pytest.raises(ExpanderError, match="there is no"):
        passage_bars(mini.sketch(SONG), passage)


def test_without_a_form_the_rehearsal_marks_are_the_sections() -> None:
    found = sections(mini.sketch(SONG), {})
    assert found == {"A": range(1, 3), "B": range(3, 4), "C": range(4, 6)}


def test_two_marks_in_one_bar_are_no_trouble() -> None:
    sketch = mini.sketch("A: [A] [B] C4:w | [C] C4:w")
    assert sections(sketch, {})["B"] == range(1)
    default_rules(sketch, load_ensemble("string-quartet"))


def pitches(strand, bar):
    return [[str(n.pitch) for e in layer for n in e.notes] for layer in strand.bars[bar]]


TWO = "Piano: C5:q D5 E5 F5 // E4+G4:h F4+A4\n+: @bass C3:h D3 // r:q G3:q r:h"


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (StrandRule("a", staff=1), [["C5", "D5", "E5", "F5"], ["E4", "G4", "F4", "A4"]]),
        (StrandRule("a", staff=1, layer=2), [["E4", "G4", "F4", "A4"]]),
        (StrandRule("a", staff=1, notes="highest"), [["C5", "D5", "E5", "F5"]]),
        (StrandRule("a", staff=1, notes="lowest"), [["E4", "F4"]]),
        (StrandRule("a", staff=2, notes="lowest"), [["C3", "D3"]]),
        (StrandRule("a", staff=1, layer=2, notes="1"), [["G4", "A4"]]),
        (StrandRule("a", staff=1, notes="2"), [[], ["E4", "F4"]]),
        (
            StrandRule("a", staff=1, more_staves=(2,)),
            [["C5", "D5", "E5", "F5"], ["E4", "G4", "F4", "A4"], ["C3", "D3"], ["G3"]],
        ),
    ],
)
def test_a_strand_is_taken_out_of_its_staff(rule, expected) -> None:
    assert pitches(take(mini.sketch(TWO), rule), 0) == expected


def test_a_figure_goes_on_cut_to_each_bar() -> None:
    sketch = mini.sketch("A: C4:q D4 E4 F4 | R | t2/4 R | t4/4 R")
    rule = StrandRule("pulse", staff=1, bars=Passage(first="1"), repeat=True)
    strand = take(sketch, rule)
    assert [pitches(strand, bar)[0] for bar in range(4)] == [
        ["C4", "D4", "E4", "F4"],
        ["C4", "D4", "E4", "F4"],
        ["C4", "D4"],
        ["C4", "D4", "E4", "F4"],
    ]


def test_the_tune_of_a_layer_stays_the_sketch_s_own_object() -> None:
    sketch = mini.sketch(SONG)
    assert take(sketch, StrandRule("t", staff=1)).bars[1][0] is sketch.parts[0].bars[1].layers[0]


def planned(plan, ensemble="string-quartet"):
    sketch = mini.sketch(SONG)
    line_up = load_ensemble(ensemble)
    rules = Rules(
        strands={"tune": StrandRule("tune", staff=1), "low": StrandRule("low", staff=2)}, plan=plan
    )
    strands = {name: take(sketch, rule) for name, rule in rules.strands.items()}
    found = assign(
        rules, strands, sections(sketch, {}), sketch.bars, lambda n: seats(line_up, n), line_up
    )
    return [
        (t.entry.play, [line_up.players[s.player].name for s in t.seats], t.bars)
        for t in found.tasks
    ], found.findings


def test_a_section_takes_its_players_away_from_all() -> None:
    tasks, findings = planned(
        {"all": (Entry("tune", ("violin 1",)),), "B": (Entry("low", ("violin 1",)),)}
    )
    assert tasks == [
        ("tune", ["violin 1"], range(3)),
        ("tune", ["violin 1"], range(4, 6)),
        ("low", ["violin 1"], range(3, 4)),
    ]
    assert findings == ()


def test_two_lines_for_one_player_are_a_conflict_that_is_told() -> None:
    tasks, findings = planned(
        {"all": (Entry("tune", ("flute",)), Entry("low", ("flute", "bassoon")))},
        "woodwind-quintet",
    )
    assert [(play, who) for play, who, _ in tasks] == [("tune", ["flute"]), ("low", ["bassoon"])]
    (finding,) = findings
    assert finding.check == "two-lines-for-one-player"
    assert finding.severity == "error"
    assert "'low'" in finding.message


def test_players_of_one_stave_share_two_lines_between_them() -> None:
    tasks, findings = planned(
        {"all": (Entry("tune", ("flutes",)), Entry("low", ("flutes",)))}, "chamber-orchestra"
    )
    assert [who for _, who, _ in tasks] == [["flute 1"], ["flute 2"]]
    assert findings == ()


def test_a_plan_by_register_gives_each_staff_to_somebody_near() -> None:
    line_up = load_ensemble("string-quartet")
    rules = default_rules(mini.sketch(SONG), line_up)
    by = {
        e.play: {line_up.players[s.player].name for name in e.by for s in seats(line_up, name)}
        for entries in rules.plan.values()
        for e in entries
    }
    assert "cello" in by["low"]
    assert "violin 1" in by["tune"]


def test_a_sketch_with_the_players_names_goes_to_those_players() -> None:
    sketch = mini.sketch("Violin I: C5:w\nViolin II: A4:w\nViola: F4:w\nVioloncello: F3:w")
    rules = default_rules(sketch, load_ensemble("string-orchestra"))
    entries = {e.play: e.by for e in rules.plan["all"]}
    assert entries["viola"] == ("violas",)
    assert entries["violoncello"] == ("cellos",)


# Two staves of chords and bass beside two single lines, for five players of whom the keyboard has
# everything: each chord player one note of the chord, the bass alone (common practice).
FIVE = """Tune: C5:h E5
Counter: E5:h C5
Chords: C4+E4+G4+Bb4:h C4+F4+A4+C5
Bass: @bass C3:h F2"""


def test_one_bowed_player_is_not_given_two_staves_where_others_can_share_them() -> None:
    rules = default_rules(mini.sketch(FIVE), load_ensemble("septet"))
    by_strings_and_winds = [e for e in rules.plan["all"] if e.by != ("piano",)]
    assert {e.play: e.by for e in by_strings_and_winds}["bass"] == ("cello",)
    assert all(not rules.strands[e.play].more_staves for e in by_strings_and_winds)


SONG_WITH_PIANO = """Tune: C5:q D5 E5 F5 | G5:w
Piano: C4+E4+G4:h C4+E4+G4 | C4+E4+G4:w
+: @bass C3:w | C2+C3:w"""


@pytest.mark.parametrize(
    ("text", "plays"),
    [
        (SONG_WITH_PIANO, ["piano upper", "piano lower"]),
        (SONG_WITH_PIANO.replace("F5 |", "^A5 F5 |"), ["piano upper", "piano lower"]),
        (SONG_WITH_PIANO.replace("G5:w", "C4+E4+G4+E5+G5:w"),
         ["tune", "piano upper", "piano lower"]),
        (SONG_WITH_PIANO.replace("+:", "Bass:"), ["tune", "piano", "bass"]),
    ],
    ids=["its own staves", "a grace is no chord", "too full for others", "no staves for it"],
)  # fmt: skip
def test_the_keyboard_of_a_small_band_has_what_is_for_two_hands(text, plays) -> None:
    rules = default_rules(mini.sketch(text), load_ensemble("septet"))
    assert [e.play for e in rules.plan["all"] if e.by == ("piano",)] == plays


def test_one_singer_has_what_is_sung_for_longest() -> None:
    song = """Soprano: R | R | C5:w 'la
Solo: C5:w 'a | D5:w 'song | E5:w 'sung
Piano: C4:w | C4:w | C4:w"""
    rules = default_rules(mini.sketch(song), load_ensemble("septet"))
    assert [e.play for e in rules.plan["all"] if e.by == ("voice",)] == ["solo"]


@pytest.mark.parametrize(
    ("line_up", "plays"),
    [("big-band", ["piano upper", "piano lower"]), ("symphony-orchestra", [])],
)
def test_the_piano_of_a_rhythm_section_has_what_is_for_two_hands(line_up, plays) -> None:
    rules = default_rules(mini.sketch(SONG_WITH_PIANO), load_ensemble(line_up))
    assert [e.play for e in rules.plan["all"] if e.by == ("piano",)] == plays
