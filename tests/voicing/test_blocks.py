"""Melodies thickened into blocks: worked runs, approach notes, and what travels with the melody."""

from __future__ import annotations

import pytest

from expander.errors import ExpanderError, Spot
from expander.model.pitch import Sounding
from expander.model.plan import Strand
from expander.model.rules import StrandRule
from expander.voicing.approach import APPROACHES, Approach, harmonized
from expander.voicing.blocks import block
from expander.voicing.layout import key_of
from expander.voicing.price import Terms
from expander.voicing.recipes import recipe
from tests.mini import sketch
from tests.voicing.symbols import chord


def tune(music):
    bars = {i: bar.layers for i, bar in enumerate(music.parts[0].bars)}
    return Strand("tune", {i: layers for i, layers in bars.items() if any(layers)}, staves=(1,))


def built(text, **rule):
    music = sketch(text)
    wanted = {"voicing": "close", "voices": 4} | rule
    settings = StrandRule("block", under="tune", **wanted)
    return block(settings, tune(music), music, range(len(music.bars)))


def sounds(found):
    """What sounds at every attack, from the top voice down, the bars run together."""
    columns = {}
    for index, layers in found.strand.bars.items():
        for layer in layers:
            for event in layer:
                for note in event.notes:
                    columns.setdefault((index, event.at), []).append(str(note.pitch))
    return " | ".join(" ".join(notes) for _, notes in sorted(columns.items()))


# V18: thejazzpianosite.com, "Four Way Close, Locked Hands and Drop Two"; beyondmusictheory.org,
# "The 6th Diminished Scale"; pippinpotato.com, "Barry Harris Sixth Diminished Scale". The same
# diminished chord goes with C6, Cm6, C7 and Cm7 (the first of them).
# V19: common practice; Pease and Pullig ch. 2-3 for the type.
BLOCKS = [
    (
        "V18",
        "{C6} C5:e D5 E5 F5 G5 Ab5 A5 B5 | C6:q r:h.",
        "C5 A4 G4 E4 | D5 B4 Ab4 F4 | E5 C5 A4 G4 | F5 D5 B4 Ab4 | G5 E5 C5 A4 | Ab5 F5 D5 B4"
        " | A5 G5 E5 C5 | B5 Ab5 F5 D5 | C6 A5 G5 E5",
    ),
    (
        "V18 in C minor",
        "{Cm6} C5:e D5 Eb5 F5 G5 Ab5 A5 B5 | C6:q r:h.",
        "C5 A4 G4 Eb4 | D5 B4 Ab4 F4 | Eb5 C5 A4 G4 | F5 D5 B4 Ab4 | G5 Eb5 C5 A4"
        " | Ab5 F5 D5 B4 | A5 G5 Eb5 C5 | B5 Ab5 F5 D5 | C6 A5 G5 Eb5",
    ),
    ("V19", "{C6} D#5:e E5 r:h.", "D#5 B4 G#4 F#4 | E5 C5 A4 G4"),
    ("from above", "{C6} F#5:e G5 r:h.", "F#5 D#5 B4 G#4 | G5 E5 C5 A4"),
]


@pytest.mark.parametrize(("name", "music", "expected"), BLOCKS, ids=[b[0] for b in BLOCKS])
def test_a_run_is_harmonized_as_the_source_has_it(name, music, expected):
    assert sounds(built("Tune: @treble t4/4 | " + music)) == expected


def test_drop_2_alternates_like_close_position():
    found = sounds(built("Tune: @treble | {C6} C5:e D5 E5 r r:h", voicing="drop 2"))
    assert found == "C5 G4 E4 A3 | D5 Ab4 F4 B3 | E5 A4 G4 C4"


# The five ways for one note, D5 before E5 over C6 in C, close position: E5 C5 A4 G4 is the goal.
WAYS = [
    ("diatonic", "D5", "D5 B4 G4 F4"),  # one step of the key each
    ("chromatic", "D#5", "D#5 B4 G#4 F#4"),
    ("chromatic", "F5", "F5 Db5 Bb4 Ab4"),
    ("dominant", "D5", "D5 B4 G4 F4"),  # G7
    ("dominant", "F5", "F5 D5 B4 G4"),
    ("dominant", "Ab5", "Ab5 F5 D5 B4"),  # G7 with a flat ninth for its root
    ("diminished", "D5", "D5 B4 Ab4 F4"),
    ("parallel", "D5", "D5 Bb4 G4 F4"),  # a whole step each
]


