"""One row per mistake: the text, where it is found, and words its message must hold.

The mark ^ in a text stands before the place expected, and is taken out before reading.
"""

import pytest

from expander.errors import BadRules, ExpanderError
from expander.rulefile import parse_rules
from expander.rulefile.positions import MOST_VALUES

STRANDS = "strands: {tune: {staff: 1}, bass: {staff: 2}}\n"

ENTRY = STRANDS + "plan:\n  all:\n    - "


def mistakes_in(text):
    with pytest.raises(BadRules) as caught:
        parse_rules(text, "song.yaml")
    return caught.value.mistakes


def marked(text):
    """The text without its ^, and the line and column where that stood."""
    before, _, after = text.partition("^")
    line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    return before + after, (line, column)


# Keys and values at the top
TOP = {
    "unknown key": ("^ensembel: septet", '"ensembel"', "expected ensemble,", 'mean "ensemble"'),
    "unknown key, trade word": (
        "pitch: concert\n^orchestration: x",
        '"orchestration"',
        'mean "plan"',
    ),
    "capital in a key": ("^Ensemble: septet", '"Ensemble"', 'mean "ensemble"'),
    "key twice": ("pitch: concert\n^pitch: transposed", '"pitch" stands twice', "line 1"),
    "strand twice": (
        "strands:\n  tune: {staff: 1}\n  ^tune: {staff: 2}",
        '"tune" stands twice',
        "line 2",
    ),
    "unknown pitch": ("pitch: ^concrt", '"concrt"', "transposed or concert", 'mean "concert"'),
    "ensemble is a list": ("ensemble: ^[a, b]", "ensemble: a list", "name was expected"),
    "ensemble is a group": ("ensemble: ^{a: b}", "ensemble: a group of names"),
    "empty name in quotes": ('arranger: ^""', "arranger:", "empty"),
    "strands is a list": ("strands: ^[tune]", "strands: a list", "tune: {staff: 1}"),
    "plan is a word": ("plan: ^tune", 'plan: "tune"', "names with a colon"),
    "keyless is empty": ("keyless: ^[]", "keyless: the list or name is empty"),
    "keyless twice": ("keyless: [horn 1, ^horn 1]", '"horn 1" stands twice'),
}

FORM = {
    "bars without an end": ("form:\n  intro: {bars: ^1-}", '"1-"', "5, 1-8 or 57-end"),
    "bars without a beginning": ("form: {intro: {bars: ^-8}}", '"-8"', "1-8"),
    "bars in three": ("form: {intro: {bars: ^1-8-9}}", '"1-8-9"', "1-8"),
    "end first": ("form: {intro: {bars: ^end}}", '"end"', "57-end"),
    "bars backward": ("form: {intro: {bars: ^8-1}}", '"8-1"', "runs backward"),
    "bars in a list": ("form: {intro: {bars: ^[1, 8]}}", "bars: a list"),
    "bars and mark": ("form: {intro: {bars: 1-8, ^mark: A}}", '"mark" does not go with "bars"'),
    "mark and to": ("form: {intro: {mark: A, ^to: B}}", '"to" does not go with "mark"'),
    "no bars at all": ("form: {intro: ^{}}", '"intro"', "bars, mark, or from and to"),
    "bars without braces": ("form: {intro: ^1-8}", '"intro" has "1-8"', "intro: {bars: 1-8}"),
    "unknown kind of passage": ("form: {intro: ^{marks: A}}", '"intro" has marks', 'mean "mark"'),
    "all as a section": ("form: {^all: {mark: A}}", '"all"', "whole piece"),
    "section without a name": ("form:\n  ^: {mark: A}", "name is missing"),
    "section without a name, in braces": ("form: {^: {mark: A}}", "name is missing"),
    "section with an empty name": ("form: {^'': {mark: A}}", "name is missing", "form"),
    "empty mark": ("form: {intro: {mark: ^''}}", "mark:", "empty"),
}

