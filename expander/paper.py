"""The one door to the template engine (HTML), the typesetter (PDF, SVG) and the engraver of music.

The same values give the same bytes: no date, and no fonts but those that the libraries bring.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from expander.errors import BadUsage
from expander.model.score import Document
from expander.musicxml import to_bytes
from expander.notate.engraver import for_verovio

if TYPE_CHECKING:
    from jinja2 import Environment

EXTRA = "In the program's folder: pip install '.[pages]'."


def html(room: str, template: str, values: Mapping[str, Any]) -> str:
    """A page from a template of a room's `pages` folder; what is filled in is escaped."""
    return _environment(room).get_template(template).render(**values)


@cache
def _environment(room: str) -> Environment:
    try:
        from jinja2 import Environment, FunctionLoader, StrictUndefined
    except ImportError as error:
        raise missing("jinja2") from error
    return Environment(
        loader=FunctionLoader(lambda name: page_file(room, name)),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page_file(room: str, name: str) -> str:
    """The text of a file in a room's `pages` folder."""
    return (Path(__file__).parent / room / "pages" / name).read_text(encoding="utf-8")


def pdf(room: str, template: str, values: Mapping[str, Any]) -> bytes:
    """A PDF from a typesetter's template, which finds the values as `sys.inputs.values`."""
    return b"".join(_typeset(room, template, values, "pdf"))


def svg_pages(room: str, template: str, values: Mapping[str, Any]) -> list[str]:
    """The same as SVG, page by page."""
    return [page.decode() for page in _typeset(room, template, values, "svg")]


def _typeset(
    room: str, template: str, values: Mapping[str, Any], format_: Literal["pdf", "svg"]
) -> list[bytes]:
    try:
        import typst
    except ImportError as error:
        raise missing("typst") from error
    made = typst.compile(
        page_file(room, template).encode(),
        format=format_,
        sys_inputs={"values": json.dumps(values, ensure_ascii=False, sort_keys=True)},
        font_paths=typst.Fonts(include_system_fonts=False, font_paths=_fonts()),
        timestamp=0,
    )
    pages: list[bytes] = made if isinstance(made, list) else [made]
    return pages


@cache
def _fonts() -> list[str]:
    """The folder of the plotting library's own letters, so that picture and text are alike."""
    try:
        import matplotlib
    except ImportError as error:
        raise missing("matplotlib") from error
    return [f"{matplotlib.get_data_path()}/fonts/ttf"]


def engraver(verovio: Any) -> Any:  # noqa: ANN401 - Verovio has no types
    """A quiet engraver that works in the thread in which it is made.

    Verovio keeps the folder of its figures thread by thread (rism-digital/verovio, issue 2343), and
    importing it sets that of the first thread only; in others it would load no music.
    """
    verovio.enableLog(verovio.LOG_OFF)
    verovio.setDefaultResourcePath(figures_of(verovio))
    return verovio.toolkit()


def figures_of(verovio: Any) -> str:  # noqa: ANN401 - Verovio has no types
    """The folder where Verovio keeps its fonts' figures."""
    return str(Path(verovio.__file__).parent / "data")


def music(score: Document) -> str:
    """A score as the engraver is to read it: drawn, it is the score.

    Verovio also prints of a chord symbol what is not to be printed.
    """
    return _UNPRINTED.sub("", to_bytes(for_verovio(score)).decode())


_UNPRINTED = re.compile(r'<degree print-object="no">.*?</degree>')


def missing(library: str) -> BadUsage:
    """The error for a library of the optional set that is not installed."""
    return BadUsage(f"{library}, which makes such pages, is not installed.", hint=EXTRA)