@pytest.mark.parametrize(("kind", "lead", "expected"), WAYS)
def test_each_way_to_approach_a_voicing(kind, lead, expected):
    goal = tuple(Sounding.named(n) for n in ["E5", "C5", "A4", "G4"])
    case = Approach(
        Sounding.named(lead), goal, chord("C6"), recipe("close", 4), 4, Terms(), fifths=0
    )
    assert " ".join(str(n) for n in harmonized(case, kind)) == expected


@pytest.mark.parametrize("kind", APPROACHES)
def test_a_rule_can_ask_for_one_way(kind):
    found = built("Tune: @treble k0 | {C6} D5:e E5 r:h.", approach=kind)
    top, goal = sounds(found).split(" | ")
    assert goal == "E5 C5 A4 G4"
    assert top.startswith("D5 ")


def test_the_named_way_is_taken_where_context_would_take_another():
    music = "Tune: @treble k0 | {C6} D5:e E5 r:h."
    assert sounds(built(music)).startswith("D5 B4 Ab4 F4")
    assert sounds(built(music, approach="diatonic")).startswith("D5 B4 G4 F4")


def test_a_way_that_does_not_fit_gives_way_to_parallel_motion():
    # a whole step is no chromatic approach
    found = sounds(built("Tune: @treble k0 | {C6} D5:e E5 r:h.", approach="chromatic"))
    assert found.startswith("D5 Bb4 G4 F4")


@pytest.mark.parametrize(
    ("music", "first"),
    [
        ("{C6} D5:h. E5:q", "D5 A4 G4 E4"),  # long: a ninth, not an approach
        ("{C6} D5:e A5 r:h.", "D5 A4 G4 E4"),  # left by leap
        ("{C6} D5:e r E5:h.", "D5 A4 G4 E4"),  # a rest between
        ("{Cmaj7} E5:e F5 r:h.", "E5 B4 G4 C5"),  # a chord tone is none
    ],
)
def test_a_note_is_an_approach_only_if_short_foreign_and_a_step_from_its_goal(music, first):
    found = sounds(built("Tune: @treble k0 | " + music)).split(" | ")[0]
    assert sorted(found.split()) == sorted(first.split())


def test_two_approach_notes_in_a_row_lead_to_the_same_goal():
    found = sounds(built("Tune: @treble k0 | {C6} Eb5:e D#5 E5:h. |")).split(" | ")
    assert found[-1] == "E5 C5 A4 G4"
    assert found[1] == "D#5 B4 G#4 F#4"


# A second under the lead (jazz-arranging textbook ch. 10).
@pytest.mark.parametrize(("music", "gap"), [("{Cmaj7} C5:w", 3), ("{Cmaj7} C5:e r r:h.", 3)])
def test_the_lead_is_not_rubbed(music, gap):
    top, second, *_ = sounds(built("Tune: @treble k0 | " + music)).split()
    assert key_of(Sounding.named(top)) - key_of(Sounding.named(second)) >= gap


def test_repeated_notes_keep_their_voicing():
    found = sounds(built("Tune: @treble | {C6} A5:e A5 A5:q A5:h | A5:w")).split(" | ")
    assert len(set(found)) == 1


def test_the_melody_stays_whole_on_top_and_words_with_it_alone():
    music = sketch("Tune: @treble | {C6} C5:q( 'la E5) 'lu G5:h;> 'li")
    found = block(
        StrandRule("block", under="tune", voicing="close", voices=4),
        tune(music),
        music,
        range(1, len(music.bars)) if not music.parts[0].bars[0].layers else range(len(music.bars)),
    )
    index = max(found.strand.bars)
    top, *lower = found.strand.bars[index]
    assert top == music.parts[0].bars[index].layers[0]
    assert [n.origin for e in top for n in e.notes] == [0, 1, 2]
    assert all(n.origin == -1 for layer in lower for e in layer for n in e.notes)
    assert not any(e.lyrics for layer in lower for e in layer)


