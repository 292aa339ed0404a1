"""MusicXML names are held against the W3C MusicXML 4.0 schema; the words are common practice."""

from functools import cache

import pytest
from lxml import etree

from expander.rulefile import find_technique, techniques
from expander.rulefile.techniques import spellings
from tests.schema import schema_file

XS = "{http://www.w3.org/2001/XMLSchema}"
ALL = list(techniques().values())

FAMILIES = {
    "woodwind", "brass", "pitched percussion", "unpitched percussion", "keyboard", "plucked",
    "strings", "voice",
}  # fmt: skip


@cache
def definition(kind, name):
    root = etree.parse(str(schema_file())).getroot()
    return next(e for e in root.iter(f"{XS}{kind}") if e.get("name") == name)


def children(name):
    return {e.get("name") for e in definition("complexType", name).iter(f"{XS}element")}


def values(name):
    return {e.get("value") for e in definition("simpleType", name).iter(f"{XS}enumeration")}


def attributes(name):
    return {e.get("name") for e in definition("complexType", name).iter(f"{XS}attribute")}


@pytest.mark.parametrize("technique", ALL, ids=lambda t: t.id)
def test_its_marks_and_values_are_musicxml(technique):
    *group, name = technique.element.split("/") if technique.element else ("",)
    if group[:1] == ["percussion"]:
        assert group[1] in children("percussion")
        assert name in values("beater-value")
    elif group:
        assert name in children(group[0])
    elif name:
        assert name in children("direction-type")
    assert {key for key, _ in (*technique.sound, *technique.sound_off)} <= attributes("sound")
    assert not technique.mute or technique.mute in values("mute")


@pytest.mark.parametrize("technique", ALL, ids=lambda t: t.id)
def test_it_is_whole(technique):
    assert technique.on or technique.each, "neither words nor a mark on each note"
    assert set(technique.families) <= FAMILIES
    assert technique.meaning
    assert bool(technique.sound) >= bool(technique.sound_off)


@pytest.mark.parametrize("mute", [t for t in ALL if t.is_mute], ids=lambda t: t.id)
def test_a_mute_has_a_value_and_is_taken_off(mute):
    assert mute.mute and mute.off


def test_no_spelling_stands_for_two_things():
    named = [(name, t.id) for t in ALL for name in (t.id, *t.aliases)]
    wrong = [(name, id_) for name, id_ in named if find_technique(name).id != id_]
    assert wrong == []


@pytest.mark.parametrize(
    ("typed", "meant", "on", "off"),
    [
        ("pizz.", "pizzicato", "pizz.", "arco"),
        ("PIZZ", "pizzicato", "pizz.", "arco"),
        ("con sordino", "sordino", "con sord.", "senza sord."),
        ("Cup mute", "cup", "cup mute", "open"),
        ("sul pont.", "sul ponticello", "sul pont.", "ord."),
        ("flutter-tonguing", "flutter-tongue", "flz.", "ord."),
        ("flutes", None, "", ""),
        ("flatterzunge", "flutter-tongue", "flz.", "ord."),
        ("div.", "divisi", "div.", "unis."),
        ("una corda", "una corda", "una corda", "tre corde"),
        ("", None, "", ""),
    ],
)
def test_what_is_typed_is_found_with_its_words(typed, meant, on, off):
    found = find_technique(typed)
    assert (found and (found.id, found.on, found.off)) == (meant and (meant, on, off))


def test_spellings_are_apart():
    assert not set(spellings(mutes=True)) & set(spellings(mutes=False))


def test_every_technique_and_mute_of_an_instrument_can_be_asked_for():
    from expander.catalogue.loader import instruments

    said = {n: i.id for i in instruments() for n in (*i.techniques, *i.mutes)}
    assert {name: where for name, where in said.items() if not find_technique(name)} == {}
