"""A short score with its rule file, expanded: everybody has their own music again."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from typer.testing import CliRunner

from expander.catalogue.ensembles import load_ensemble
from expander.cli import app
from expander.model.pitch import Drum
from expander.musicxml import read, to_bytes
from expander.pipeline import expand_file
from expander.plan.meant import BY_LAYER
from expander.revoice.commands import give_back, line_up_beside, reduce_document
from expander.sounding import to_sounding
from tests import mini
from tests.bench.revoice_back import told
from tests.source import HOME
from tests.strategies import Traits, documents


def played(score):
    """What every part begins when: heights, or the place of a drum on its stave."""
    sketch = to_sounding(score)
    names = [" ".join(part.name.split()) for part in sketch.parts]
    return {
        (names[i], names[:i].count(names[i]), Fraction(bar.start + e.at, sketch.grid), pitch(n))
        for i, part in enumerate(sketch.parts)
        for bar, content in zip(sketch.bars, part.bars, strict=True)
        for layer in content.layers
        for e in layer
        for n in e.notes
        if not n.tie_stop and not e.cue
    }


def pitch(note):
    return str(note.pitch) if isinstance(note.pitch, Drum) else note.pitch.semitone


def there_and_back(document, folder):
    """The reduction, and its expansion by its own rule file."""
    reduced = reduce_document(document, exact=True)
    sketch, rules = folder / "short.musicxml", folder / "short.yaml"
    sketch.write_bytes(to_bytes(reduced.score))
    for path, text in give_back(reduced, rules, sketch).files.items():
        path.write_bytes(text)
    return reduced, expand_file(read(sketch), rules)


PAIRS = """
Upper: C5:q D5 E5 F5 | G5:h A5 | B5:w | C6~:w | C6:h r | R
Lower: C5:q D5 C5 D5 | G5:h F5 | B5:w | C5:h E5 | C6:h A4 | A4+C5:w
Third: R | R | R | R | E4:q F4 G4 A4 | C4:w
"""
PAIRED = """
ensemble: symphony-orchestra
strands: {upper: {staff: 1}, lower: {staff: 2}, third: {staff: 3}}
plan:
  all:
    - {play: upper, by: [flute 1, clarinet 1, violins 1]}
    - {play: lower, by: [flute 2, clarinet 2, violins 1]}
    - {play: third, by: [bassoon 1, horn 1, trumpet 1, violins 2]}
