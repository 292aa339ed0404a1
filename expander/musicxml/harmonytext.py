"""Writing chord symbols.

A symbol that still says what its mark says is written as the document had it; one that was
transposed or built is written from its content, with the look its mark gives it.
"""

from __future__ import annotations

from lxml import etree

from expander.model.pitch import LETTERS, Written
from expander.model.score import Attributes, Degree, Harmony, Mark
from expander.musicxml.directions import chord_elements, harmony_of
from expander.musicxml.text import element, leaf, quoted
from expander.musicxml.tree import items_of

_KEPT_WITH_NEW_CHORD = frozenset({"footnote", "level"})
_LOOKS = ["root", "bass", "kind", "inversion", "degree"]


def harmony_text(harmony: Harmony[Written]) -> str:
    """A chord symbol as a `<harmony>` element."""
    mark = harmony.mark
    staff = f"<staff>{harmony.staff}</staff>" if harmony.staff else ""
    inner = mark.inner if mark.inner and _content(harmony) == _said(mark) else _new(harmony)
    return element("harmony", mark.attributes, inner=inner + staff) + "\n"


Content = tuple[object, ...]


def _content(harmony: Harmony[Written]) -> Content:
    return (
        harmony.root,
        harmony.kind,
        harmony.text,
        harmony.inversion,
        harmony.bass,
        harmony.degrees,
    )


def _said(mark: Mark) -> Content:
    """What a mark's own elements say."""
    return _content(harmony_of(mark, 0, 0))


def _new(harmony: Harmony[Written]) -> str:
    looks = _look_of(harmony.mark)
    return "".join(
        [
            _root(harmony, looks),
            element("kind", _kind_attributes(harmony, looks), harmony.kind or "none"),
            leaf("inversion", str(harmony.inversion) if harmony.inversion else ""),
            _named("bass", harmony.bass) if harmony.bass is not None else "",
            *[_degree(d) for d in harmony.degrees],
        ]
    )


def _look_of(mark: Mark) -> dict[str, Attributes]:
    if not mark.inner:
        return {}
    return {c.tag: tuple(items_of(c)) for c in chord_elements(mark) if c.tag in _LOOKS}


def _root(harmony: Harmony[Written], looks: dict[str, Attributes]) -> str:
    if harmony.root is not None:
        return _named("root", harmony.root)
    if not harmony.mark.inner:
        return '<root><root-step text="">C</root-step></root>'
    first = chord_elements(harmony.mark)[0]
    return etree.tostring(first, encoding="unicode", with_tail=False).replace(
        ' xmlns:xlink="http://www.w3.org/1999/xlink"', ""
    )


def _kind_attributes(harmony: Harmony[Written], looks: dict[str, Attributes]) -> Attributes:
    kept = tuple(a for a in looks.get("kind", ()) if a[0] != "text")
    text = harmony.text or ("N.C." if harmony.kind in ("", "none") else "")
    return (("text", text), *kept) if text else kept


def _named(which: str, name: tuple[int, int]) -> str:
    step, alter = name
    moved = f"<{which}-alter>{alter}</{which}-alter>" if alter else ""
    return f"<{which}><{which}-step>{LETTERS[step]}</{which}-step>{moved}</{which}>"


def _degree(degree: Degree) -> str:
    return (
        f"<degree><degree-value>{degree.value}</degree-value>"
        f"<degree-alter>{degree.alter}</degree-alter>"
        f"<degree-type>{quoted(degree.kind)}</degree-type></degree>"
    )
