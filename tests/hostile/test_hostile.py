"""Every hostile or broken input has its verdict: refused in words with a place, or carried on.

Never a traceback, never more than ten seconds of work, nothing read or written outside, and no
file half written or written over.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.hostile.rules import LINE_UPS, RULES, SKETCH
from tests.hostile.running import contents, run
from tests.hostile.scores import SCORES
from tests.schema import assert_valid

HERE = Path(__file__).parents[2]
ALLOWED = tuple(
    str(Path(root).resolve())
    for root in (HERE / "expander", HERE / "rules", sys.prefix, sys.base_prefix, *sys.path[1:])
    if root
)
LONGEST_MESSAGE = 4_000


def as_bytes(content):
    return content if isinstance(content, bytes) else content.encode()


def judged(folder, arguments, verdict):
    """Run the command on what is in a folder; hold it to the verdict."""
    before = contents(folder)
    ran = run([*arguments, "-o", str(folder / "out.musicxml")])
    stray = [event for event in ran.events if not inside(event, folder)]
    assert not stray, stray
    assert "Traceback" not in ran.said
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", ran.said)
    kind, _, words = verdict.partition(":")
    assert re.search(words, ran.said), ran.said[:600]
    after = contents(folder)
    output = after.pop("out.musicxml", None)
    assert after == before
    if kind == "no":
        refused(ran, output)
    else:
        assert ran.status == 0, ran.said[:600]
        assert b"root:x:" not in output
        assert_valid(output)


def refused(ran, output):
    assert ran.status == 2, (ran.status, ran.said[:600])
    assert output is None
    assert len(ran.said) <= LONGEST_MESSAGE
    assert ran.said.count("\n") <= 26


def inside(event, folder):
    """Whether a watched event stays inside the test's folder or only reads Python's own files."""
    kind, what = event
    if kind != "open":
        return kind in ("os.rename", "os.remove") and str(folder) in what
    path = str(Path(what).resolve())
    return path.startswith((str(folder.resolve()), *ALLOWED))


@pytest.mark.parametrize("name", SCORES)
def test_a_hostile_score_is_refused_or_carried_on_with(name, tmp_path):
    data, verdict = SCORES[name]
    (tmp_path / "air.musicxml").write_bytes(data)
    judged(tmp_path, ["expand", str(tmp_path / "air.musicxml"), "-e", "woodwind-quintet"], verdict)


@pytest.mark.parametrize("name", RULES)
def test_a_hostile_rule_file_is_refused_or_carried_on_with(name, tmp_path):
    text, verdict = RULES[name]
    (tmp_path / "air.musicxml").write_bytes(SKETCH)
    (tmp_path / "song.yaml").write_bytes(as_bytes(text))
    rules = ["-r", str(tmp_path / "song.yaml")]
    judged(tmp_path, ["expand", str(tmp_path / "air.musicxml"), *rules], verdict)


@pytest.mark.parametrize("name", LINE_UPS)
def test_a_hostile_line_up_is_refused_or_carried_on_with(name, tmp_path):
    text, verdict = LINE_UPS[name]
    (tmp_path / "air.musicxml").write_bytes(SKETCH)
    (tmp_path / "band.yaml").write_bytes(as_bytes(text))
    line_up = ["-e", str(tmp_path / "band.yaml")]
    judged(tmp_path, ["expand", str(tmp_path / "air.musicxml"), *line_up], verdict)


def test_the_table_is_long_enough():
    assert len(SCORES) + len(RULES) + len(LINE_UPS) >= 120
