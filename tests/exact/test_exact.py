"""The same bytes whatever the hash seed, locale, time zone and folder; no torn files."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.exact.stops import COMMAND, SAMPLES, killed, killed_writing

ENVIRONMENTS = {
    "hash seed 0": {"PYTHONHASHSEED": "0"},
    "another hash seed": {"PYTHONHASHSEED": "12345"},
    "a Turkish locale, another zone": {
        "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Pacific/Chatham",
        "PYTHONHASHSEED": "7",
    },
    "plain ASCII": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0",
                    "TZ": "Asia/Kathmandu"},
}  # fmt: skip


def written(folder: Path, environment: dict[str, str]) -> dict[str, str]:
    """The digests of score and report made in a folder under an environment."""
    arguments = ["expand", str(SAMPLES / "paper-harbour.musicxml")]
    arguments += ["-r", str(SAMPLES / "paper-harbour-septet.yaml")]
    path = os.pathsep.join(p for p in sys.path if p)
    subprocess.run(
        [sys.executable, "-c", COMMAND, *arguments, "-o", "score.mxl", "--report", "r.json"],
        cwd=folder, env={**os.environ, "PYTHONPATH": path, **environment}, check=True,
        capture_output=True, timeout=120,
    )  # fmt: skip
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


@pytest.fixture(scope="module")
def usual(tmp_path_factory):
    return written(tmp_path_factory.mktemp("usual"), {})


@pytest.mark.parametrize("name", ENVIRONMENTS)
def test_the_bytes_are_the_same_in_any_environment(name, usual, tmp_path):
    folder = tmp_path / "a folder with ünusual letters"
    folder.mkdir()
    assert written(folder, ENVIRONMENTS[name]) == usual


def test_a_kill_while_writing_leaves_the_old_file_or_the_new():
    found = killed_writing(20, seed=4)
    assert found["a"] and found["b"]


def test_a_kill_at_any_moment_of_the_command_leaves_the_old_file_or_the_new():
    assert killed(3, seed=4).keys() <= {"old", "new", "left beside"}
