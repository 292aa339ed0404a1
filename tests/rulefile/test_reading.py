import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.errors import BadRules, Spot
from expander.model.rules import Entry, Passage, StrandRule
from expander.rulefile import load_rules, parse_rules
from expander.rulefile.load import LARGEST

SONG = """\
ensemble: jazz-orchestra          # a shipped one
pitch: concert
arranger: Ada Lind
version: 1.10
keyless: [horns, timpani]
form:
  intro:  {bars: 1-8}
  verse:  {mark: A}
  chorus: {from: B, to: D}
  tag:    {bars: 57-end}
strands:
  tune:    {staff: 1, layer: 1}
  inner:   {staff: [2, 3]}
  bass:    {staff: 3, notes: lowest}
  pad:     {chords: symbols, voicing: close, voices: 4, rhythm: tune}
  block:   {under: tune, voicing: drop 2, voices: 5, approach: diminished}
  pulse:   {staff: 3, bars: 9-10, repeat: true}
  time:    {slashes: true, kicks: tune, bars: 9-end}
  rich:    {chords: symbols, tensions: usual}
plan:
  all:
    - {play: tune, by: voice, words: true}
  intro:
    - play: inner
      by: strings
      as: harmonics
      dynamic: pp
  verse:
    - {play: tune, by: [flute 1, clarinet 1], spacing: octaves, octave: -1}
    - {play: pad, by: [trumpets, trombones], mute: bucket mute, words: no}
  chorus:
    - {play: tune, by: violins 1, octave: +1, fit: hand over}
  tag:
"""


@pytest.fixture(scope="module")
def song():
    return parse_rules(SONG, "song.yaml")


def test_the_top_is_read(song):
    assert (song.ensemble, song.pitch, song.arranger) == ("jazz-orchestra", "concert", "Ada Lind")
    assert (song.version, song.keyless, song.file) == ("1.10", ("horns", "timpani"), "song.yaml")


def test_the_form_is_read_in_order(song):
    assert list(song.form.items()) == [
        ("intro", Passage(first="1", last="8")),
        ("verse", Passage(mark="A")),
        ("chorus", Passage(start="B", stop="D")),
        ("tag", Passage(first="57", last="end")),
    ]


def test_the_strands_are_read(song):
    assert list(song.strands.values()) == [
        StrandRule("tune", staff=1, layer=1),
        StrandRule("inner", staff=2, more_staves=(3,)),
        StrandRule("bass", staff=3, notes="lowest"),
        StrandRule("pad", chords="symbols", voicing="close", voices=4, rhythm="tune"),
        StrandRule("block", under="tune", voicing="drop 2", voices=5, approach="diminished"),
        StrandRule("pulse", staff=3, bars=Passage(first="9", last="10"), repeat=True),
        StrandRule("time", slashes=True, kicks="tune", bars=Passage(first="9", last="end")),
        StrandRule("rich", chords="symbols", tensions="usual"),
    ]


def test_the_plan_is_read(song):
    assert dict(song.plan) == {
        "all": (Entry("tune", ("voice",), words=True),),
        "intro": (Entry("inner", ("strings",), technique="harmonics", dynamic="pp"),),
        "verse": (
            Entry("tune", ("flute 1", "clarinet 1"), spacing="octaves", octave=-1),
            Entry("pad", ("trumpets", "trombones"), mute="bucket", words=False),
        ),
        "chorus": (Entry("tune", ("violins 1",), octave=1, fit="hand over"),),
        "tag": (),
    }


def test_each_value_knows_its_place(song):
    entry = song.plan["verse"][0]
    assert entry.at == Spot("song.yaml", 29, 7)
    assert entry.spots["by.1"] == Spot("song.yaml", 29, 34)
    assert song.plan["chorus"][0].spots["by.0"] == Spot("song.yaml", 32, 24)
    assert song.form["chorus"].spots["to"] == Spot("song.yaml", 9, 25)
    assert song.strands["pulse"].bars.at == Spot("song.yaml", 17, 29)
    assert song.spots["plan.chorus"] == Spot("song.yaml", 31, 3)


@pytest.mark.parametrize(
    ("written", "mark"),
    [("1", "1"), ("01", "01"), ("1.50", "1.50"), ("N", "N"), ("on", "on"), ("yes", "yes"),
     ("true", "true"), ("1:30", "1:30"), ("2024-01-02", "2024-01-02"), ("1_0", "1_0"),
     ("0x1F", "0x1F"), ("'null'", "null"), ("'  A '", "A"), ("1e3", "1e3")],
)  # fmt: skip
def test_a_mark_is_the_words_that_were_typed(written, mark):
    assert parse_rules(f"form: {{a: {{mark: {written}}}}}").form["a"].mark == mark


@pytest.mark.parametrize(
    ("written", "first", "last"),
    [("5", "5", "5"), ("1-8", "1", "8"), ("1 - 8", "1", "8"), ("1–8", "1", "8"),
     ("57-end", "57", "end"), ("12a-X1", "12a", "X1"), ("0", "0", "0"), ("'7'", "7", "7")],
)  # fmt: skip
def test_bars_are_labels(written, first, last):
    passage = parse_rules(f"form: {{a: {{bars: {written}}}}}").form["a"]
    assert (passage.first, passage.last) == (first, last)


