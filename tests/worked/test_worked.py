"""The main job against cases worked by hand: sketch and rules in, expected staves out.

Compared are names, transpositions, clefs, keys, times, pitches, values, rests, ties, slurs, marks
on notes, syllables, dynamics, hairpins, words and barlines. Not compared: the order of marks at one
place, ids of sounds, attributes of the stave (lines, staff details), an opening signature without
accidentals (on paper it is the same as none), and accidentals, placement and sound unless the case
asks for them.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from expander.model.pitch import Drum
from expander.model.score import Change, Document, Event, Key, Mark, Note, PartBar
from tests import mini
from tests.worked.cases import Case, case_files, read_case

FILES = pytest.mark.parametrize("path", case_files(), ids=lambda path: path.stem)


@FILES
def test_the_expected_staves_fit_the_sketch(path: Path) -> None:
    """The case itself: same bars in and out, every stave as long as its bar."""
    case = read_case(path)
    sketch, expected = mini.sketch(case.section("sketch")), mini.document(case.section("expected"))
    bars = [(b.number, b.length * expected.grid) for b in sketch.bars]
    assert bars == [(b.number, b.length * sketch.grid) for b in expected.bars]
    for score in (sketch, expected):
        assert [*too_short(score)] == []


def too_short(score: Document):
    for part in score.parts:
        for bar, here in zip(score.bars, part.bars, strict=True):
            for layer in here.layers:
                if layer and layer[-1].end != bar.length:
                    yield part.name, bar.number
            if len(score.bars) > 2 and bar.length > bar.nominal:
                yield part.name, bar.number


@FILES
def test_a_worked_case_comes_out_as_written_by_hand(path: Path, tmp_path: Path) -> None:
    case = read_case(path)
    expanded = expand(case, tmp_path)
    actual = as_text(expanded.score, case)
    expected = as_text(mini.document(case.section("expected")), case)
    assert mini.difference(expected, actual) == "", f"\n{case.title}\n{case.section('source')}"


@FILES
def test_a_worked_case_accounts_for_every_note_and_reports_what_it_must(
    path: Path, tmp_path: Path
) -> None:
    case = read_case(path)
    expanded = expand(case, tmp_path)
    assert len(expanded.ledger.unplaced) == int(case.section("unplaced") or 0)
    found = {f"{f.part}, {f.bar}" for f in expanded.findings}
    assert set(case.lines("findings")) - found == set()
    assert expanded.score.header.concert_pitch == (case.section("concert pitch") == "yes")


def expand(case: Case, folder: Path):
    """Runs the case through the whole program."""
    pipeline = pytest.importorskip("expander.pipeline")
    from expander.catalogue.ensembles import load_ensemble
    from expander.rulefile.load import parse_rules

    ensemble = case.section("ensemble")
    if "\n" in ensemble:
        path = folder / "ensemble.yaml"
        path.write_text(ensemble, encoding="utf-8")
        ensemble = str(path)
    rules = parse_rules(case.section("rules"), case.name)
    return pipeline.expand_score(
        mini.sketch(case.section("sketch")), rules, load_ensemble(ensemble)
    )


def as_text(score: Document, case: Case) -> str:
    """A score as text, without what the case does not speak of."""
    ignored = case.words("ignore")
    parts = tuple(
        replace(part, bars=tuple(plain(bar, i, ignored) for i, bar in enumerate(part.bars)))
        for part in score.parts
    )
    return mini.to_text(replace(score, parts=parts), case.words("show"))


def plain(bar: PartBar, index: int, ignored: tuple[str, ...]) -> PartBar:
    return replace(
        bar,
        changes=tuple(c for c in bar.changes if not unspoken(c, index)),
        directions=tuple(sorted(bar.directions, key=lambda d: (d.at, str(d.marks)))),
        layers=tuple(tuple(plain_event(e, ignored) for e in layer) for layer in bar.layers),
    )


def unspoken(change: Change, index: int) -> bool:
    opening = index == 0 and change.at == 0
    return isinstance(change.what, Mark) or (opening and change.what == Key(0))


def plain_event(event: Event, ignored: tuple[str, ...]) -> Event:
    marks = tuple(m for m in event.marks if m.name not in ignored)
    return replace(event, marks=marks, notes=tuple(plain_note(n, ignored) for n in event.notes))


def plain_note(note: Note, ignored: tuple[str, ...]) -> Note:
    pitch = replace(note.pitch, instrument="") if isinstance(note.pitch, Drum) else note.pitch
    return replace(note, pitch=pitch, marks=tuple(m for m in note.marks if m.name not in ignored))
