"""YAML with places. Line and column are those an editor shows, from 1."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.catalogue.yamlfile import load, load_file
from expander.errors import BadRules

TEXT = """\
title: Night walk
plan:
  verse:
    - {play: tune, by: [flute 1, horn]}
  1: last
"""


@pytest.mark.parametrize(
    ("path", "place"),
    [
        (("title",), (1, 8)),
        (("plan", "verse"), (4, 5)),
        (("plan", "verse", 0, "by", 1), (4, 34)),
        (("plan", "1"), (5, 6)),
        (("plan", "verse", "a tag of a validator", 0, "play"), (4, 14)),
        (("plan", "verse", 0, "not there"), (4, 7)),
    ],
)
def test_every_value_is_found_at_its_line_and_column(path, place):
    assert load(TEXT, "r.yaml")[1](path) == place


def test_a_key_has_a_place_of_its_own():
    spot = load(TEXT, "r.yaml")[1].key_spot(("plan", "verse", 0, "by"))
    assert str(spot) == "r.yaml:4:20"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a: no", "no"),
        ("a: on", "on"),
        ("a: 1:30", "1:30"),
        ("a: 1-8", "1-8"),
        ("a: 2024-01-31", "2024-01-31"),
        ("a: 0o17", "0o17"),
        ("a: '8'", "8"),
        ("a: 8", 8),
        ("a: -1", -1),
        ("a: 0.5", 0.5),
        ("a: true", True),
        ("a: ~", None),
        ("a:", None),
        ("a: 9999999999999999999999", "9999999999999999999999"),
    ],
)
def test_only_plain_numbers_and_true_false_null_are_no_text(text, value):
    found = load(text, "r.yaml")[0]["a"]
    assert (found, type(found)) == (value, type(value))


def test_keys_are_text_as_written():
    assert load("1: x\ntrue: y\n", "r.yaml")[0] == {"1": "x", "true": "y"}


def test_an_empty_file_is_nothing():
    assert load("# only a remark\n", "r.yaml")[0] is None


def test_an_alias_repeats_what_it_names():
    assert load("a: &x [1, 2]\nb: *x\n", "r.yaml")[0] == {"a": [1, 2], "b": [1, 2]}


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("a: 1\na: 2\n", "r.yaml:2:1", "'a' stands twice here (first in line 1)"),
        ("a:\n\t- b\n", "r.yaml:2:1", "a tab in the indentation"),
        ("a: b: c\n", "r.yaml:1:5", "a colon where none was expected"),
        ("a: [1, 2\n", "r.yaml:2:1", "not closed"),
        ("a: {b: 1\n", "r.yaml:2:1", "not closed"),
        ("a: 'x\nb: 1\n", "r.yaml:3:1", "a quotation mark that is never closed"),
        ("a:\n  - b\n c: d\n", "r.yaml:3:2", "the indentation does not match"),
        ("a: *\n", "r.yaml:1:5", "a '*' that begins no name"),
        ("b: *x\n", "r.yaml:1:4", "a '*' name without"),
        ("a: @x\n", "r.yaml:1:4", "a character that cannot begin a value"),
        ("a: \x01b\n", "r.yaml:1:4", "not text"),
        ("a: !!python/object:os.system x\n", "r.yaml:1:4", "is not understood"),
        ("--- a\n--- b\n", "r.yaml:2:1", "a second document"),
        ("? [a]\n: b\n", "r.yaml:1:3", "where a name was expected"),
        ("a: &x [*x]\n", "r.yaml:1:4", "too much inside one another"),
        ("[" * 5000, "r.yaml:1:1001", "too much inside one another"),
    ],
)
def test_a_mistake_is_told_with_its_place(text, place, words):
    with pytest.raises(BadRules) as caught:
        load(text, "r.yaml")
    assert caught.value.message.startswith(place + ": ")
    assert words in caught.value.message


def test_all_repeated_keys_are_told_at_once():
    with pytest.raises(BadRules) as caught:
        load("a: 1\na: 2\nb: {x: 1, x: 2}\n", "r.yaml")
    assert [str(one.at) for one in caught.value.mistakes] == ["r.yaml:2:1", "r.yaml:3:11"]


def test_aliases_that_multiply_are_refused():
    rows = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    rows += [f"a{n}: &a{n} [" + ", ".join([f"*a{n - 1}"] * 10) + "]" for n in range(1, 9)]
    with pytest.raises(BadRules, match="too much"):
        load("\n".join(rows), "r.yaml")


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="ab: -[]{},&*!|>'\"#%@?\n\t~1.", max_size=60))
def test_any_text_is_read_or_refused_with_its_place(text):
    try:
        load(text, "r.yaml")
    except BadRules as refused:
        for mistake in refused.mistakes:
            assert mistake.at.file == "r.yaml" and mistake.at.line > 0


def test_a_file_that_is_not_utf8_is_told(tmp_path):
    file = tmp_path / "r.yaml"
    file.write_bytes(b"a: \xff\xfe\n")
    with pytest.raises(BadRules, match="not UTF-8"):
        load_file(file)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(BadRules, match="cannot open it: No such file"):
        load_file(tmp_path / "none.yaml")