"""
"""Two who meet, part, and are alone on a shared stave; a section that has both their lines."""


@pytest.mark.parametrize(("others", "by_roles"), [(", trumpet 1, violins 2", True), ("", False)])
def test_two_who_share_a_stave_have_each_their_own_again(tmp_path, others, by_roles) -> None:
    sketch, rules = tmp_path / "pairs.musicxml", tmp_path / "pairs.yaml"
    sketch.write_bytes(to_bytes(mini.document(PAIRS)))
    rules.write_text(PAIRED.replace(", trumpet 1, violins 2", others))
    full = expand_file(read(sketch), rules).score
    reduced, back = there_and_back(full, tmp_path)
    assert bool(reduced.owners) != by_roles
    assert played(back.score) == played(full)
    assert mini.rows(back.score)["Flutes 1. 2."] == mini.rows(full)["Flutes 1. 2."]


FAR = """
Whistle: B8:q A8 G8 A8 | D9:w
Piccolo: tr(0,0,1) @treble C7:q D7 E7 F7 | G7:w
Flute: C5:q E5 G5 C6 | B5:w
Oboe: E4:q C4 B4 E4 | D5:w
Clarinet: tr(-1,-2,0) F#4:h A4 | C5:w
Bassoon: @bass G3:q A3 B3 C4 | D4:w
Tuba: @bass C1:q D1 E1 F1 | G1:w
Contrabass: @bass B0:h A0 | C1:w
"""


def test_lines_seven_octaves_apart_are_not_written_as_one(tmp_path) -> None:
    document = mini.document(FAR)
    _, back = there_and_back(document, tmp_path)
    assert played(back.score) == played(document)


TIED_TO_NOTHING = """
Violin I: E5:q ?~F5:q G5:h | A5~?:w | G5:w
Violin II: C5:e B4 A4 B4 D5:h | E5:w | E5:w
Viola: @alto G4:e B4 E4 G4 B4:h | C5:w | B4:w
Violoncello: @bass C3:h ?~G2 | C3:q D3 E3 F3 | G3:w
"""


def test_ties_that_nothing_answers_keep_no_line_from_its_place(tmp_path) -> None:
    document = mini.document(TIED_TO_NOTHING)
    _, back = there_and_back(document, tmp_path)
    assert played(back.score) >= played(document)
    assert back.ledger.unplaced == ()


MEETING = """
Violin I: E5:e B4 C5 D5 F5:h | G5:w
Violin II: C5:e B4 A4 B4 D5:h | E5:w
Viola: @alto G4:e B4 E4 G4 B4:h | C5:w
Horn: tr(-4,-7,0) C5:w | D5:h E5
Oboe: D6:w | E6:w
Trombone: @bass C3:h G2 | C3:q D3 E3 F3
"""


def test_lines_that_meet_on_a_note_stay_apart(tmp_path) -> None:
    document = mini.document(MEETING)
    reduced, back = there_and_back(document, tmp_path)
    assert len(reduced.score.parts) < len(document.parts)
    assert played(back.score) == played(document)


@settings(max_examples=12)
@given(document=documents(Traits(staves=8, layers=2, bars=3)))
def test_every_note_is_with_its_player_again(document, tmp_path_factory) -> None:
    assume(played(document))
    folder = tmp_path_factory.mktemp("back")
    _, back = there_and_back(document, folder)
    assert played(back.score) >= played(document)


TUTTI = """
Flute 1: !p C6:q D6 E6 F6 | G6:w | !f A5:h B5 | C6:w
Flute 2: !p E5:q F5 G5 A5 | B5:w | !f F5:h G5 | G5:w
Oboe: !mf C5:q D5 E5 F5 | G5:w | R | !pp E5:w
Clarinet: tr(-1,-2,0) !p F#4:w | E4:w | E4:h F#4 | F#4:w
Trumpet: tr(-1,-2,0) R | !ff "con sord." D5:q D5 D5 D5 | "senza sord." R | !f D5:w
Bassoon: @bass !p C3:h G2 | C3:w | F2:h G2 | C3:w
Violin: !p C5:q D5 E5 F5 | G5~:w | G5:w | E5+G5:w
Viola: @alto !p "pizz." G4:q G4 G4 G4 | D4:q D4 D4 D4 | "arco" C4:h D4 | E4:w
Violoncello: @bass !p C3:h G2 | C3:w | F2:h G2 | C2:w
"""


@pytest.fixture
def tutti(tmp_path):
    return there_and_back(mini.document(TUTTI), tmp_path)


def test_doublings_octaves_and_chords_go_back_and_nothing_else(tutti) -> None:
    reduced, back = tutti
    assert not reduced.owners
    assert len(reduced.score.parts) <= 5
    assert played(back.score) == played(mini.document(TUTTI))
    assert back.ledger.unplaced == ()


def test_colours_and_levels_go_back(tutti) -> None:
    rows = mini.rows(to_sounding(tutti[1].score))
    assert rows["Viola"].index('"pizz."') < rows["Viola"].index('"arco"')
    assert rows["Trumpet"].index('"con sord."') < rows["Trumpet"].index('"senza sord."')
    words = {name: row.split() for name, row in rows.items()}
    levels = {n: [w.split("&")[0] for w in row if w.startswith("!")] for n, row in words.items()}
    assert levels["Flute 2"][:2] == ["!p", "!f"]
    assert (levels["Oboe"][0], levels["Oboe"][-1][:3]) == ("!mf", "!pp")
    assert levels["Trumpet"] == ["!ff", "!f"]


WORDED = """
Flute: !p "dolce" C6:q !< D6 E6 !.&3/1 F6 | !mf G6:w | A6:w | "morendo" G6:w
Oboe: !mf "espr." A5:e G5 F5 E5 F5:q G5 | A5:q G5 F5:h | !p F5:w | E5:w
Clarinet: tr(-1,-2,0) !mp G4:h !> A4 !.&4/1 | !pp B4:h A4 | G4:w | F#4:w
Horn: tr(-4,-7,0) !mp C5:h D5 | E5:h D5 | !sf C5:w | "marc." B4:w
Bassoon: @bass !p C3:h G2 | C3:w | F2:h G2 | C3:w
Trumpet: tr(-1,-2,0) R | R | !f E5:q !< E5 E5 E5 | !ff !. F#5:w
Violin: !f "con fuoco" C5:q D5 E5 F5 | G5:w | !< A5:w | !. G5:w
Viola: @alto !p "ruvido" F4:q G4 A4 B4 | C5:h B4 | A4:w | B4:w
"""
"""Every line is told something else: lines of one rhythm, and the violin that doubles the flute."""


def test_words_dynamics_and_hairpins_are_with_their_players_again(tmp_path) -> None:
    document = mini.document(WORDED)
    reduced, back = there_and_back(document, tmp_path)
    assert len(reduced.score.parts) < len(document.parts)
    assert told(document) - told(back.score) == set()
    assert {mark for mark in told(back.score) - told(document) if mark[2] != "dynamics"} == set()


def test_marks_of_single_layers_name_them(tmp_path) -> None:
    reduced, _ = there_and_back(mini.document(WORDED), tmp_path)
    part = next(p for p in reduced.score.parts if p.name == "Counter-lines")
    marks = [d for bar in part.bars for d in bar.directions]
    voices = {d.voice for d in marks if d.first("words")}
    assert len(voices) > 1
    assert voices <= {layer.voice for layer in part.layers}
    assert sum(BY_LAYER in d.marks for d in marks) == 1


def test_what_all_who_play_are_told_stands_once_without_a_voice(tmp_path) -> None:
    first = "\n".join(line.split(" | ")[0] for line in WORDED.strip().splitlines())
    reduced, back = there_and_back(mini.document(first), tmp_path)
    part = next(p for p in reduced.score.parts if p.name == "Inner parts")
    assert len(part.layers) > 1  # horn and clarinet, both told mp, one with a hairpin as well
    marks = [d for d in part.bars[0].directions if BY_LAYER not in d.marks]
    assert [(d.voice, d.marks[0].name) for d in marks] == [
        ("", "dynamics"), ("1", "wedge"), ("1", "wedge"),
    ]  # fmt: skip
    assert told(mini.document(first)) <= told(back.score)


def test_a_tie_over_the_barline_stays_one_note(tutti) -> None:
    assert "G5~:w" in mini.rows(to_sounding(tutti[1].score))["Violin"]


def test_the_line_up_is_written_beside_the_rules(tutti, tmp_path) -> None:
    path = line_up_beside(tmp_path / "short.yaml")
    assert "ensemble: short-line-up.yaml" in (tmp_path / "short.yaml").read_text()
    names = [player.label for player in load_ensemble(str(path)).players]
    assert names == [part.name for part in mini.document(TUTTI).parts]


def test_the_sample_goes_back_to_its_shipped_line_up(tmp_path) -> None:
    samples = HOME / "samples"
    rules = samples / "paper-harbour-jazz-orchestra.yaml"
    full = expand_file(read(samples / "paper-harbour.musicxml"), rules).score
    _, back = there_and_back(full, tmp_path)
    assert "ensemble: jazz-orchestra" in (tmp_path / "short.yaml").read_text()
    assert not line_up_beside(tmp_path / "short.yaml").exists()
    assert played(back.score) >= played(full) - harmonics(full)
    assert [part.name for part in back.score.parts] == [part.name for part in full.parts]


def harmonics(score):
    """The stopped and touched notes of artificial harmonics, which are one note as heard."""
    return {row for row in played(score) if row[0] in ("Violin I", "Violin II", "Viola", "Harp")}


def test_bars_whose_numbers_come_twice_are_counted_anew(tmp_path) -> None:
    text = to_bytes(mini.document(TUTTI)).decode().replace('number="3"', 'number="2"')
    path = tmp_path / "score.musicxml"
    path.write_text(text)
    reduced, back = there_and_back(read(path), tmp_path)
    assert [bar.number for bar in reduced.score.bars] == ["1", "2", "3", "4"]
    assert played(back.score) == played(mini.document(TUTTI))


def test_the_command_writes_both_files(tmp_path) -> None:
    score, sketch, rules = (tmp_path / n for n in ("a.musicxml", "b.musicxml", "b.yaml"))
    score.write_bytes(to_bytes(mini.document(TUTTI)))
    words = ["reduce", str(score), "-o", str(sketch), "--rules", str(rules)]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0
    assert "gives every line back" in done.stderr
    again = tmp_path / "again.musicxml"
    words = ["expand", str(sketch), "-r", str(rules), "-o", str(again)]
    assert CliRunner().invoke(app, words).exit_code == 0
    assert played(read(again)) == played(mini.document(TUTTI))


def test_the_rules_do_not_take_the_place_of_the_score(tmp_path) -> None:
    score = tmp_path / "a.musicxml"
    score.write_bytes(to_bytes(mini.document(TUTTI)))
    words = ["reduce", str(score), "-o", str(tmp_path / "b.musicxml"), "--rules", str(score)]
    assert CliRunner().invoke(app, words).exit_code != 0
    assert list(tmp_path.iterdir()) == [score]
