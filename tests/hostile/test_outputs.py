"""Where the output may and may not go; every refusal leaves all that was there as it was."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from tests.hostile.rules import GOOD, LINE_UP, SKETCH
from tests.hostile.running import contents, run
from tests.schema import assert_valid

COMMAND = "from expander.__main__ import run; run()"
MEMORY = 1_000_000_000


@pytest.fixture
def folder(tmp_path):
    """A sketch, rules, a line-up, an older score, and things that are no plain files."""
    (tmp_path / "air.musicxml").write_bytes(SKETCH)
    (tmp_path / "song.yaml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "band.yaml").write_text(LINE_UP, encoding="utf-8")
    (tmp_path / "old.musicxml").write_text("the old score", encoding="utf-8")
    (tmp_path / "folder").mkdir()
    (tmp_path / "to air").symlink_to("air.musicxml")
    (tmp_path / "to rules").symlink_to("song.yaml")
    (tmp_path / "to folder").symlink_to("folder")
    (tmp_path / "to nowhere").symlink_to("gone/far.musicxml")
    (tmp_path / "round").symlink_to("round")
    os.link(tmp_path / "air.musicxml", tmp_path / "twin.musicxml")
    return tmp_path


# the options after `expand air.musicxml`, with the folder for {}; words of the refusal
REFUSED = {
    "the input itself": ("-r {}/song.yaml -o {}/air.musicxml", "another file of this command"),
    "the input by another way": ("-r {}/song.yaml -o {}/folder/../air.musicxml", "another file"),
    "a link to the input": ("-r {}/song.yaml -o {}/to~air", "another file"),
    "a second name of the input": ("-r {}/song.yaml -o {}/twin.musicxml", "another file"),
    "the rules": ("-r {}/song.yaml -o {}/song.yaml", "another file"),
    "a link to the rules": ("-r {}/song.yaml -o {}/to~rules", "another file"),
    "the line-up": ("-e {}/band.yaml -o {}/band.yaml", "another file"),
    "the report over the input": (
        "-r {}/song.yaml -o {}/out.musicxml --report {}/air.musicxml",
        "another file",
    ),
    "the report over the rules": (
        "-r {}/song.yaml -o {}/out.musicxml --report {}/song.yaml",
        "another file",
    ),
    "the report over the score": (
        "-r {}/song.yaml -o {}/out.musicxml --report {}/out.musicxml",
        "another file",
    ),
    "a folder": ("-r {}/song.yaml -o {}/folder", "is a folder"),
    "a folder with a slash": ("-r {}/song.yaml -o {}/folder/", "is a folder"),
    "a link to a folder": ("-r {}/song.yaml -o {}/to~folder", "is a folder"),
    "a folder that is not there": ("-r {}/song.yaml -o {}/gone/out.musicxml", "No such file"),
    "below a file": ("-r {}/song.yaml -o {}/old.musicxml/out.musicxml", "Not a directory"),
    "a link to nowhere": ("-r {}/song.yaml -o {}/to~nowhere", "No such file"),
    "a name too long for a disk": ("-r {}/song.yaml -o {}/" + "n" * 300, "too long"),
    "a full disk": ("-r {}/song.yaml -o /dev/full", "No space left"),
    "a score that goes and a report that cannot": (
        "-r {}/song.yaml -o {}/old.musicxml --report {}/folder",
        "is a folder",
    ),
    "a score that goes and a report to a full disk": (
        "-r {}/song.yaml -o {}/old.musicxml --report /dev/full",
        "No space left",
    ),
    "where nobody may write": ("-r {}/song.yaml -o /proc/out.musicxml", "could not be written"),
    "no line-up": ("-o {}/out.musicxml", "no line-up"),
    "an empty name": ("-r {}/song.yaml -o ~~", "folder|Missing|written"),
    "rules that are a folder": ("-r {}/folder -o {}/out.musicxml", "cannot be read"),
    "rules that are not there": ("-r {}/none.yaml -o {}/out.musicxml", "cannot be read"),
    "rules without end": ("-r /dev/zero -o {}/out.musicxml", "larger than"),
    "an option nobody knows": ("-r {}/song.yaml -o {}/out.musicxml --louder", "louder"),
}


def options(text, folder):
    words = text.replace("~~", "\0").split()
    return [w.replace("\0", "").replace("{}", str(folder)).replace("~", " ") for w in words]


def state(folder):
    links = {p.name: p.readlink() for p in folder.iterdir() if p.is_symlink()}
    plain = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    return links, plain, sorted(p.name for p in folder.iterdir())


@pytest.mark.parametrize("name", REFUSED)
def test_an_output_that_cannot_be_is_refused_and_nothing_changed(name, folder):
    text, words = REFUSED[name]
    before = state(folder)
    ran = run(["expand", str(folder / "air.musicxml"), *options(text, folder)])
    assert ran.status == 2, ran.said
    assert any(word in ran.said for word in words.split("|")), ran.said
    assert "Traceback" not in ran.said
    assert state(folder) == before


# what `-o` is, and the file that then holds the score
WRITTEN = {
    "over an older score": ("old.musicxml", "old.musicxml"),
    "a name with blanks": ("my new score.musicxml", "my new score.musicxml"),
    "a name of 250 letters": ("n" * 250, "n" * 250),
    "a name in another script": ("партитура.musicxml", "партитура.musicxml"),
    "a name that looks like an option": ("-x.musicxml", "-x.musicxml"),
    "a round link": ("round", "round"),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_an_output_that_can_be_is_written_whole(name, folder):
    output, written = WRITTEN[name]
    rules = ["-r", str(folder / "song.yaml")]
    ran = run(["expand", str(folder / "air.musicxml"), *rules, "-o", str(folder / output)])
    assert ran.status == 0, ran.said
    assert_valid((folder / written).read_bytes())
    assert not [p for p in folder.iterdir() if p.name.endswith(".part")]


def test_a_link_to_a_score_stays_a_link(folder):
    (folder / "latest").symlink_to("old.musicxml")
    rules = ["-r", str(folder / "song.yaml")]
    assert run(["expand", str(folder / "air.musicxml"), *rules, "-o", str(folder / "latest")])
    assert (folder / "latest").is_symlink()
    assert_valid((folder / "old.musicxml").read_bytes())


def test_a_pipe_is_written_into_and_stays(folder):
    os.mkfifo(folder / "pipe")
    done = _process(folder, "-r", "song.yaml", "-o", "pipe", reading=folder / "pipe")
    assert done.returncode == 0, done.stderr
    assert_valid(done.stdout)
    assert (folder / "pipe").is_fifo()


def test_the_null_device_is_never_replaced(folder):
    ran = run(["expand", str(folder / "air.musicxml"), "-r", str(folder / "song.yaml"),
               "-o", os.devnull])  # fmt: skip
    assert ran.status == 0
    assert not Path(os.devnull).is_file()


# -- in a process of its own, with limits ----------------------------------------------------------


def _limits(file_size=None):
    def apply():
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (15, 15))
        if file_size:
            resource.setrlimit(resource.RLIMIT_FSIZE, (file_size, file_size))

    return apply


def _process(folder, *arguments, sketch="air.musicxml", file_size=None, reading=None):
    command = [sys.executable, "-c", COMMAND, "expand", sketch, *arguments]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    reader = subprocess.Popen(["cat", reading], stdout=subprocess.PIPE) if reading else None
    done = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, timeout=120,
        preexec_fn=_limits(file_size), check=False,
    )  # fmt: skip
    if reader:
        done.stdout = reader.communicate(timeout=20)[0]
    return done


def test_a_disk_that_fills_while_writing_leaves_the_old_file(folder):
    before = contents(folder)
    done = _process(folder, "-r", "song.yaml", "-o", "old.musicxml", file_size=2000)
    assert done.returncode == 2
    assert b"could not be written" in done.stderr
    assert contents(folder) == before


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/null"])
def test_a_device_as_input_is_refused_within_a_gigabyte(device, folder):
    done = _process(folder, "-e", "septet", "-o", "out.musicxml", sketch=device)
    assert done.returncode == 2, done.stderr
    assert b"Traceback" not in done.stderr
    assert not (folder / "out.musicxml").exists()


HEAVY = (
    "a chord of ten thousand", "three hundred parts", "an entity long and often",
    "a title of a megabyte", "five hundred bars",
)  # fmt: skip


@pytest.mark.parametrize("name", HEAVY)
def test_heavy_input_stays_within_a_gigabyte(name, folder):
    from tests.hostile.scores import SCORES

    data, verdict = SCORES[name]
    (folder / "heavy.musicxml").write_bytes(data)
    done = _process(folder, "-e", "big-band", "-o", "out.musicxml", sketch="heavy.musicxml")
    assert done.returncode == (2 if verdict.startswith("no:") else 0), done.stderr[-400:]
    assert b"Traceback" not in done.stderr


def test_a_reader_who_goes_away_is_no_error(folder):
    listing = subprocess.Popen(
        [sys.executable, "-c", "from expander.__main__ import run; run()", "list", "instruments"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
    )  # fmt: skip
    listing.stdout.close()
    said = listing.communicate(timeout=60)[1] if listing.stdout is None else listing.stderr.read()
    listing.wait(timeout=60)
    assert b"Traceback" not in said