STRAND = {
    "staff and chords": (
        "strands: {pad: {staff: 1, ^chords: symbols}}",
        '"chords" does not go with "staff"',
        "one of staff, chords, under and slashes",
    ),
    "layer of chords": (
        "strands: {pad: {chords: symbols, ^layer: 1}}",
        '"layer" does not go with "chords"',
    ),
    "notes of a block": (
        "strands: {a: {staff: 1}, b: {under: a, ^notes: lowest}}",
        '"notes" does not go with "under"',
    ),
    "voicing of a staff": (
        "strands: {a: {staff: 1, ^voicing: close}}",
        '"voicing" does not go with "staff"',
    ),
    "from nowhere": (
        "strands: {tune: ^{}}",
        '"tune" has an empty group',
        "chords, under or slashes",
    ),
    "only a number": ("strands: {tune: ^1}", '"tune" has "1"', "tune: {staff: 1}"),
    "kind misspelt": ("strands: {tune: ^{stave: 1}}", '"tune" has stave', 'mean "staff"'),
    "unknown key": ("strands: {tune: {staff: 1, ^layr: 2}}", '"layr"', 'mean "layer"'),
    "staff in words": ("strands: {tune: {staff: ^one}}", 'staff: "one"', "whole number"),
    "staff nought": ("strands: {tune: {staff: ^0}}", "too small", "1 or more"),
    "second staff in words": ("strands: {tune: {staff: [1, ^two]}}", '"two"', "whole number"),
    "layer in part": ("strands: {tune: {staff: 1, layer: ^1.5}}", '"1.5"', "whole number"),
    "notes unknown": ("strands: {a: {staff: 1, notes: ^low}}", '"low"', 'mean "lowest"'),
    "repeat unclear": ("strands: {a: {staff: 1, bars: 1, repeat: ^maybe}}", '"maybe"', "true"),
    "repeat without bars": ("strands: {a: {staff: 1, repeat: ^true}}", '"a"', "expected bars"),
    "chords from elsewhere": ("strands: {a: {chords: ^piano}}", '"piano"', "expected symbols"),
    "one voice": ("strands: {a: {chords: symbols, voices: ^1}}", "too small", "2 or more"),
    "thirteen voices": ("strands: {a: {chords: symbols, voices: ^13}}", "too large", "12 or less"),
    "under nothing": (
        "strands: {tune: {staff: 1}, a: {under: ^tone}}",
        '"tone" is not a strand',
        'mean "tune"',
    ),
    "rhythm of nothing": (
        "strands: {tune: {staff: 1}, a: {chords: symbols, rhythm: ^tuna}}",
        '"tuna" is not a strand',
        'mean "tune"',
    ),
    "under itself": ("strands: {a: {under: ^a}}", "circle", "a -> a"),
    "under in a circle": (
        "strands:\n  a: {under: ^b}\n  b: {under: c}\n  c: {under: a}",
        "a -> b -> c -> a",
    ),
    "circle through a rhythm": (
        "strands: {a: {chords: symbols, rhythm: ^b}, b: {under: a}}",
        "a -> b -> a",
    ),
    "tensions unknown": (
        "strands: {a: {chords: symbols, tensions: ^usal}}",
        '"usal"',
        "usual or named",
        'mean "usual"',
    ),
    "tensions of a staff": (
        "strands: {a: {staff: 1, ^tensions: usual}}",
        '"tensions" does not go with "staff"',
    ),
    "no slashes": ("strands: {time: {slashes: ^false}}", '"false"', "expected true", "Delete"),
    "slashes unclear": ("strands: {time: {slashes: ^4}}", '"4"', "true"),
    "slashes of a staff": (
        "strands: {time: {staff: 1, ^slashes: true}}",
        '"slashes" does not go with "staff"',
    ),
    "slashes misspelt": ("strands: {time: ^{slash: true}}", "slash", 'mean "slashes"'),
    "kicks alone": ("strands: {a: {staff: 1}, time: ^{kicks: a}}", '"time" has kicks', "slashes"),
    "kicks of nothing": (
        "strands: {tune: {staff: 1}, time: {slashes: true, kicks: ^tuna}}",
        'kicks: "tuna" is not a strand',
        'mean "tune"',
    ),
    "kicks of themselves": ("strands: {a: {slashes: true, kicks: ^a}}", "circle", "a -> a"),
}

