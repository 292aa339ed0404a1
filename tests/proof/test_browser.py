"""The proof in a real browser, opened from disk with the network off."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from expander.model.finding import Severity
from expander.proof import proof_of, rendered
from tests.chromium import asked_for, chromium, errors, show, until
from tests.mini import document
from tests.proof.pieces import BARS, band_proof, findings


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("proof") / "proof.html"
    path.write_bytes(rendered(band_proof(), ".html"))
    return path


@pytest.fixture
def page(browser: Any, file: Path) -> Any:
    errors(browser)
    asked_for(browser)
    show(browser, file)
    return browser


def click(page: Any, selector: str) -> None:
    page.find_element("css selector", selector).click()


def test_it_loads_from_disk_alone_without_a_word_on_the_console(page: Any, file: Path) -> None:
    until(page, "return document.querySelector('#page-0 svg')")
    assert asked_for(page) == {file.as_uri()}
    assert errors(page) == []


def test_pages_are_unpacked_as_they_come_into_view(page: Any) -> None:
    total = page.execute_script("return document.querySelectorAll('.page').length")
    last = f"#page-{total - 1}"
    assert total > 2
    assert not page.execute_script(f"return document.querySelector('{last} svg')")
    page.execute_script(f"document.querySelector('{last}').scrollIntoView()")
    until(page, f"return document.querySelector('{last} svg')")


@pytest.mark.parametrize("number", [0, len(findings()) - 1])
def test_list_and_sign_are_linked_both_ways(page: Any, number: int) -> None:
    click(page, f"#finding-{number} a")
    until(page, f"return document.activeElement.id === 'sign-{number}'")
    seen = (
        f"const box = document.querySelector('#sign-{number}').getBoundingClientRect();"
        "return box.top >= 0 && box.bottom <= innerHeight"
    )
    until(page, seen)
    page.execute_script(
        f"document.querySelector('#sign-{number} text').dispatchEvent("
        "new MouseEvent('click', {bubbles: true, cancelable: true}))"
    )
    until(page, f"return document.activeElement.id === 'finding-{number}'")


def test_filters_take_findings_and_their_signs_away_and_bring_them_back(page: Any) -> None:
    shown = "return document.querySelectorAll('#findings li:not([hidden])').length"
    everything = page.execute_script(shown)
    errors_only = sum(f.severity is Severity.ERROR for f in findings())
    assert 0 < errors_only < everything == len(findings())
    for severity in ("warning", "note"):
        click(page, f'input[name="severity"][value="{severity}"]')
    assert page.execute_script(shown) == errors_only
    hidden = page.execute_script(
        "return [...document.querySelectorAll('.sign')].filter("
        "s => !s.classList.contains('error') && !s.hasAttribute('hidden')).length"
    )
    assert hidden == 0
    click(page, "aside details summary")
    click(page, "#no-checks")
    assert page.execute_script(shown) == 0
    click(page, "#all-checks")
    assert page.execute_script(shown) == errors_only


def test_one_jumps_by_bar_mark_and_player(page: Any) -> None:
    bar = page.find_element("css selector", "#bar")
    bar.clear()
    bar.send_keys(f"{BARS}\n")
    in_view = (
        "const bar = document.querySelector(`[id='m${arguments[0]}']`);"
        "const box = bar && bar.getBoundingClientRect();"
        "return box && box.bottom > 0 && box.top < innerHeight"
    )
    until(page, in_view, BARS - 1)
    page.execute_script(
        "const mark = document.querySelector('#mark'); mark.value = [...mark.options].find("
        "o => o.text === 'A').value; mark.dispatchEvent(new Event('change'))"
    )
    until(page, in_view, 0)
    page.execute_script(
        "const one = document.querySelector('#player'); one.value = '3';"
        "one.dispatchEvent(new Event('change'))"
    )
    until(page, 'return document.querySelector(\'[id="m0"] g.staff[data-n="1"]\').style.opacity')
    alone = 'return document.querySelector(\'[id="m0"] g.staff[data-n="3"]\').style.opacity'
    assert page.execute_script(alone) == ""


def test_a_bar_that_is_not_there_is_told(page: Any) -> None:
    bar = page.find_element("css selector", "#bar")
    bar.clear()
    bar.send_keys("999\n")
    until(page, "return document.querySelector('#sounding').textContent === 'no bar 999'")


def test_playback_starts_from_the_bar_and_stops(page: Any) -> None:
    click(page, "#play")
    until(page, "return proof.player.sent > 4 && proof.player.context.state === 'running'")
    assert page.execute_script("return proof.player.synths.length") == 1
    until(page, "return document.querySelector('#sounding').textContent.startsWith('bar')")
    click(page, "#play")
    assert page.execute_script("return proof.player.timer") == 0
    assert errors(page) == []


def test_sound_comes_out(page: Any) -> None:
    """Measured behind the synthesizer: the loudest sample of half a second."""
    click(page, "#play")
    until(page, "return proof.player.sent > 4")
    page.execute_script(
        "const node = proof.player.context.createAnalyser(); proof.player.out.connect(node);"
        "window.loudest = 0; const wave = new Float32Array(node.fftSize);"
        "setInterval(() => { node.getFloatTimeDomainData(wave);"
        "loudest = Math.max(loudest, ...wave.map(Math.abs)); }, 20)"
    )
    until(page, "return loudest > 0.01")
    click(page, "#play")


def test_one_player_is_heard_alone(page: Any) -> None:
    page.execute_script("document.querySelector('#who').open = true")
    click(page, "#none-play")
    click(page, 'input[name="voice"][value="3"]')
    click(page, "#play")
    until(page, "return proof.player.sent > 0")
    tracks = "return [...proof.player.places.keys()].map(key => key.split(' ')[0])"
    assert set(page.execute_script(tracks)) == {"3"}
    click(page, "#play")


def test_repeats_are_played_and_the_bar_that_sounds_is_told(browser: Any, tmp_path: Path) -> None:
    path = tmp_path / "repeats.html"
    score = document('Flute: <q=480> C5:w |: D5:w :| E5:w "Fine" | F5:w "D.C. al Fine"')
    path.write_bytes(rendered(proof_of(score, []), ".html"))
    show(browser, path)
    until(browser, "return document.querySelector('#page-0 svg')")
    browser.execute_script(
        "window.told = []; new MutationObserver(() => {"
        "const text = document.querySelector('#sounding').textContent;"
        "if (text && text !== told[told.length - 1]) told.push(text); })"
        ".observe(document.querySelector('#sounding'), { childList: true })"
    )
    click(browser, "#play")
    until(browser, "return proof.player.timer === 0 && told.length > 4")
    notes = browser.execute_script("return proof.player.tracks[0].notes.map(n => [n[0], n[2]])")
    played = (72, 74, 74, 76, 77, 72, 74, 76)
    assert notes == [[500 * place, key] for place, key in enumerate(played)]
    assert browser.execute_script("return told") == [f"bar {n}" for n in (1, 2, 3, 4, 1, 2, 3)]


def test_a_note_shows_where_it_comes_from(browser: Any, tmp_path: Path) -> None:
    sketch = document("Tune: C5:q D5 E5:h\nBass: @bass C3:w")
    score = document("Clarinet in B♭ (-1 -2 0): D5:q E5 F#5:h\nCello: @bass C3:w")
    path = tmp_path / "above.html"
    path.write_bytes(rendered(proof_of(score, [], sketch=sketch), ".html"))
    show(browser, path)
    until(browser, "return document.querySelector('#page-0 svg')")
    browser.execute_script(
        "document.querySelector('[id=\"n2-0-0-1-0\"] use').dispatchEvent("
        "new MouseEvent('click', {bubbles: true}))"
    )
    until(browser, "return document.querySelectorAll('.note.from').length === 2")
    ids = "return [...document.querySelectorAll('.note.from')].map(note => note.id).sort()"
    assert browser.execute_script(ids) == ["n0-0-0-1-0", "n2-0-0-1-0"]


def test_everything_that_acts_has_a_name_and_is_reached_by_the_keyboard(page: Any) -> None:
    until(page, "return document.querySelector('#page-0 svg')")
    nameless = page.execute_script(
        "return [...document.querySelectorAll('button, input, select, a, summary, section')]"
        ".filter(e => !(e.textContent.trim() || e.getAttribute('aria-label') || e.labels?.length"
        " || e.id && document.querySelector(`label[for='${e.id}']`))).map(e => e.outerHTML)"
    )
    assert nameless == []
    page.execute_script("document.activeElement.blur(); scrollTo(0, 0)")
    body = page.find_element("css selector", "body")
    reached = []
    for _ in range(14):
        page.switch_to.active_element.send_keys("\t")
        reached.append(page.execute_script("return document.activeElement.id || ''"))
    assert body and {"bar", "player", "smaller", "larger", "play", "pace"} <= set(reached)


@pytest.mark.parametrize("width", [1300, 420])
def test_nothing_is_wider_than_the_window(page: Any, width: int) -> None:
    page.set_window_size(width, 900)
    until(page, "return document.querySelector('#page-0 svg')")
    wide = page.execute_script("return document.documentElement.scrollWidth - innerWidth")
    page.set_window_size(1300, 900)
    assert wide <= 0