def test_rhythm_beams_and_marks_go_to_every_voice():
    found = built("Tune: @treble | {C6} 3( C5:e E5 G5 ) A5:q;. r:h")
    top, *lower = found.strand.bars[max(found.strand.bars)]
    for layer in lower:
        assert [(e.at, e.duration, e.value, e.marks) for e in layer] == [
            (e.at, e.duration, e.value, e.marks) for e in top
        ]


def test_tied_notes_are_tied_in_every_voice():
    found = built("Tune: @treble | {C6} A5~:w | A5:w")
    first, second = (found.strand.bars[i] for i in sorted(found.strand.bars))
    assert all(layer[0].notes[0].tie_start for layer in first)
    assert all(layer[0].notes[0].tie_stop for layer in second)
    pairs = zip(first, second, strict=True)
    assert all(a[0].notes[0].pitch == b[0].notes[0].pitch for a, b in pairs)


def test_a_chord_that_changes_under_a_held_note_moves_the_voices_below():
    found = built("Tune: @treble | {Am7} C5:w {D7}&2")
    top, *lower = found.strand.bars[max(found.strand.bars)]
    assert len(top) == 1
    assert all(len(layer) == 2 for layer in lower)
    assert sounds(found).split(" | ")[1] == "A4 F#4 D4"


def test_an_anticipated_note_takes_the_chord_it_anticipates():
    # Ted Pease, Jazz Composition, p. xvi
    found = built("Tune: @treble | {Dm7} D5:h. r:e C5~ | {Cmaj7} C5:h r:h").strand
    struck = [layer[-1].notes[0].pitch.name for layer in found.bars[min(found.bars)]]
    assert sorted(struck) == sorted(["C", "A", "G", "E"])  # not Dm7


@pytest.mark.parametrize(("music", "bars"), [("{N.C.} C5:w", 1), ("C5:w | C5:w", 2)])
def test_without_a_chord_all_voices_are_in_unison_and_it_is_said(music, bars):
    found = built("Tune: @treble | " + music)
    assert set(sounds(found).replace("|", "").split()) == {"C5"}
    assert [f.check for f in found.findings] == ["no-chord-symbol"] * bars
    assert "unison" in found.findings[0].message


def test_grace_notes_stay_with_the_melody_alone():
    found = built("Tune: @treble | {C6} ^B4 C5:w")
    top, *lower = found.strand.bars[max(found.strand.bars)]
    assert len(top) == 2
    assert all(len(layer) == 1 for layer in lower)


def test_a_second_layer_of_the_melody_is_reported():
    found = built("Tune: @treble | {C6} C5:w // E4:w")
    assert [f.check for f in found.findings] == ["layer-not-voiced"]
    assert len(found.strand.bars[max(found.strand.bars)]) == 4


def test_rests_rest_in_every_voice():
    found = built("Tune: @treble | {C6} C5:q r r:h")
    for layer in found.strand.bars[max(found.strand.bars)]:
        assert [e.is_rest for e in layer] == [False, True, True]


def test_built_strands_say_so_and_keep_the_melodys_marks():
    found = built("Tune: @treble | {C6} !p C5:w").strand
    assert found.built
    assert found.staves == ()
    assert found.name == "block"


def test_an_unknown_way_is_explained():
    music = sketch("Tune: @treble | {C6} C5:w")
    rule = StrandRule("block", under="tune", approach="chromatc", at=Spot("rules.yaml", 4))
    with pytest.raises(ExpanderError) as caught:
        block(rule, tune(music), music, range(len(music.bars)))
    assert caught.value.message == (
        "rules.yaml:4: 'chromatc' is not a way to harmonize approach notes. "
        "Did you mean 'chromatic'?"
    )


def test_the_same_music_gives_the_same_block():
    music = "Tune: @treble k-1 | {Gm7} D5:q F5:e G5 A5:h {C7}&2 | {Fmaj7} A5:w"
    assert built(music, voicing="drop 2", voices=5) == built(music, voicing="drop 2", voices=5)