PLAN = {
    "unknown strand": (ENTRY + "{play: ^tone, by: flute 1}", '"tone"', "tune or bass", '"tune"'),
    "no strands at all": ("plan: {all: [{play: ^tune, by: x}]}", '"tune"', "tune: {staff: 1}"),
    "unknown section": (
        "form: {verse: {mark: A}}\nplan: {^verce: []}",
        '"verce"',
        "all or verse",
        'mean "verse"',
    ),
    "nobody": (ENTRY + "^{play: tune}", '"by" is missing', "player, section"),
    "nothing": (ENTRY + "^{by: flute 1}", '"play" is missing', "strand"),
    "by is empty": (ENTRY + "{play: tune, by: ^[]}", "by:", "empty"),
    "by has nothing": (ENTRY + "{play: tune, by:^ }", "by: nothing", "[flute 1, clarinet 1]"),
    "by is a group": (ENTRY + "{play: tune, by: ^{a: b}}", "by: a group of names"),
    "two without brackets": (
        ENTRY + "{play: tune, by: flute 1, ^oboe 1}",
        '"oboe 1"',
        "square brackets",
    ),
    "the same player twice": (ENTRY + "{play: tune, by: [a, ^a]}", '"a" stands twice'),
    "two strands": (ENTRY + "{play: ^[tune, bass], by: a}", "play: a list", "line for each strand"),
    "unknown key": (ENTRY + "{play: tune, by: a, ^spacng: octaves}", '"spacng"', '"spacing"'),
    "trade word for a key": (ENTRY + "{play: tune, ^players: a, by: b}", '"players"', '"by"'),
    "octave in words": (ENTRY + "{play: tune, by: a, octave: ^up}", '"up"', "whole number"),
    "octave too far": (ENTRY + "{play: tune, by: a, octave: ^9}", '"9" is too large', "4 or less"),
    "spacing unknown": (ENTRY + "{play: tune, by: a, spacing: ^octave}", '"octave"', '"octaves"'),
    "dynamic unknown": (ENTRY + "{play: tune, by: a, dynamic: ^mpp}", '"mpp"', "mf, f, ff"),
    "dynamic in words": (ENTRY + "{play: tune, by: a, dynamic: ^loud}", '"loud"', "pp, p, mp"),
    "technique unknown": (
        ENTRY + "{play: tune, by: a, as: ^pizicato}",
        '"pizicato"',
        '"pizzicato"',
    ),
    "mute unknown": (ENTRY + "{play: tune, by: a, mute: ^cupp}", '"cupp"', 'mean "cup"'),
    "slashes as a technique": (
        ENTRY + "{play: tune, by: a, as: ^slashes}",
        '"slashes"',
        "a strand of their own: time: {slashes: true}",
    ),
    "mute is a technique": (ENTRY + "{play: tune, by: a, mute: ^pizz.}", '"pizz."', "as: pizz."),
    "no mute": (ENTRY + "{play: tune, by: a, mute: ^open}", '"open"', "Leave mute out"),
    "two mutes": (
        ENTRY + "{play: tune, by: a, as: ^con sord., mute: cup}",
        '"con sord."',
        '"cup"',
    ),
    "words unclear": (ENTRY + "{play: tune, by: a, words: ^some}", '"some"', "true or false"),
    "fit unknown": (ENTRY + "{play: tune, by: a, fit: ^hand-over}", '"hand-over"', '"hand over"'),
    "entry is a word": (ENTRY + "^tune", '"tune" stands where an entry', "- {play: tune"),
    "entry is empty": (ENTRY[:-1] + "^\n", "Nothing stands where an entry"),
    "section without dashes": (
        STRANDS + "plan:\n  all:\n    ^play: tune\n    by: a",
        "all: a group of names",
        "- {play: tune",
    ),
    "section is a word": (STRANDS + "plan: {all: ^tune}", 'all: "tune"', "- {play: tune"),
}