@pytest.mark.parametrize("name", ["1", "no", "on", "true", "Vers 2", "Çığlık", "null"])
def test_a_section_may_have_any_name(name):
    rules = parse_rules(f"form: {{{name}: {{mark: A}}}}\nplan: {{{name}: []}}")
    assert list(rules.form) == list(rules.plan) == [name]


def test_accents_typed_in_two_ways_are_one_name():
    text = "strands: {me\u0301lodie: {staff: 1}}\nplan: {all: [{play: m\u00e9lodie, by: a}]}"
    assert parse_rules(text).plan["all"][0].play == "m\u00e9lodie"


@pytest.mark.parametrize(
    ("written", "technique", "mute"),
    [("pizz.", "pizzicato", ""), ("Pizz", "pizzicato", ""), ("con sord.", "", "sordino"),
     ("flutter tongue", "flutter-tongue", ""), ("col legno", "col legno battuto", ""),
     ("stopped", "", "stopped")],
)  # fmt: skip
def test_a_technique_has_one_id_however_it_is_spelt(written, technique, mute):
    text = f"strands: {{a: {{staff: 1}}}}\nplan: {{all: [{{play: a, by: b, as: {written}}}]}}"
    entry = parse_rules(text).plan["all"][0]
    assert (entry.technique, entry.mute) == (technique, mute)


@pytest.mark.parametrize("text", ["form:", "strands: ~", "plan:\n", "keyless:", "form: {}"])
def test_a_group_may_be_left_empty(text):
    rules = parse_rules(text)
    assert not (rules.form or rules.strands or rules.plan or rules.keyless)


def test_a_value_left_empty_is_left_out():
    text = "strands: {a: {staff: 1, layer: }}\nplan: {all: [{play: a, by: b, dynamic: , as: }]}"
    assert parse_rules(text).plan["all"][0] == Entry("a", ("b",))


def test_sections_without_a_form_are_left_to_the_sketch():
    assert list(parse_rules("plan: {A: [], Z9: []}").plan) == ["A", "Z9"]


def test_from_and_to_may_stand_alone():
    form = parse_rules("form: {a: {to: B}, b: {from: B}}").form
    assert (form["a"], form["b"]) == (Passage(stop="B"), Passage(start="B"))


def test_a_few_repeats_are_understood():
    text = "strands: {a: {staff: 1}}\nplan: {all: [&e {play: a, by: b}], x: [*e]}"
    rules = parse_rules(text)
    assert rules.plan["x"] == rules.plan["all"]


def test_a_file_is_read_as_utf8_with_or_without_a_byte_order_mark(tmp_path):
    path = tmp_path / "rules.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + "arranger: Åse\n".encode())
    assert load_rules(path).arranger == "Åse"
    assert load_rules(str(path)).file == str(path)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_every_line_ending_counts_lines(ending):
    with pytest.raises(BadRules) as caught:
        parse_rules(ending.join(["pitch: concert", "form: {}", "x: y"]))
    assert caught.value.mistakes[0].at.line == 3


def of_file(path):
    with pytest.raises(BadRules) as caught:
        load_rules(path)
    return caught.value.mistakes[0]


def test_a_file_in_another_encoding_is_told_with_the_place(tmp_path):
    path = tmp_path / "latin.yaml"
    path.write_bytes("pitch: concert\narranger: Åse\n".encode("latin-1"))
    mistake = of_file(path)
    assert "UTF-8" in mistake.message
    assert (mistake.at.line, mistake.at.column) == (2, 11)


def test_a_file_that_is_not_there_is_told(tmp_path):
    assert "none.yaml" in of_file(tmp_path / "none.yaml").message


def test_a_folder_is_no_rule_file(tmp_path):
    assert "cannot be read" in of_file(tmp_path).message


def test_a_huge_file_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "huge.yaml"
    path.write_bytes(b"# " + b"x" * LARGEST)
    assert "larger than" in of_file(path).message


def test_a_huge_text_is_refused():
    with pytest.raises(BadRules, match="larger than"):
        parse_rules("#" * (LARGEST + 1))


PIECES = st.sampled_from(
    ["plan:", "all:", "strands:", "form:", "\n", "  ", "- ", "{", "}", "[", "]", ",", ": ", "play",
     "by", "*a", "&a", "!x", "|", ">", "'", '"', "\\", "\t", "#", "%", "@", "---", "...", "<<",
     "? ", "~", "1-8", "bars", "mark", "under", "é", "\x00", "\x85", "\u2028", "\ufeff", "\ud800"]
)  # fmt: skip


@settings(deadline=None, max_examples=300)
@given(st.lists(PIECES, max_size=30).map("".join) | st.text(max_size=60))
def test_whatever_is_typed_gives_rules_or_mistakes_with_a_place(text):
    try:
        parse_rules(text, "x.yaml")
    except BadRules as error:
        assert error.mistakes
        assert all(m.at and m.at.file == "x.yaml" for m in error.mistakes)


@settings(deadline=None, max_examples=200)
@given(st.data())
def test_a_song_with_a_piece_cut_out_gives_rules_or_mistakes(data):
    start = data.draw(st.integers(0, len(SONG)))
    stop = data.draw(st.integers(start, min(len(SONG), start + 40)))
    try:
        parse_rules(SONG[:start] + data.draw(PIECES) + SONG[stop:], "x.yaml")
    except BadRules as error:
        assert all(m.at and 0 < m.at.line <= SONG.count("\n") + 3 for m in error.mistakes)
