from difflib import get_close_matches

import pytest

from expander.errors import Spot
from expander.model.instrument import Instrument, Seat
from expander.model.pitch import CONCERT
from expander.model.rules import SketchFacts
from expander.rulefile import check_against, facts_of, parse_rules
from tests.mini import sketch

FACTS = SketchFacts(
    layers=(2, 1, 1),
    bars=tuple(str(n) for n in range(1, 33)),
    marks=(("A", 8), ("B", 16), ("Coda", 24)),
)


def instrument(name, family):
    return Instrument(
        id=name,
        name=name.title(),
        plural=f"{name}s",
        short=name,
        family=family,
        section=f"{name}s",
        order=0,
        transposition=CONCERT,
        clefs=(()),
        sound="",
        program=1,
    )


FLUTE, TRUMPET = instrument("flute", "woodwind"), instrument("trumpet", "brass")
VIOLIN = instrument("violin", "strings")

LINE_UP = {
    "flute 1": [Seat(0, FLUTE)],
    "flute 2": [Seat(1, FLUTE)],
    "trumpet 1": [Seat(2, TRUMPET)],
    "violins 1": [Seat(3, VIOLIN)],
    "flutes": [Seat(0, FLUTE), Seat(1, FLUTE)],
    "winds": [Seat(0, FLUTE), Seat(2, TRUMPET)],
    "tutti": [Seat(0, FLUTE), Seat(1, FLUTE), Seat(2, TRUMPET), Seat(3, VIOLIN)],
}


class Unknown(LookupError):
    """As a line-up says it: names like the one it does not have."""

    def __init__(self, name, attribute="nearest"):
        super().__init__(name)
        setattr(self, attribute, get_close_matches(name, LINE_UP))


def resolve(name):
    if name not in LINE_UP:
        raise Unknown(name)
    return LINE_UP[name]


def found(text, facts=FACTS, resolve=resolve, **known):
    """The mistakes of a text whose ^ marks the place of the first; the place must fit."""
    before, _, after = text.partition("^")
    rules = parse_rules(before + after, "song.yaml")
    mistakes = check_against(rules, facts, resolve, **known)
    if mistakes:
        column = len(before) - before.rfind("\n")
        assert mistakes[0].at == Spot("song.yaml", before.count("\n") + 1, column)
    return [m.message for m in mistakes]


T = "strands: {tune: {staff: 1}}\n"

ROWS = {
    "bar beyond the end": (
        "form: {a: {bars: ^30-40}}",
        "no bar 40",
        "1 to 32",
        "nearest is bar 32",
    ),
    "letter for a bar": ("form: {a: {bars: ^1-x}}", "no bar x", "bars 1 to 32"),
    "unknown mark": ("form: {a: {mark: ^Code}}", '"Code"', "A, B or Coda", 'mean "Coda"'),
    "mark in small": ("form: {a: {mark: ^a}}", '"a"', 'mean "A"'),
    "unknown start": ("form: {a: {from: ^Q, to: B}}", 'from: the sketch has no rehearsal mark "Q"'),
    "unknown stop": ("form: {a: {from: A, to: ^Q}}", 'to: the sketch has no rehearsal mark "Q"'),
    "marks backward": ("form: {a: ^{from: B, to: A}}", 'From "B" to "A"', "no bars"),
    "overlap in bars": (
        "form:\n  a: {bars: 1-8}\n  b: ^{bars: 8-12}",
        'Sections "a" and "b" share bar 8',
    ),
    "overlap with marks": (
        "form:\n  a: {from: A, to: Coda}\n  b: ^{mark: B}",
        "share bars 17 to 24",
    ),
    "unknown section without form": ("plan: {^C: []}", '"C"', "rehearsal marks", "A, B or Coda"),
    "staff too low": ("strands: {a: {staff: ^4}}", "no staff 4", "1 to 3", "from the top"),
    "second staff too low": ("strands: {a: {staff: [1, ^5]}}", "no staff 5"),
    "layer too many": ("strands: {a: {staff: 2, layer: ^2}}", "no layer 2", "expected 1."),
    "figure beyond the end": ("strands: {a: {staff: 1, bars: ^99}}", "no bar 99", "bar 32"),
    "unknown player": (T + "plan: {all: [{play: tune, by: ^flute 3}]}", '"flute 3"', '"flute'),
    "second player unknown": (
        T + "plan: {all: [{play: tune, by: [flutes, ^trumpet]}]}",
        '"trumpet"',
        'mean "trumpet 1"',
    ),
    "players in one string": (
        T + 'plan: {all: [{play: tune, by: ^"flute 1, flute 2"}]}',
        "[flute 1, flute 2]",
    ),
    "unknown keyless": ("keyless: [flutes, ^horn]", 'keyless: "horn"'),
    "pizzicato winds": (
        T + "plan: {all: [{play: tune, by: [winds], as: ^pizz.}]}",
        '"pizzicato" is for strings, not for winds',
    ),
    "mute under as": (
        T + "plan: {all: [{play: tune, by: violins 1, as: ^cup mute}]}",
        '"cup" is for brass, not for violins 1',
    ),
    "cup mute on strings": (
        T + "plan: {all: [{play: tune, by: violins 1, mute: ^cup}]}",
        '"cup" is for brass',
    ),
}


