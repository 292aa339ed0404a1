"""Every check on small scores, from `cases/<id>.yaml`: where it fires and where it keeps quiet.

A case has `name`, `score` in the mini-notation (`tests/mini.py`), `finds` as lines
`severity | part | bar | beat | pitch` in the order of the report (empty where the check is to
keep quiet), and where needed `level`, `ensemble`, `concert` (a score at concert pitch).
"""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble
from expander.checks import all_checks, run
from expander.model.finding import Finding
from expander.model.score import Document, Event, Mark, PartBar
from tests.mini import document

CASES = Path(__file__).with_name("cases")
IDS = [check.id for check in all_checks()]
ELSEWHERE = {"lost-sketch-note", "unasked-doubling"}
"""Checks that need a ledger: see `test_ledger.py`."""


def with_lines(score: Document) -> Document:
    """Of heads marked `\\slide` or `\\glissando` each first begins a line, each second ends it."""
    kinds = itertools.cycle(("start", "stop"))

    def mark(one: Mark) -> Mark:
        return one.having(type=next(kinds)) if one.name in ("slide", "glissando") else one

    def event(one: Event) -> Event:
        return replace(
            one, notes=tuple(replace(n, marks=tuple(map(mark, n.marks))) for n in one.notes)
        )

    def bar(one: PartBar) -> PartBar:
        return replace(one, layers=tuple(tuple(map(event, layer)) for layer in one.layers))

    parts = (replace(part, bars=tuple(map(bar, part.bars))) for part in score.parts)
    return replace(score, parts=tuple(parts))


@cache
def cases(check: str) -> list[dict[str, Any]]:
    """The cases of a check's file."""
    path = CASES / f"{check}.yaml"
    return yaml.safe_load(path.read_text(encoding="utf-8")) if path.exists() else []


def said(finding: Finding) -> str:
    """A finding in one line."""
    beat = "" if finding.beat is None else f"{finding.beat:g}"
    parts = (finding.severity.value, finding.part, finding.bar, beat, finding.pitch)
    return " | ".join(parts).rstrip(" |")


ALL = [(check, case) for check in IDS for case in cases(check)]


@pytest.mark.parametrize(("check", "case"), ALL, ids=[f"{c}: {k['name']}" for c, k in ALL])
def test_a_check_finds_exactly(check: str, case: dict[str, Any]) -> None:
    score = with_lines(document(case["score"]))
    if case.get("concert"):
        score = replace(score, header=replace(score.header, concert_pitch=True))
    line_up = load_ensemble(case["ensemble"], None) if "ensemble" in case else None
    level = case.get("level", "professional")
    found = run(score, ensemble=line_up, level=level, only=[check])
    assert [said(f) for f in found] == case["finds"]


@pytest.mark.parametrize("check", [c for c in IDS if c not in ELSEWHERE])
def test_every_check_has_a_case_that_fires_and_one_that_does_not(check: str) -> None:
    finds = [bool(case["finds"]) for case in cases(check)]
    assert True in finds
    assert False in finds


def test_no_case_file_is_left_without_its_check() -> None:
    assert {path.stem for path in CASES.glob("*.yaml")} <= set(IDS)


@pytest.mark.parametrize("check", all_checks(), ids=IDS)
def test_findings_carry_the_figure_they_were_held_against(check: Any) -> None:
    for case in cases(check.id):
        score = with_lines(document(case["score"]))
        assert all(f.figure and f.source for f in run(score, only=[check.id]))
