"""The outline in a real browser, opened from disk with the network off."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from expander.musicxml import read
from expander.outline import outline_of_plan, rendered
from expander.pipeline import expand_file
from tests.chromium import asked_for, chromium, errors, until

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    done = expand_file(sketch, SAMPLES / "paper-harbour-septet.yaml")
    path = tmp_path_factory.mktemp("outline") / "outline.html"
    path.write_bytes(rendered(outline_of_plan(sketch, done), ".html"))
    return path


@pytest.mark.parametrize("width", [1400, 420])
def test_it_loads_from_disk_and_fits_the_window(browser: Any, file: Path, width: int) -> None:
    asked_for(browser)
    browser.set_window_size(width, 900)
    browser.get(file.as_uri())
    until(browser, "return document.readyState === 'complete'")
    assert asked_for(browser) == {file.as_uri()}
    assert errors(browser) == []
    wide = browser.execute_script("return document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0


def test_every_table_and_section_has_a_name(browser: Any, file: Path) -> None:
    browser.get(file.as_uri())
    nameless = browser.execute_script(
        "return [...document.querySelectorAll('table:not(.stretches), section, [role=img]')]"
        ".filter(e => !(e.caption || e.hasAttribute('aria-label')"
        " || e.hasAttribute('aria-labelledby'))).length"
    )
    assert nameless == 0
    assert browser.execute_script("return document.querySelectorAll('h3').length") == 11
