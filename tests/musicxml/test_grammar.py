"""The grammar table against the W3C MusicXML 4.0 schema it is derived from."""

import json

import pytest

from expander.musicxml.grammar import allows, fitting
from tests.musicxml.derive_grammar import TABLE, derive
from tests.schema import schema_file


def test_the_table_is_what_the_schema_says():
    assert json.loads(TABLE.read_text(encoding="utf-8")) == derive(schema_file())


def test_no_element_name_stands_for_two_types():
    types = derive(schema_file())["types"].values()
    pairs = {(tag, name) for t in types for tag, name in t.get("children", {}).items()}
    assert len(pairs) == len({tag for tag, _ in pairs})


@pytest.mark.parametrize(
    ("value_type", "text", "fit"),
    [
        ("ending-number", "1, 2", "1, 2"),
        ("ending-number", "0, 1, 5", None),
        ("number-level", "16", "16"),
        ("number-level", "17", None),
        ("midi-128", "0", None),
        ("midi-128", "128", "128"),
        ("positive-divisions", "0", None),
        ("positive-divisions", "0.5", "0.5"),
        ("yes-no", " yes ", "yes"),
        ("yes-no", "true", None),
        ("rotation-degrees", "-180.5", None),
        ("color", "#FF0000", "#FF0000"),
        ("color", "red", None),
        ("font-size", "12.5", "12.5"),
        ("font-size", "large", "large"),
        ("step", "H", None),
        ("string", "  as it is ", "  as it is "),
    ],
)
def test_a_value_fits_its_type_or_not(value_type, text, fit):
    assert fitting(value_type, text) == fit


@pytest.mark.parametrize(
    ("group", "tag", "allowed"),
    [
        ("articulations", "staccato", True),
        ("articulations", "trill-mark", False),
        ("notations", "slur", True),
        ("measure", "figured-bass", True),
        ("measure", "slur", False),
    ],
)
def test_an_element_has_its_place_or_not(group, tag, allowed):
    assert allows(group, tag) is allowed