@pytest.mark.parametrize(("text", "words"), [(t, w) for t, *w in ROWS.values()], ids=list(ROWS))
def test_what_does_not_exist_is_found_at_its_place(text, words):
    messages = found(text)
    assert len(messages) == 1
    assert [word for word in words if word not in messages[0]] == []


@pytest.mark.parametrize(
    "text",
    [
        "form: {a: {bars: 1-8}, b: {bars: 9-16}, c: {mark: B}, d: {bars: 25-end}}",
        "form: {a: {to: A}, b: {from: A}}",
        "plan: {A: [], Coda: [], all: []}",
        "strands: {a: {staff: [1, 2], layer: 2}, b: {staff: 3, bars: 30-end, repeat: true}}",
        T + "plan: {all: [{play: tune, by: [flutes, violins 1], as: pizz.}]}",
        T + "plan: {all: [{play: tune, by: tutti, mute: cup}]}",
    ],
)
def test_what_exists_is_left_alone(text):
    assert found(text) == []


def test_all_mistakes_come_in_order_of_place():
    rules = parse_rules(
        "plan:\n  Z: [{play: a, by: oboe}]\nstrands: {a: {staff: 9}}\nkeyless: tuba\n", "x"
    )
    places = [(m.at.line, m.at.column) for m in check_against(rules, FACTS, resolve)]
    assert places == [(2, 3), (2, 21), (3, 22), (4, 10)]


def test_without_a_line_up_players_are_not_checked():
    rules = parse_rules(T + "plan: {all: [{play: tune, by: anybody, as: pizz.}]}")
    assert check_against(rules, FACTS) == []


@pytest.mark.parametrize("attribute", ["suggestions", "nearest"])
def test_names_like_the_unknown_one_are_passed_on(attribute):
    def unknown(name):
        raise Unknown(name, attribute)

    text = T + "plan: {all: [{play: tune, by: ^flut}]}"
    assert found(text, resolve=unknown)[0].endswith(
        'Did you mean "flutes", "flute 2" or "flute 1"?'
    )


def test_a_line_up_need_not_say_who_is_meant():
    text = T + "plan: {all: [{play: tune, by: fiddles, mute: plunger}]}"
    assert found(text, resolve=lambda name: None) == []


def test_chords_need_chord_symbols():
    facts = SketchFacts(layers=(1,), bars=("1",), chord_symbols=False)
    assert "chord symbols" in found("strands: {pad: {chords: ^symbols}}", facts)[0]


def test_voicings_and_approaches_are_held_against_the_known_ones():
    text = "strands: {a: {staff: 1}, b: {under: a, voicing: ^drop2, approach: cromatic}}"
    messages = found(text, voicings=("close", "drop 2"), approaches=("chromatic",))
    assert ['mean "drop 2"' in messages[0], 'mean "chromatic"' in messages[1]] == [True, True]


def test_a_mark_in_a_sketch_without_marks_is_told_to_use_bars():
    facts = SketchFacts(layers=(1,), bars=("1", "2"))
    assert "bars: 1-8" in found("form: {a: {mark: ^A}}", facts)[0]


def test_facts_are_read_off_a_sketch():
    facts = facts_of(
        sketch("Voice: [A] C4:w | C4:w | [B] C4:w // C3:w\nPiano: {C} R | R | R\n+: R | R | R")
    )
    assert facts == SketchFacts(
        layers=(2, 1, 1),
        bars=("1", "2", "3"),
        marks=(("A", 0), ("B", 2)),
        chord_symbols=True,
        staff_names=("Voice", "Piano", "Piano"),
    )


def test_a_pickup_is_bar_nought():
    facts = facts_of(sketch("Tune: C4:q | C4:w | C4:w"))
    assert (facts.bars, facts.chord_symbols) == (("0", "1", "2"), False)
    assert found("form: {a: {bars: 0-1}}", facts) == []
