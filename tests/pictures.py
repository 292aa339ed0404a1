"""Makes the pictures of the README anew: `python -m tests.pictures` (needs Chromium and Pillow)."""

from __future__ import annotations

import io
import tempfile
import time
from pathlib import Path
from typing import Any

from expander.model.finding import Severity
from expander.model.score import Document
from expander.musicxml import read
from expander.outline import outline_of_plan, rendered
from expander.pipeline import expand_file
from expander.proof import proof_of
from expander.proof import rendered as proof_rendered
from expander.proof.engraving import pages_of
from tests.chromium import chromium, show, until

SAMPLES = Path(__file__).parent.parent / "samples"
SKETCH = SAMPLES / "paper-harbour.musicxml"
RULES = SAMPLES / "paper-harbour-jazz-orchestra.yaml"

BOTH = """<!doctype html><meta charset="utf-8"><style>
body {{ margin: 0; background: #e9e4da; display: flex; gap: 18px; padding: 18px; width: 1640px;
  box-sizing: border-box; align-items: flex-start; }}
div {{ background: #fff; box-shadow: 0 1px 6px #0004; }}
.sketch {{ width: 800px; }} .sketch svg, .score svg {{ display: block; width: 100%; }}
.score {{ width: 786px; }}
</style><body><div class="sketch">{sketch}</div><div class="score">{score}</div>"""


def svg(page: str) -> str:
    """The bare svg element of a page."""
    return page[page.index("<svg") :]


def both(sketch: Document, score: Document) -> str:
    """The sketch's first page beside a page of the score."""
    left = svg(next(pages_of(sketch))).replace("page-1", "sketch-1")
    right = next(svg(page) for page in pages_of(score) if 'id="m42" class="measure' in page)
    return BOTH.format(sketch=left, score=right)


def photograph(browser: Any, target: Path) -> None:
    """The window as a PNG."""
    from PIL import Image

    picture = Image.open(io.BytesIO(browser.get_screenshot_as_png())).convert("RGB")
    picture.save(target, optimize=True)
    print(target, picture.size, target.stat().st_size // 1024, "kB")


def main() -> None:
    """All pictures."""
    sketch = read(SKETCH)
    done = expand_file(sketch, RULES)
    with tempfile.TemporaryDirectory() as folder, chromium(1640, 1560) as browser:
        page = Path(folder) / "page.html"
        page.write_text(both(sketch, done.score), encoding="utf-8")
        browser.get(page.as_uri())
        chrome = browser.execute_script("return outerHeight - innerHeight")
        high = browser.execute_script("return document.body.offsetHeight")
        browser.set_window_size(1640, high + chrome)
        photograph(browser, SAMPLES / "paper-harbour.png")

        browser.set_window_size(1400, 1560)
        page.write_bytes(rendered(outline_of_plan(sketch, done), ".html"))
        browser.get(page.as_uri())
        photograph(browser, SAMPLES / "paper-harbour-outline.png")

        browser.set_window_size(1400, 950)
        proof = proof_of(done.score, done.findings, sketch=sketch, ensemble=done.ensemble)
        page.write_bytes(proof_rendered(proof, ".html"))
        show(browser, page)
        until(browser, "return document.querySelector('#page-0 svg')")
        worst = min(range(len(proof.findings)), key=lambda i: list(Severity).index(
            proof.findings[i].severity))  # fmt: skip
        browser.find_element("css selector", f"#finding-{worst} a").click()
        until(browser, "return document.activeElement.classList.contains('sign')")
        time.sleep(1)  # the page glides there
        photograph(browser, SAMPLES / "paper-harbour-proof.png")


if __name__ == "__main__":
    main()
