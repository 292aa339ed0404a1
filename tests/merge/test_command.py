"""The command as a musician uses it, mistakes included."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from expander.cli import app, main
from expander.model.score import Document
from expander.musicxml import read, to_bytes
from tests import mini
from tests.merge.hands import Edit, done
from tests.merge.song import first
from tests.merge.versions import version

OLD = "Flute: C5:w | D5:w | E5:w | F5:w | G5:w | A5:w | B5:w | C6:w | D5:w | C5:w |."
NEW = OLD.replace("G5:w", "G5:h A5")
EDITED = OLD.replace("D5:w | E5", "D5:w | Eb5")
CLASH = OLD.replace("G5:w", "G5:h Bb5")
OTHER = "Tuba: @bass C2:q D2 E2 C2 | F2:q E2 D2 C2 | G2:q G2 C2 C2 | C2:h. r:q |."


@pytest.fixture
def files(tmp_path: Path) -> Path:
    for name, text in (("old", OLD), ("new", NEW), ("edited", EDITED), ("clash", CLASH)):
        (tmp_path / f"{name}.musicxml").write_bytes(to_bytes(mini.document(text)))
    return tmp_path


def run(folder: Path, *words: str) -> Result:
    """The command with its words; those that are names of files are taken from the folder."""
    given = [str(folder / w) if w.endswith((".musicxml", ".mxl", ".json")) else w for w in words]
    return CliRunner().invoke(app, ["merge", *given])


def three(old: str, new: str, edited: str) -> list[str]:
    return [f"{name}.musicxml" for name in (old, new, edited)]


def text(path: Path) -> str:
    return mini.to_text(read(path), ())


def fault(result: Result) -> str:
    """What the program says of a mistake, which `main` prints with status 2."""
    assert result.exception is not None
    assert result.exception.exit_status == 2  # type: ignore[attr-defined]
    return str(result.exception)


def test_the_merged_score_is_written_and_the_merge_told_in_a_line(files: Path) -> None:
    result = run(files, *three("old", "new", "edited"), "-o", "out.musicxml")
    assert result.exit_code == 0
    expected = OLD.replace("D5:w | E5", "D5:w | Eb5").replace("G5:w", "G5:h A5")
    assert text(files / "out.musicxml") == mini.to_text(version(expected), ())
    assert result.stdout == ""
    assert result.stderr == f"{files / 'out.musicxml'}: 1 edit kept, 1 change taken, 0 conflicts.\n"


def test_a_compressed_score_is_written_where_the_name_asks_for_it(files: Path) -> None:
    run(files, *three("old", "new", "edited"), "-o", "out.mxl")
    assert (files / "out.mxl").read_bytes()[:2] == b"PK"
    assert read(files / "out.mxl").parts


def test_a_conflict_is_told_with_both_versions_and_the_new_stands(files: Path) -> None:
    result = run(files, *three("old", "new", "clash"), "-o", "out.musicxml")
    assert result.exit_code == 0
    assert text(files / "out.musicxml") == mini.to_text(version(NEW), ())
    told = result.stderr.splitlines()
    assert told[0] == (
        "Flute, bar 5 beat 1: notes: by hand beat 1 G5 (half), beat 3 Bb5 (half); new beat 1 G5 "
        "(half), beat 3 A5 (half); before beat 1 G5 (whole). The new stands."
    )
    assert told[1].endswith("0 edits kept, 0 changes taken, 1 conflict.")


def test_the_edit_stands_where_asked_for(files: Path) -> None:
    result = run(files, *three("old", "new", "clash"), "-o", "out.musicxml", "--keep", "edited")
    assert text(files / "out.musicxml") == mini.to_text(version(CLASH), ())
    assert "The edit stands." in result.stderr


@pytest.mark.parametrize(("edited", "status"), [("edited", 0), ("clash", 1)])
def test_strict_says_conflicts_with_its_status(files: Path, edited: str, status: int) -> None:
    result = run(files, *three("old", "new", edited), "-o", "out.musicxml", "--strict")
    assert result.exit_code == status
    assert (files / "out.musicxml").exists()


def test_the_report_has_every_edit_and_conflict_with_its_place(files: Path) -> None:
    run(files, *three("old", "new", "clash"), "-o", "out.musicxml", "--report", "r.json")
    report = json.loads((files / "r.json").read_text())
    (conflict,) = report["conflicts"]
    assert conflict == {
        "part": "Flute",
        "bar": "5",
        "beat": 1.0,
        "what": "notes",
        "before": "beat 1 G5 (whole)",
        "edited": "beat 1 G5 (half), beat 3 Bb5 (half)",
        "new": "beat 1 G5 (half), beat 3 A5 (half)",
        "stands": "new",
    }
    run(files, *three("old", "new", "edited"), "-o", "out.musicxml", "--report", "r.json")
    report = json.loads((files / "r.json").read_text())
    assert [(e["part"], e["bar"], e["what"]) for e in report["edits"]] == [("Flute", "3", "notes")]
    assert (report["changes"], report["conflicts"], report["remarks"]) == (1, [], [])


def test_of_many_conflicts_a_screen_is_told_and_where_the_rest_is(tmp_path: Path) -> None:
    for name, edits in (
        ("old", []),
        ("new", [Edit("a note", 17, bar, 0) for bar in range(9, 59)]),
        ("edited", [Edit("no music", 17, bar, 0) for bar in range(9, 59)]),
    ):
        score: Document = done(first(), edits)
        (tmp_path / f"{name}.musicxml").write_bytes(to_bytes(score))
    result = run(tmp_path, *three("old", "new", "edited"), "-o", "out.musicxml")
    lines = result.stderr.splitlines()
    assert sum("Bass, bar" in line and "notes: by hand rests" in line for line in lines) == 40
    assert lines[40].startswith("... and ") and lines[40].endswith(
        "--report FILE writes them all down."
    )
    assert len(lines) == 42


@pytest.mark.parametrize(
    ("names", "says"),
    [
        (("old", "old", "edited"), "for both the old and the new score. Expand the short score"),
        (("old", "new", "old"), "for both the old and the edited score. Without edits"),
        (("old", "new", "new"), "for both the new and the edited score. Name the score that was"),
    ],
)
def test_one_file_twice_is_refused(files: Path, names: tuple[str, str, str], says: str) -> None:
    result = run(files, *three(*names), "-o", "out.musicxml")
    assert says in fault(result)
    assert not (files / "out.musicxml").exists()


@pytest.mark.parametrize("output", ["old", "new", "edited"])
def test_no_score_is_written_over_one_that_is_read(files: Path, output: str) -> None:
    before = (files / f"{output}.musicxml").read_bytes()
    result = run(files, *three("old", "new", "edited"), "-o", f"{output}.musicxml")
    assert "is another file of this command too" in fault(result)
    assert (files / f"{output}.musicxml").read_bytes() == before


@pytest.mark.parametrize("place", [1, 2])
def test_a_score_that_does_not_come_from_the_first_is_refused(tmp_path: Path, place: int) -> None:
    names = ["old", "new", "edited"]
    for index, name in enumerate(names):
        score = version(OTHER) if index == place else first()
        (tmp_path / f"{name}.musicxml").write_bytes(to_bytes(score))
    result = run(tmp_path, *three("old", "new", "edited"), "-o", "out.musicxml")
    said = fault(result)
    assert said.startswith(f"the first score is not what the {('', 'second', 'third')[place]}")
    assert "in this order" in said
    assert not (tmp_path / "out.musicxml").exists()


def test_scores_without_a_part_in_common_are_refused_however_short(files: Path) -> None:
    (files / "edited.musicxml").write_bytes(to_bytes(version("Tuba: @bass C2:w | D2:w |.")))
    said = fault(run(files, *three("old", "new", "edited"), "-o", "out.musicxml"))
    assert said.startswith("the first score is not what the third comes from")


def test_a_file_that_is_no_score_is_named(files: Path) -> None:
    (files / "edited.musicxml").write_text("not music")
    said = fault(run(files, *three("old", "new", "edited"), "-o", "out.musicxml"))
    assert str(files / "edited.musicxml") in said


@pytest.mark.parametrize("names", [("new", "old", "edited"), ("edited", "old", "new")])
def test_scores_in_another_order_are_asked_about(files: Path, names: tuple[str, str, str]) -> None:
    result = run(files, *three(*names), "-o", "out.musicxml")
    assert "are the files named in the order old, new, edited?\n" in result.stderr


def test_a_mistake_is_one_message_and_status_2(files: Path, monkeypatch, capsys) -> None:
    words = [str(files / n) for n in three("old", "new", "missing")]
    monkeypatch.setattr("sys.argv", ["expander", "merge", *words, "-o", str(files / "o.musicxml")])
    with pytest.raises(SystemExit) as stopped:
        main()
    assert stopped.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "missing.musicxml" in said
