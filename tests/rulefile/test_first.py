import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from expander.model.rules import Entry, Passage, Rules, SketchFacts, StrandRule
from expander.rulefile import Heading, check_against, first_rules, parse_rules, techniques
from expander.rulefile.shape import Dynamic
from tests.rulefile.test_reading import SONG

FACTS = SketchFacts(
    layers=(2, 1, 1),
    bars=tuple(str(n) for n in range(1, 65)),
    marks=(("A", 8), ("B", 24), ("C", 32), ("D", 48)),
    staff_names=("Voice", "Piano", "Piano"),
)

names = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=12).filter(
    lambda t: parse_name(t) == t
)
labels = st.text(st.sampled_from("0123456789abX"), min_size=1, max_size=4).filter(
    lambda t: t != "end"
)


def parse_name(text):
    """The text as a rule file reads it: composed accents, no blanks at the ends."""
    import unicodedata

    return unicodedata.normalize("NFC", text.strip())


def backward(first, last):
    return first.isdecimal() and last.isdecimal() and int(last) < int(first)


bar_passages = (
    st.tuples(labels, labels | st.just("end"))
    .filter(lambda pair: not backward(*pair))
    .map(lambda pair: Passage(first=pair[0], last=pair[1]))
)
passages = (
    bar_passages
    | names.map(lambda name: Passage(mark=name))
    | names.map(lambda name: Passage(start=name))
    | st.tuples(names, names).map(lambda pair: Passage(start=pair[0], stop=pair[1]))
)


@st.composite
def strands(draw, known):
    name = draw(names)
    voices = draw(st.sampled_from([0, 2, 5, 12]))
    voicing = draw(st.just("") | names)
    tensions = draw(st.sampled_from(["", "usual"]))
    kinds = ["staff", "chords", "slashes"]
    kind = draw(st.sampled_from([*kinds, "under"] if known else kinds))
    built = StrandRule(name, voicing=voicing, voices=voices, tensions=tensions)
    if kind == "chords":
        return replace(built, chords="symbols", rhythm=draw(st.sampled_from(["", *known])))
    if kind == "under":
        under, approach = draw(st.sampled_from(known)), draw(st.just("") | names)
        return replace(built, under=under, approach=approach)
    bars = draw(st.none() | bar_passages)
    if kind == "slashes":
        kicks = draw(st.sampled_from(["", *known]))
        return StrandRule(name, slashes=True, kicks=kicks, bars=bars)
    return StrandRule(
        name,
        staff=draw(st.integers(1, 40)),
        more_staves=draw(st.just(()) | st.tuples(st.integers(1, 40))),
        layer=draw(st.integers(0, 4)),
        notes=draw(st.sampled_from(["all", "highest", "lowest", "2"])),
        bars=bars,
        repeat=bars is not None and draw(st.booleans()),
    )


@st.composite
def entries(draw, known):
    every = techniques().values()
    return Entry(
        play=draw(st.sampled_from(known)),
        by=tuple(draw(st.lists(names, min_size=1, max_size=3, unique=True))),
        octave=draw(st.integers(-4, 4)),
        spacing=draw(st.sampled_from(["unison", "octaves"])),
        dynamic=draw(st.sampled_from(["", *Dynamic.__args__])),
        technique=draw(st.sampled_from(["", *(t.id for t in every if not t.is_mute)])),
        mute=draw(st.sampled_from(["", *(t.id for t in every if t.is_mute)])),
        words=draw(st.sampled_from([None, True, False])),
        fit=draw(st.sampled_from(["", "octave", "hand over", "keep"])),
    )


@st.composite
def rule_values(draw):
    """Rules as a rule file can say them."""
    known = {}
    for _ in range(draw(st.integers(0, 3))):
        strand = draw(strands(list(known)))
        known.setdefault(strand.name, strand)
    section = names.filter(lambda name: name != "all")
    form = draw(st.dictionaries(section, passages, max_size=3))
    lines = st.lists(entries(list(known)), max_size=2).map(tuple) if known else st.just(())
    sections = st.sampled_from(["all", *form]) if form else names
    return Rules(
        ensemble=draw(st.just("") | names),
        pitch=draw(st.sampled_from(["transposed", "concert"])),
        form=form,
        strands=known,
        plan=draw(st.dictionaries(sections, lines, max_size=3)),
        arranger=draw(st.just("") | names),
        version=draw(st.just("") | names),
        keyless=tuple(draw(st.lists(names, max_size=2, unique=True))),
        file="first.yaml",
    )


@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(rule_values(), st.text(max_size=20), st.text(max_size=20))
def test_what_is_written_reads_back_as_the_same_rules(rules, title, staff):
    facts = replace(FACTS, staff_names=(staff, staff))
    heading = Heading(sketch=title, score=title, title=title, players=(staff, title))
    text = first_rules(rules, facts, heading)
    back = parse_rules(text, "first.yaml")
    assert back == rules
    assert list(back.plan) == list(rules.plan)


@pytest.fixture(scope="module")
def text():
    rules = replace(parse_rules(SONG, "low-tide.yaml"))
    heading = Heading("low tide.musicxml", "score.mxl", "Low Tide", ("flute 1", "flutes", "tutti"))
    return first_rules(rules, FACTS, heading)


def test_a_song_reads_back(text):
    assert parse_rules(text, "low-tide.yaml") == parse_rules(SONG, "low-tide.yaml")


@pytest.mark.parametrize(
    "line",
    [
        "# Rules for Low Tide",
        "#   expander expand 'low tide.musicxml' -r low-tide.yaml -o score.mxl",
        "  verse:  {mark: A}         # 16 bars, 9-24",
        "  tag:    {bars: 57-end}    # 8 bars, 57-64",
        "    - {play: tune, by: [flute 1, clarinet 1], octave: -1, spacing: octaves}",
        "#   flute 1, flutes, tutti",
    ],
)
def test_it_says_what_an_arranger_needs(text, line):
    assert line in text.splitlines()


def test_a_strand_is_shown_with_its_staff(text):
    line = next(line for line in text.splitlines() if line.startswith("  bass:"))
    assert line.endswith("# Piano")


def test_lines_stay_on_the_screen(text):
    assert max(len(line) for line in text.splitlines()) <= 100


def test_sections_nothing_is_said_of_wait_as_remarks():
    rules = Rules(strands={"tune": StrandRule("tune", staff=1)}, plan={"all": ()})
    assert "#  B:\n#    - {play: tune, by: ...}" in first_rules(rules, FACTS)


def test_the_waiting_form_works_once_the_signs_are_taken_away():
    lines = first_rules(Rules(), FACTS).splitlines()
    start = lines.index("#form:")
    form = [line.removeprefix("#") for line in lines[start : start + 5]]
    rules = parse_rules("\n".join(form))
    assert list(rules.form) == ["A", "B", "C", "D"]
    assert check_against(rules, FACTS) == []


def test_it_is_the_same_every_time(text):
    rules = parse_rules(SONG, "low-tide.yaml")
    assert first_rules(rules, FACTS) == first_rules(rules, FACTS)


def test_rules_that_say_nothing_make_a_file_that_can_be_read():
    nothing = Rules(file="x.yaml")
    assert parse_rules(first_rules(nothing, SketchFacts((), ())), "x.yaml") == nothing