YAML = {
    "tab before a line": ("plan:\n^\tall: []", "tab", "Indent with blanks"),
    "tab after blanks": ("plan:\n ^\tall: []", "tab"),
    "tab after a colon": ("plan:^\t{}", "tab", "Use blanks"),
    "empty file": ("^", "empty"),
    "only remarks": ("^# nothing yet\n", "empty"),
    "only nothing": ("^~", "empty"),
    "a list": ("^- a\n- b", "holds a list", "plan:"),
    "a word": ("^hello", '"hello"', "plan:"),
    "bracket left open": ("keyless: ^[a, b\npitch: concert", '"["', "not closed"),
    "brace left open": ("form: ^{a: {mark: A}\npitch: concert\n", '"{"', "not closed"),
    "quote left open": ("ensemble: ^'septet\npitch: concert", "never closed"),
    "colon in a value": ("arranger: Lind^: A.", "colon", "in quotes"),
    "line without a colon": ("pitch: concert\n^form\nstrands: {}", "colon"),
    "indentation": ("form:\n   a: {mark: A}\n  ^b: {mark: B}", "indentation"),
    "dash too many": ("keyless: ^- a", '"-"', "line of its own"),
    "at sign": ("ensemble: ^@septet", '"@" cannot begin', "quotes"),
    "star before a word": ("form: {a: {mark: ^*A}}", '"*A"', '"&A"'),
    "star alone": ("form: {a: {mark: ^*}}", '"*"', "quotes"),
    "inside itself": ("form: &f {a: ^*f}", "inside what it repeats"),
    "exclamation mark": ("arranger: ^!!str x", "!!str", "quotes"),
    "merge key": ("form: {a: &a {mark: A}, b: {^<<: *a, mark: B}}", '"<<"'),
    "list for a key": ("form: {^[a]: b}", "name was expected"),
    "second document": ("pitch: concert\n^---\npitch: concert", "second document"),
    "control character": ("arranger: a^\x07b", "control character", "code 7"),
    "backslash": (r'arranger: "a\^z"', "backslash", "single quotes"),
}

ROWS = [
    pytest.param(text, words, id=f"{group}: {name}")
    for group, table in (
        ("top", TOP), ("form", FORM), ("strands", STRAND), ("plan", PLAN), ("yaml", YAML),
    )
    for name, (text, *words) in table.items()
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), ROWS)
def test_a_mistake_is_found_at_its_place_and_named(text, words):
    text, place = marked(text)
    first = mistakes_in(text)[0]
    assert isinstance(first, ExpanderError)
    assert (first.at.file, first.at.line, first.at.column) == ("song.yaml", *place)
    assert [word for word in words if word not in first.message] == []


@pytest.mark.parametrize(("text", "words"), ROWS)
def test_one_mistake_is_one_message(text, words):
    text, _ = marked(text)
    allowed = 2 if "players: a" in text or "marks: A" in text else 1
    assert len(mistakes_in(text)) <= allowed


def test_all_mistakes_come_at_once_in_order_of_place():
    text = (
        "pitch: concrt\nform:\n  a: {bars: 9-}\n  a: {mark: A}\nstrands:\n  tune: {staff: 0}\n"
        "plan:\n  b: [{play: tone, octave: x}]\n"
    )
    places = [(m.at.line, m.at.column) for m in mistakes_in(text)]
    assert places == [(1, 8), (3, 13), (4, 3), (6, 17), (8, 3), (8, 7), (8, 14), (8, 28)]


def test_the_message_lists_each_mistake_on_its_own_line():
    with pytest.raises(BadRules) as caught:
        parse_rules("pitch: x\nform: {a: {bars: 1-}}\nplam: {}", "song.yaml")
    lines = caught.value.message.splitlines()
    assert [line.split(" ")[0] for line in lines] == [
        "song.yaml:1:8:", "song.yaml:2:18:", "song.yaml:3:1:",
    ]  # fmt: skip


def test_every_line_indented_with_a_tab_is_named():
    text = "plan:\n\tall: []\n\tverse: []\n"
    assert [m.at.line for m in mistakes_in(text)] == [2, 3]


def test_a_misspelt_group_does_not_make_mistakes_of_the_names_below():
    text = "strand: {tune: {staff: 1}}\nplan: {all: [{play: tune, by: flutes}]}"
    assert [m.fault.split(" ")[0] for m in mistakes_in(text)] == ['"strand"']


def test_a_mistake_in_what_is_repeated_is_told_once():
    text = STRANDS + "plan: {a: [&e {play: tune, by: x, octave: up}], b: [*e], c: [*e]}"
    assert len(mistakes_in(text)) == 1


def test_repeats_of_repeats_are_stopped():
    levels = "".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]\n" for i in range(1, 12))
    found = mistakes_in("a0: &a0 [x, x, x]\n" + levels)
    assert str(MOST_VALUES) in found[-1].message


@pytest.mark.parametrize("text", ["[" * 5000, "{a: " * 5000, "- " * 5000, "? " * 3000])
def test_deep_nesting_is_stopped(text):
    assert "deep" in mistakes_in(text)[0].message
