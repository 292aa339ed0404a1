"""Watching: saved files are made again, a mistake leaves the last good score, pages stay put."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from socket import AF_INET, SOCK_STREAM, socket
from typing import Any

import pytest
from msgspec import Struct, field

from expander.errors import BadRules, BadUsage
from expander.musicxml import file_bytes
from expander.watch import HOST, Board, Wish, listening, make
from tests.chromium import chromium, errors, until
from tests.mini import document
from tests.source import HOME

pytest.importorskip("watchfiles")
pytest.importorskip("uvicorn")

SKETCH = (
    "Tune: [A] " + " | ".join(["C5:q D5 E5 F5"] * 60) + "\nBass: @bass " + " | ".join(["C3:w"] * 60)
)
RULES = """\
ensemble: string-quartet
strands: {tune: {staff: 1}, bass: {staff: 2}}
plan:
  all:
    - {play: tune, by: violin 1}
    - {play: bass, by: cello}
"""
OTHER = RULES.replace("violin 1", "viola")
MISTAKE = RULES.replace("violin 1", "kazoo")
WAIT = 30.0


@pytest.fixture
def wish(tmp_path: Path) -> Wish:
    sketch, rules = tmp_path / "song.musicxml", tmp_path / "song.yaml"
    sketch.write_bytes(file_bytes(document(SKETCH), sketch))
    rules.write_text(RULES)
    return Wish(sketch, tmp_path / "score.musicxml", rules, proof=tmp_path / "proof.html")


def test_score_and_proof_are_put_in_place(wish: Wish) -> None:
    made = make(wish)
    assert made.proof is not None and wish.proof is not None
    assert b"Violin" in wish.score.read_bytes()
    assert wish.proof.read_bytes().startswith(b"<!doctype html>")


def test_after_a_mistake_the_last_good_score_stays(wish: Wish) -> None:
    make(wish)
    before = wish.score.read_bytes()
    assert wish.rules is not None
    wish.rules.write_text(MISTAKE)
    with pytest.raises(BadRules, match="kazoo"):
        make(wish)
    assert wish.score.read_bytes() == before


def test_sketch_rules_and_the_line_up_s_own_file_are_watched(tmp_path: Path) -> None:
    names = [tmp_path / name for name in ("s.musicxml", "r.yaml", "band.yaml")]
    for name in names:
        name.touch()
    wish = Wish(names[0], tmp_path / "out.musicxml", names[1], str(names[2]))
    assert wish.watched == tuple(name.resolve() for name in names)


def test_a_page_is_told_what_is_new_to_it() -> None:
    board = Board()
    board.well(None)
    assert board.message(1) == "event: well\ndata: 1\n\n"
    assert board.message(0) == "event: fresh\ndata: 1\n\n"
    board.wrong("line 3:\nno such player")
    assert board.message(1) == 'event: mistake\ndata: "line 3:\\nno such player"\n\n'
    board.well(None)
    assert board.message(2).startswith("event: well")


def test_a_taken_port_is_told() -> None:
    with socket(AF_INET, SOCK_STREAM) as taken:
        taken.bind((HOST, 0))
        taken.listen()
        with pytest.raises(BadUsage, match=f"port {taken.getsockname()[1]}"):
            listening(taken.getsockname()[1])


def test_it_listens_at_this_machine_s_own_address_only() -> None:
    with listening(0) as bound:
        assert bound.getsockname()[0] == "127.0.0.1"


# The whole of it, running -----------------------------------------------------------------------


class Running(Struct):
    """The command at work: what it has said so far, and its address."""

    process: subprocess.Popen[str]
    said: list[str] = field(default_factory=list)

    def listen(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.said.append(line)

    def heard(self, pattern: str, count: int = 1) -> str:
        """The latest line that matches, once there are that many of them."""
        end = time.monotonic() + WAIT
        while time.monotonic() < end:
            found = [line for line in self.said if re.search(pattern, line)]
            if len(found) >= count:
                return found[-1]
            time.sleep(0.05)
        raise AssertionError(f"not said: {pattern}; but: {''.join(self.said)}")

    @property
    def address(self) -> str:
        found = re.search(r"http://\S+", self.heard("http://"))
        assert found
        return found[0]


@pytest.fixture
def running(wish: Wish) -> Iterator[Running]:
    run = "from expander.__main__ import run; run()"
    told = ["watch", wish.sketch, "-r", wish.rules, "-o", wish.score, "--proof", wish.proof]
    command = [sys.executable, "-c", run, *map(str, told)]
    process = subprocess.Popen(command, cwd=HOME, stderr=subprocess.PIPE, text=True)
    made = Running(process)
    ears = threading.Thread(target=made.listen, daemon=True)
    ears.start()
    made.heard("Watching")
    yield made
    process.send_signal(signal.SIGINT)
    process.wait(WAIT)
    ears.join(WAIT)


def status(address: str, host: str) -> int:
    request = urllib.request.Request(address, headers={"Host": host})
    try:
        with urllib.request.urlopen(request, timeout=WAIT) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def test_saving_makes_the_score_again_and_strangers_get_no_page(
    running: Running, wish: Wish
) -> None:
    assert wish.rules is not None
    assert status(running.address, "127.0.0.1") == 200
    assert status(running.address, "elsewhere.example") == 400
    before = wish.score.read_bytes()
    wish.rules.write_text(OTHER)
    running.heard("Findings", 2)
    after = wish.score.read_bytes()
    assert after != before
    wish.rules.write_text(MISTAKE)
    assert "song.yaml" in running.heard("kazoo")
    assert wish.score.read_bytes() == after


def test_an_open_page_reloads_at_the_same_place_and_shows_mistakes(
    running: Running, wish: Wish
) -> None:
    assert wish.rules is not None
    with chromium() as browser:
        browser.get(running.address)
        until(browser, "return document.body.dataset.ready")
        browser.execute_script("proof.toBar(40); window.first = true")
        until(browser, "return document.querySelector('[id=\"m40\"]')")
        browser.find_element("css selector", 'input[name="severity"][value="note"]').click()
        place = settled(browser)
        wish.rules.write_text(OTHER)
        until(browser, "return !window.first && document.body.dataset.ready")
        until(browser, "return document.querySelector('[id=\"m40\"]')")
        assert settled(browser) == pytest.approx(place, abs=12)
        assert browser.execute_script("return proof.state.bar") == 40
        ticked = "return document.querySelector('input[name=severity][value=note]').checked"
        assert browser.execute_script(ticked) is False
        wish.rules.write_text(MISTAKE)
        assert "kazoo" in until(browser, "return document.querySelector('#alarm')?.textContent")
        wish.rules.write_text(OTHER)
        until(browser, "return document.querySelector('#alarm')?.hidden")
        assert errors(browser) == []


def settled(browser: Any) -> float:
    """Where bar 40 stands in the window, once it stands still."""
    where = "return document.querySelector('[id=\"m40\"]').getBoundingClientRect().top"
    last = None
    for _ in range(60):
        here = float(browser.execute_script(where))
        if here == last:
            return here
        last = here
        time.sleep(0.15)
    raise AssertionError("the page does not come to rest")
