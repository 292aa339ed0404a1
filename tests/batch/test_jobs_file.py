"""The jobs file: read like rules, every mistake at once with its place."""

from __future__ import annotations

import pytest

from expander.errors import BadRules
from expander.rulefile.jobs import jobs_schema, load_jobs, parse_jobs

GOOD = """\
ensemble: septet
parts: true
jobs:
  - sketch: one.musicxml
  - {sketch: [two.musicxml, three.musicxml], ensemble: [big-band, septet], rules: x.yaml}
  - sketch: four.musicxml
    name: rondo
    parts: no
    pitch: concert
"""


def test_entries_take_what_stands_beside_the_jobs() -> None:
    one, two, four = parse_jobs(GOOD, "jobs.yaml")
    assert (one.sketches, one.ensembles, one.parts) == (("one.musicxml",), ("septet",), True)
    assert two.sketches == ("two.musicxml", "three.musicxml")
    assert (two.ensembles, two.rules) == (("big-band", "septet"), ("x.yaml",))
    assert (four.name, four.parts, four.pitch) == ("rondo", False, "concert")
    assert [(e.at.line, e.at.column) for e in (one, two, four)] == [(4, 5), (5, 5), (6, 5)]


WRONG = [
    # the file, then each mistake's line and column and words of it
    ("", [(1, 1, "holds no jobs")]),
    ("- a\n", [(1, 1, "holds no jobs")]),
    ("jobs: []\n", [(1, 7, "empty")]),
    ("jobs: yes\n", [(1, 7, 'with "-"')]),
    ("jobs:\n  - song.musicxml\n", [(2, 5, "entries were expected")]),
    ("jobs:\n  - {ensemble: septet}\n", [(2, 5, '"sketch" is missing')]),
    ("jobs:\n  - {sketch: a, skech: b}\n", [(2, 17, 'Did you mean "sketch"?')]),
    ("jobs:\n  - {sketch: a, line-up: septet}\n", [(2, 17, 'Did you mean "ensemble"?')]),
    ("jobs:\n  - {sketch: a, parts: maybe}\n", [(2, 24, "neither true nor false")]),
    ("jobs:\n  - {sketch: a, pitch: concrt}\n", [(2, 24, 'Did you mean "concert"?')]),
    ("jobs:\n  - {sketch: []}\n", [(2, 14, "empty")]),
    ("jobs:\n  - {sketch: {a: b}}\n", [(2, 14, "a name or a list of names")]),
    (
        "pich: concert\njobs:\n  - {sketch: a, parts: 7x}\n  - {}\n",
        [(1, 1, 'Did you mean "pitch"?'), (3, 24, "neither"), (4, 5, "missing")],
    ),
    ("jobs:\n  - {sketch: a\n", [(2, 5, "not closed")]),
    ("jobs:\n\t- a\n", [(2, 1, "tab")]),
]


@pytest.mark.parametrize(("text", "told"), WRONG)
def test_every_mistake_is_told_with_its_place(text, told) -> None:
    with pytest.raises(BadRules) as raised:
        parse_jobs(text, "jobs.yaml")
    found = raised.value.mistakes
    assert [(m.at.line, m.at.column) for m in found] == [row[:2] for row in told]
    for mistake, (_, _, words) in zip(found, told, strict=True):
        assert words in mistake.message
        assert mistake.message.startswith("jobs.yaml:")


def test_a_missing_file_is_told(tmp_path) -> None:
    with pytest.raises(BadRules, match="cannot be read"):
        load_jobs(tmp_path / "none.yaml")


def test_a_schema_is_published_for_editors() -> None:
    schema = jobs_schema()
    assert set(schema["properties"]) == {"ensemble", "rules", "pitch", "parts", "desks", "jobs"}
    assert "sketch" in schema["$defs"]["EntryShape"]["required"]
