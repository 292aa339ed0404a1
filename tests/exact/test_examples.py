"""Every command shown in the README and in the help does what it says, in the order shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from expander import cli
from tests.bench.sketches import sketch
from tests.hostile.running import run

HERE = Path(__file__).parents[2]
WITHOUT_END = ("watch",)
"""Commands that go on until they are stopped."""


def readme_commands() -> list[str]:
    """The `expander` lines of the README's shell blocks, without what is remarked on them."""
    blocks = re.findall(r"```sh\n(.*?)```", (HERE / "README.md").read_text("utf-8"), re.DOTALL)
    lines = [line.split("  #")[0].strip() for block in blocks for line in block.splitlines()]
    return [line for line in lines if line.startswith("expander ")]


def help_commands() -> list[str]:
    """The examples below the help of each command."""
    epilogs = [command.epilog or "" for command in cli.app.registered_commands]
    return [e.removeprefix("Example: ") for e in epilogs if e.startswith("Example: ")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A short song under all the names that the examples give to what they read."""
    made = tmp_path_factory.mktemp("examples")
    song = made / "song.musicxml"
    song.write_bytes(sketch(12))
    (made / "songs").mkdir()
    for name in ("one", "two"):
        (made / "songs" / f"{name}.musicxml").write_bytes(sketch(5, 3))
    assert run(["start", str(song), "-e", "septet", "-o", str(made / "song.yaml")]).status == 0
    for name in ("score", "symphony", "first", "again", "edited", "by-hand"):
        target = str(made / f"{name}.musicxml")
        assert run(["expand", str(song), "-e", "septet", "-o", target]).status == 0
    return made


def arguments(line: str, folder: Path) -> list[str]:
    """The words of a line as the shell gives them, stars filled in."""
    found: list[str] = []
    for word in shlex.split(line)[1:]:
        names = sorted(str(p.relative_to(folder)) for p in folder.glob(word)) if "*" in word else []
        found += names or [word]
    return found


def test_there_are_examples():
    assert len(readme_commands()) >= 5
    assert len(help_commands()) == len(cli.app.registered_commands)


@pytest.mark.parametrize("line", dict.fromkeys([*readme_commands(), *help_commands()]))
def test_an_example_works(line, folder, monkeypatch):
    words = arguments(line, folder)
    if words[0] in WITHOUT_END:
        pytest.skip("goes on until it is stopped")
    monkeypatch.chdir(folder)
    ran = run(words)
    assert ran.status in ((0, 1) if words[0] == "check" else (0,)), ran.said
    if "-o" in words:
        assert (folder / words[words.index("-o") + 1]).exists()
    assert ran.said or ran.shown or "-o" in words
