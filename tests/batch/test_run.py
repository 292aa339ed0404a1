"""Running: each job in its folder, only what is missing or changed, one bad job and the rest."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from expander.batch import run as running
from expander.batch.orders import Order
from expander.batch.run import run_batch
from expander.batch.telling import DONE, FAILED, STANDS, Outcome, Progress, spoken, table
from tests.batch.songs import QUARTET, Here, files_in, song, write_songs

RULES = """\
ensemble: string-quartet
strands: {tune: {staff: 1}, bass: {staff: 2}}
plan:
  all:
    - {play: tune, by: violin 1}
    - {play: bass, by: cello}
"""


@pytest.fixture
def songs(tmp_path):
    return write_songs(tmp_path / "songs", 3)


def orders(paths, **more):
    return [Order(path.stem, path, ensemble=QUARTET, **more) for path in paths]


def results(outcomes):
    return [outcome.result for outcome in outcomes]


def test_each_job_gets_score_report_and_parts(songs, tmp_path) -> None:
    outcomes = run_batch(orders(songs, parts=True), tmp_path / "out", Here())
    assert results(outcomes) == [DONE] * 3
    names = files_in(tmp_path / "out")
    for path in songs:
        assert {f"{path.stem}/score.musicxml", f"{path.stem}/report.json"} <= set(names)
        assert sum(name.startswith(f"{path.stem}/parts/") for name in names) == 4
    told = json.loads(names["summary.json"])
    assert (told["done"], told["failed"]) == (3, 0)
    assert [job["parts"] for job in told["jobs"]] == [4, 4, 4]


def test_a_second_run_does_nothing(songs, tmp_path) -> None:
    run_batch(orders(songs, parts=True), tmp_path / "out", Here())
    before = {p: p.stat().st_mtime_ns for p in (tmp_path / "out").rglob("*.musicxml")}
    files = files_in(tmp_path / "out")
    workers = Here()
    outcomes = run_batch(orders(songs, parts=True), tmp_path / "out", workers)
    assert (results(outcomes), workers.done) == ([STANDS] * 3, [])
    assert before == {p: p.stat().st_mtime_ns for p in (tmp_path / "out").rglob("*.musicxml")}
    assert files == files_in(tmp_path / "out")


def _touch_sketch(songs: list[Path], out: Path) -> None:
    songs[1].write_bytes(song(4, "B4"))


def _lose_a_file(songs: list[Path], out: Path) -> None:
    (out / songs[1].stem / "score.musicxml").unlink()


def _lose_a_part(songs: list[Path], out: Path) -> None:
    sorted((out / songs[1].stem / "parts").iterdir())[0].unlink()


def _lose_the_report(songs: list[Path], out: Path) -> None:
    (out / songs[1].stem / "report.json").unlink()


def _spoil_the_report(songs: list[Path], out: Path) -> None:
    (out / songs[1].stem / "report.json").write_text("{")


@pytest.mark.parametrize(
    "change", [_touch_sketch, _lose_a_file, _lose_a_part, _lose_the_report, _spoil_the_report]
)
def test_what_is_missing_or_changed_is_done_again(songs, tmp_path, change) -> None:
    run_batch(orders(songs, parts=True), tmp_path / "out", Here())
    change(songs, tmp_path / "out")
    workers = Here()
    outcomes = run_batch(orders(songs, parts=True), tmp_path / "out", workers)
    assert results(outcomes) == [STANDS, DONE, STANDS]
    assert workers.done == [songs[1].stem]


def test_changed_rules_line_up_options_or_version_are_done_again(
    songs, tmp_path, monkeypatch
) -> None:
    rules, out = tmp_path / "r.yaml", tmp_path / "out"
    rules.write_text(RULES)
    one = [Order("song", songs[0], rules)]
    assert results(run_batch(one, out, Here())) == [DONE]
    assert results(run_batch(one, out, Here())) == [STANDS]
    rules.write_text(RULES.replace("violin 1", "violin 2"))
    assert results(run_batch(one, out, Here())) == [DONE]
    changed = [Order("song", songs[0], rules, parts=True)]
    assert results(run_batch(changed, out, Here())) == [DONE]
    other = [Order("song", songs[0], rules, ensemble="string-orchestra", parts=True)]
    assert results(run_batch(other, out, Here())) == [DONE]
    assert results(run_batch(changed, out, Here())) == [DONE]
    monkeypatch.setattr(running, "__version__", "99")
    assert results(run_batch(changed, out, Here())) == [DONE]


def test_force_does_all_and_changes_nothing(songs, tmp_path) -> None:
    run_batch(orders(songs), tmp_path / "out", Here())
    files = files_in(tmp_path / "out")
    workers = Here()
    run_batch(orders(songs), tmp_path / "out", workers, force=True)
    assert len(workers.done) == 3
    assert files == files_in(tmp_path / "out")


def test_parts_of_an_earlier_line_up_go(songs, tmp_path) -> None:
    out = tmp_path / "out"
    (one,) = orders(songs[:1], parts=True)
    run_batch([one], out, Here())
    (out / one.name / "parts" / "mine.txt").write_text("a note of my own")
    (other,) = [Order(one.name, one.sketch, ensemble="brass-quintet", parts=True)]
    run_batch([other], out, Here())
    names = [p.name for p in (out / one.name / "parts").iterdir()]
    assert len([n for n in names if n.endswith(".musicxml")]) == 5
    assert not any("violin" in name for name in names)
    assert "mine.txt" in names


def test_one_bad_job_is_told_and_the_rest_go_on(songs, tmp_path) -> None:
    songs[1].write_text("this is no score")
    missing = Order("missing", tmp_path / "none.musicxml", ensemble=QUARTET)
    nameless = Order("nameless", songs[0])
    unknown = Order("unknown", songs[0], ensemble="sextet")
    outcomes = run_batch([*orders(songs), missing, nameless, unknown], tmp_path / "out", Here())
    assert results(outcomes) == [DONE, FAILED, DONE, FAILED, FAILED, FAILED]
    assert "song-001.musicxml:1" in outcomes[1].wrong
    assert "none.musicxml" in outcomes[3].wrong
    assert "no line-up is named" in outcomes[4].wrong
    assert "septet" in outcomes[5].wrong
    told = json.loads((tmp_path / "out" / "summary.json").read_bytes())
    assert [job["result"] for job in told["jobs"]] == [
        "done", "failed", "done", "failed", "failed", "failed",
    ]  # fmt: skip
    assert told["jobs"][1]["message"] == outcomes[1].wrong


def test_a_failed_job_leaves_what_stood_there(songs, tmp_path) -> None:
    run_batch(orders(songs), tmp_path / "out", Here())
    before = files_in(tmp_path / "out" / songs[1].stem)
    songs[1].write_text("spoiled")
    run_batch(orders(songs), tmp_path / "out", Here())
    assert files_in(tmp_path / "out" / songs[1].stem) == before


def test_the_order_in_which_jobs_come_back_does_not_matter(songs, tmp_path) -> None:
    run_batch(orders(songs, parts=True), tmp_path / "one", Here())
    run_batch(orders(songs, parts=True), tmp_path / "other", Here(backwards=True))
    assert files_in(tmp_path / "one") == files_in(tmp_path / "other")


def test_half_written_files_of_a_killed_run_go(songs, tmp_path) -> None:
    folder = tmp_path / "out" / songs[0].stem
    folder.mkdir(parents=True)
    (folder / ".score.musicxml.0.part").write_text("half")
    run_batch(orders(songs[:1]), tmp_path / "out", Here())
    assert not list(folder.glob(".*"))


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def told_by(stream, outcomes):
    progress = Progress(len(outcomes), stream)
    for outcome in outcomes:
        progress.say(outcome)
    progress.end()
    return stream.getvalue()


def some_outcomes():
    one, two = (Order(name, Path(f"{name}.musicxml")) for name in ("one", "two"))
    return [Outcome(one, DONE, {"bars": 8}), Outcome(two, FAILED, wrong="no score")]


def test_a_pipe_gets_one_line_a_job() -> None:
    text = told_by(io.StringIO(), some_outcomes())
    assert text.splitlines() == ["[1/2] one: done", "[2/2] two: failed: no score"]


def test_a_terminal_gets_one_line_with_the_time_left() -> None:
    text = told_by(Terminal(), some_outcomes())
    assert "\n" not in text
    assert "1 of 2 jobs, about 0 s left" in text
    assert "2 of 2 jobs, 1 failed" in text


def test_the_table_has_a_row_for_each_job() -> None:
    lines = table(some_outcomes())
    rows = [line.split()[:3] for line in lines[2:4]]
    assert rows == [["one", "done", "8"], ["two", "failed", "-"]]
    assert lines[-1] == "2 jobs: 1 done, 0 unchanged, 1 failed."


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.4, "0 s"), (59, "59 s"), (61, "1 min"), (100, "2 min"), (3600, "1 h 0 min"),
     (7830, "2 h 11 min")],
)  # fmt: skip
def test_time_left_is_said_roughly(seconds, said) -> None:
    assert spoken(seconds) == said
