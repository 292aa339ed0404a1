"""The proof laid out: one self-contained page for a browser, or a PDF."""

from __future__ import annotations

import base64
import gzip
import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from expander import paper
from expander.errors import BadUsage
from expander.model.finding import Finding, Severity
from expander.proof.gather import Proof
from expander.proof.marking import margin, page_size
from expander.report import CAUTION

_ROOM = "proof"
_BAR = re.compile(r'id="m(\d+)" class="measure')
SYNTH = "webaudio-tinysynth.min.js"


def ending_of(path: Path) -> str:
    """The ending of a proof's file name. Raises BadUsage for one that is not in `FORMATS`."""
    ending = path.suffix.lower()
    if ending not in FORMATS:
        known = " or ".join(FORMATS)
        raise BadUsage(f"a proof cannot be written as '{path.name}'.", hint=f"Expected {known}.")
    return ending


def rendered(proof: Proof, ending: str) -> bytes:
    """The proof as a file with that ending, one of `FORMATS`."""
    return FORMATS[ending](proof)


def as_html(proof: Proof, live: str = "") -> bytes:
    """One page that opens from disk; with `live` it listens at that address for a newer one."""
    values = {
        **_common(proof),
        "live": live,
        "style": paper.page_file(_ROOM, "proof.css"),
        "script": paper.page_file(_ROOM, "proof.js"),
        "synth": (Path(__file__).parent / "synth" / SYNTH).read_text(encoding="utf-8"),
        "data": _inline(_data(proof)),
        "sound": packed(json.dumps(list(proof.sounds), separators=(",", ":"))),
        "origins": packed(json.dumps(proof.origins, separators=(",", ":"), sort_keys=True)),
        "above": proof.above,
    }
    return paper.html(_ROOM, "proof.html", values).encode()


def _as_html(proof: Proof) -> bytes:
    return as_html(proof)


def as_pdf(proof: Proof) -> bytes:
    """Pages with signs, then the list; signs and list are linked both ways."""
    pages = [
        {"svg": _for_print(page), "ratio": _ratio(page), "signs": _signs(proof, index)}
        for index, page in enumerate(proof.marked.pages)
    ]
    return paper.pdf(_ROOM, "proof.typ", {**_common(proof), "pages": pages})


FORMATS: Mapping[str, Callable[[Proof], bytes]] = {".html": _as_html, ".pdf": as_pdf}
"""What a proof can be written as, by the ending of the file's name."""


# Values --------------------------------------------------------------------------------------


def _common(proof: Proof) -> dict[str, Any]:
    counts = {s: sum(f.severity == s for f in proof.findings) for s in Severity}
    checks = sorted({f.check for f in proof.findings})
    return {
        "title": proof.title,
        "caution": CAUTION,
        "remarks": list(proof.remarks),
        "findings": [_finding(i, f, proof) for i, f in enumerate(proof.findings)],
        "severities": [{"name": s.value, "count": counts[s]} for s in Severity],
        "checks": [{"name": c, "count": sum(f.check == c for f in proof.findings)} for c in checks],
        "pages": [_page(page, i, proof) for i, page in enumerate(proof.marked.pages)],
        "marks": [{"bar": bar, "name": name} for bar, name in proof.marks],
        "staves": [{"number": i, "name": name} for i, name in enumerate(proof.staves, start=1)],
        "players": [one["name"] for one in proof.sounds],
        "first": proof.score.bars[0].number if proof.score.bars else "",
    }


def _finding(number: int, finding: Finding, proof: Proof) -> dict[str, Any]:
    spot = proof.marked.spots.get(number)
    beat = f" beat {finding.beat:g}" if finding.beat is not None else ""
    return {
        "number": number,
        "severity": finding.severity.value,
        "check": finding.check,
        "part": finding.part or "the score",
        "where": f"bar {finding.bar}{beat}" if finding.bar else "",
        "message": finding.message,
        "pitch": finding.pitch,
        "source": finding.source,
        "page": spot.page if spot else 0,
        "bar": finding.index,
        "shown": spot is not None,
    }


def _page(page: str, index: int, proof: Proof) -> dict[str, Any]:
    bars = [int(number) for number in _BAR.findall(page)]
    labels = [proof.score.bars[bar].number for bar in (bars[:1] + bars[-1:])]
    return {
        "number": index,
        "bars": "–".join(dict.fromkeys(labels)),
        "first": bars[0] if bars else 0,
        "ratio": _ratio(page),
        "packed": packed(page),
    }


def _data(proof: Proof) -> dict[str, Any]:
    """What the page's program needs of bars, pages and places."""
    return {
        "bars": [bar.number for bar in proof.score.bars],
        "firsts": [
            min((int(n) for n in _BAR.findall(page)), default=0) for page in proof.marked.pages
        ],
        "times": list(proof.times),
        "runs": [list(run) for run in proof.runs],
        "findings": [
            [spot.page if (spot := proof.marked.spots.get(i)) else -1, f.index]
            for i, f in enumerate(proof.findings)
        ],
        "above": proof.above,
    }


def packed(text: str) -> str:
    """A text packed small for the page (gzip, base64); the same text gives the same letters."""
    return base64.b64encode(gzip.compress(text.encode(), 6, mtime=0)).decode()


def _inline(data: object) -> str:
    """Data inside a script element: no tag can end it early."""
    return json.dumps(data, separators=(",", ":")).replace("<", "\\u003c")


def _ratio(page: str) -> float:
    width, height = page_size(page)
    return round(height / width, 4)


# Print ---------------------------------------------------------------------------------------


def _for_print(page: str) -> str:
    """The page with letters that the typesetter has, its signs coloured without a style sheet."""
    page = page.replace('font-family="Times, serif"', 'font-family="Libertinus Serif"')
    for severity, (fill, ink, text) in _INKS.items():
        look = f'fill="{fill}" stroke="{ink}" stroke-width="45"'
        sign = re.compile(rf'class="sign {severity}"(.*?)<text ', re.DOTALL)
        page = sign.sub(rf'{look}\1<text fill="{text}" stroke="none" font-weight="bold" ', page)
    return page


_INKS = {
    "error": ("#a3123a", "#a3123a", "#fff"),
    "warning": ("#8a5a00", "#8a5a00", "#fff"),
    "note": ("#fff", "#222", "#222"),
}


def _signs(proof: Proof, index: int) -> list[dict[str, Any]]:
    """The signs of a page: number, and place as shares of its width and height."""
    page = proof.marked.pages[index]
    width, height = page_size(page)
    left, top = margin(page)
    return [
        {"number": n, "x": (spot.x + left) / width, "y": (spot.y + top) / height}
        for n, spot in proof.marked.spots.items()
        if spot.page == index
    ]
