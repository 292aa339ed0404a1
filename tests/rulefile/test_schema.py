import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from expander.errors import BadRules
from expander.rulefile import parse_rules, rules_schema, techniques
from tests.rulefile.test_mistakes import FORM, PLAN, STRAND, TOP
from tests.rulefile.test_reading import SONG

SCHEMA = rules_schema()
VALIDATOR = Draft202012Validator(SCHEMA)

# What only the program sees: agreement between places, order of numbers, names twice.
NEEDS_THE_PROGRAM = {
    "key twice", "strand twice", "bars without an end", "bars without a beginning",
    "bars in three", "end first", "bars backward", "section without a name",
    "section without a name, in braces", "section with an empty name",
    "under nothing", "rhythm of nothing", "under itself", "under in a circle",
    "circle through a rhythm", "kicks of nothing", "kicks of themselves", "unknown strand",
    "no strands at all", "unknown section", "two mutes",
}  # fmt: skip


def fields(schema):
    """Every property of the file and of its parts, by name."""
    parts = [schema, *schema["$defs"].values()]
    return [(part["title"], name, p) for part in parts for name, p in part["properties"].items()]


def test_the_schema_is_a_schema():
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_schema_is_the_same_every_time():
    assert json.dumps(rules_schema()) == json.dumps(rules_schema())


@pytest.mark.parametrize(("part", "name", "field"), fields(SCHEMA))
def test_every_field_is_explained(part, name, field):
    assert field["title"] and field["description"].endswith(".")
    assert field.get("examples"), f"{part}: {name}"


@pytest.mark.parametrize(("part", "name", "field"), fields(SCHEMA))
def test_every_example_is_valid(part, name, field):
    alone = Draft202012Validator({**field, "$defs": SCHEMA["$defs"]})
    assert [e for e in field["examples"] if not alone.is_valid(e)] == []


def test_every_field_of_a_full_song_is_in_the_schema_and_valid():
    assert list(VALIDATOR.iter_errors(yaml.safe_load(SONG))) == []


@pytest.mark.parametrize(
    "value",
    [
        {"form": {"a": {"mark": 1}, "b": {"bars": 5}}},
        {"version": 1.5},
        {"form": None, "plan": {"all": None}},
        {"strands": {"a": {"staff": [1, 2], "bars": "1-2", "repeat": True}}},
    ],
)
def test_what_the_program_takes_an_editor_takes(value):
    parse_rules(yaml.safe_dump(value))
    assert VALIDATOR.is_valid(value)


ROWS = [
    pytest.param(text, id=name)
    for table in (TOP, FORM, STRAND, PLAN)
    for name, (text, *_) in table.items()
    if name not in NEEDS_THE_PROGRAM
]


@pytest.mark.parametrize("text", ROWS)
def test_what_the_program_refuses_an_editor_marks(text):
    text = text.replace("^", "")
    with pytest.raises(BadRules):
        parse_rules(text)
    assert not VALIDATOR.is_valid(yaml.safe_load(text))


def test_an_editor_offers_every_technique_and_mute():
    entry = SCHEMA["$defs"]["PlanEntry"]["properties"]
    mutes = {name for name, t in techniques().items() if t.is_mute}
    assert mutes <= set(entry["mute"]["enum"])
    assert set(techniques()) <= set(entry["as"]["enum"])


def test_required_keys_are_the_ones_without_which_nothing_can_be_done():
    assert {name: part.get("required", []) for name, part in SCHEMA["$defs"].items()} == {
        "BarsPassage": ["bars"],
        "BlockStrand": ["under"],
        "ChordStrand": ["chords"],
        "MarkPassage": ["mark"],
        "MarksPassage": [],
        "PlanEntry": ["play", "by"],
        "SketchStrand": ["staff"],
        "SlashStrand": ["slashes"],
    }
