"""The marks of hands and lips against the names that MusicXML has for them."""

from __future__ import annotations

import pytest
from lxml import etree

from expander.catalogue.loader import instruments
from expander.model import hands
from expander.model.hands import is_personal, suits
from expander.model.tables import table
from tests.schema import schema_file

XS = "{http://www.w3.org/2001/XMLSchema}"
TABLE = table(hands.__file__, "hands.toml")


def technical_marks() -> set[str]:
    """The elements that MusicXML 4.0 has in `technical`."""
    root = etree.parse(schema_file())
    kind = root.find(f"{XS}complexType[@name='technical']")
    return {element.get("name") for element in kind.iter(f"{XS}element")}


def test_every_mark_is_one_of_musicxml() -> None:
    assert {*TABLE["families"], *TABLE["personal"]["marks"]} - technical_marks() == set()


def test_every_family_is_one_that_instruments_have() -> None:
    families = {one.family for one in instruments()}
    assert {f for row in TABLE["families"].values() for f in row} - families == set()


@pytest.mark.parametrize(
    ("mark", "family", "expected"),
    [
        ("up-bow", "strings", True),
        ("up-bow", "plucked", True),  # MusicXML 4.0: also the up-stroke on plucked instruments
        ("up-bow", "woodwind", False),
        ("stopped", "brass", True),
        ("stopped", "strings", False),
        ("open", "unpitched percussion", True),
        ("hole", "brass", True),  # MusicXML 4.0: woodwind and brass fingerings
        ("accent", "voice", True),
        ("harmonic", "strings", True),
    ],
)
def test_a_mark_goes_to_the_hands_it_means_something_to(
    mark: str, family: str, expected: bool
) -> None:
    assert suits(mark, family) is expected


def test_a_bowing_is_for_the_hand_it_was_written_for() -> None:
    assert is_personal("up-bow")
    assert not is_personal("double-tongue")
