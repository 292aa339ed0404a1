"""Running, choosing, wording and marking."""

from __future__ import annotations

import json

import pytest

from expander.checks import all_checks, run
from expander.checks.catalogue import PAGE, page
from expander.checks.marking import COLOURS, mark
from expander.checks.wording import CAUTION, as_json, as_text
from expander.errors import BadUsage
from expander.model.finding import Severity
from expander.musicxml import read_bytes, to_bytes
from tests.mini import document

SCORE = document(
    """
    Flute: !p C5:h E7:h | C5:w
    Violin: !p G3:h F3:h | G3+A3:h C5:h
    """
)


def test_findings_come_by_bar_then_part_then_check() -> None:
    found = [(f.index, f.part, f.check) for f in run(SCORE)]
    order = {"": -1, "Flute": 0, "Violin": 1}
    assert found == sorted(found, key=lambda f: (f[0], order[f[1]]))
    assert ("above-range" in {check for _, _, check in found}) is True


def test_only_and_skip_choose_by_id() -> None:
    assert {f.check for f in run(SCORE, only=["below-range"])} == {"below-range"}
    assert "below-range" not in {f.check for f in run(SCORE, skip=["below-range"])}


def test_an_unknown_id_is_answered_with_the_nearest() -> None:
    with pytest.raises(BadUsage, match=r"there is no check 'above-rnge'.*'above-range'"):
        run(SCORE, only=["above-rnge"])


def test_an_unknown_level_is_answered_with_the_known_ones() -> None:
    with pytest.raises(BadUsage, match=r"no level 'expert'.*student, amateur, professional"):
        run(SCORE, level="expert")


def test_text_is_grouped_by_part_and_ends_with_the_caution_once() -> None:
    text = as_text(run(SCORE, only=["above-range", "below-range", "impossible-stop"]))
    assert text.splitlines() == [
        "Flute",
        "  error: bar 1 beat 3: E7 is above the widest figure for the flute: top D7. [above-range]",
        "",
        "Violin",
        "  error: bar 1 beat 3: F3 is below the widest figure for the violin: bottom G3. "
        "[below-range]",
        "  error: bar 2 beat 1: G3 A3 at once on the violin: there are not enough neighbouring "
        "strings for these notes. [impossible-stop]",
        "",
        "3 errors.",
        CAUTION,
    ]


def test_text_of_nothing_says_so() -> None:
    assert as_text([]) == f"Nothing found.\n{CAUTION}\n"


def test_json_has_the_reports_keys() -> None:
    data = as_json(run(SCORE, only=["above-range"]))
    again = json.loads(json.dumps(data))
    finding = again["findings"][0]
    assert again["schema"] == 1
    assert (finding["check"], finding["severity"], finding["part"]) == (
        "above-range",
        "error",
        "Flute",
    )
    assert (finding["bar"], finding["beat"], finding["pitch"]) == ("1", 3.0, "E7")
    assert finding["figure"] == "D7"
    assert finding["source"].endswith("(published)")


def test_marked_notes_are_coloured_and_named_above() -> None:
    found = run(SCORE, only=["above-range"])
    marked = mark(SCORE, found)
    bar = marked.parts[0].bars[0]
    colours = [dict(n.attributes).get("color") for e in bar.layers[0] for n in e.notes]
    assert colours == [None, COLOURS[Severity.ERROR]]
    assert [(d.at, d.marks[0].text) for d in bar.directions][-1] == (
        bar.layers[0][1].at,
        "above-range",
    )
    assert marked.parts[1] == SCORE.parts[1]


def test_of_a_chord_only_the_note_found_is_coloured() -> None:
    score = document("Flutes 1. 2.: C5+E7:w")
    marked = mark(score, run(score, only=["above-range"]))
    notes = marked.parts[0].bars[0].layers[0][0].notes
    assert [dict(n.attributes).get("color") for n in notes] == [None, COLOURS[Severity.ERROR]]


def test_colours_are_in_the_file_that_is_written() -> None:
    written = to_bytes(mark(SCORE, run(SCORE, only=["above-range"])))
    again = read_bytes(written, "marked.musicxml")
    colours = [dict(n.attributes) for e in again.parts[0].bars[0].layers[0] for n in e.notes]
    assert colours == [{}, {"color": COLOURS[Severity.ERROR]}]


def test_marking_nothing_changes_nothing() -> None:
    assert mark(SCORE, []) == SCORE


def test_parts_of_one_name_are_told_apart() -> None:
    score = document("Violin: C5:w\nViolin: F3:w")
    assert [f.part for f in run(score, only=["below-range"])] == ["Violin [2]"]
    marked = mark(score, run(score, only=["below-range"]))
    assert marked.parts[0] == score.parts[0]
    assert marked.parts[1] != score.parts[1]


def test_every_check_says_all_a_page_needs() -> None:
    for check in all_checks():
        for text in (check.title, check.finds, check.why, check.example, check.instead):
            assert text[:1].isupper() or text[:1] in "'\"", check.id
        assert check.source
        assert check.levels
        assert check.id == check.id.lower()
        assert " " not in check.id


def test_ids_are_unique() -> None:
    ids = [check.id for check in all_checks()]
    assert len(ids) == len(set(ids))


def test_the_catalogue_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run: python -m expander.checks.catalogue"


def test_the_catalogue_has_every_check_and_the_caution_once() -> None:
    text = page()
    assert all(f"### {check.id}\n" in text for check in all_checks())
    assert text.count(CAUTION) == 1


def test_a_message_that_ends_with_a_numbered_name_has_one_full_stop() -> None:
    loud = """
    Clarinets 1. 2.: !ff C6+E6:w
    Trumpet: !ff G3:w
    Trombone: @bass !ff C3:w
    """
    told = [f.message for f in run(document(loud), only=["wide-gap"])]
    assert told
    assert all(m.endswith("1. 2.") for m in told)
