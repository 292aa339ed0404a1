"""Pages from the engraver, each note, staff and bar under a name of ours, and a check of them.

The engraver's reader of MusicXML takes a change of key from the first staff for all staves. So its
own MEI text is taken back, its key changes are removed, and each staff's key stands before the bar
where the score has it. What it drew is then compared with the score: heads and signatures.

Conventions
    A head's name is `n<part>-<bar>-<layer>-<event>-<head>`, a bar's `m<bar>`; all are indices
    from 0. Staves are numbered from 1 down the whole score.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from expander import paper
from expander.errors import BadUsage
from expander.model.pitch import Written
from expander.model.score import Document, Event, Key, Part, PartBar

SEED = 1
"""The engraver's own names are drawn from this, so that the same score gives the same page."""

WIDTH = 2970
STAFF_ROOM = 215
LEAST_HEIGHT = 4200
"""Page size in tenths of a millimetre: A3, or higher where a system of all staves needs it."""

_OPTIONS: dict[str, Any] = {
    "adjustPageHeight": True,
    "breaks": "auto",
    "expandNever": True,
    "footer": "none",
    "header": "auto",
    "pageMarginBottom": 60,
    "pageMarginTop": 60,
    "pageMarginLeft": 60,
    "pageMarginRight": 60,
    "scale": 40,
    "smuflTextFont": "none",
    "svgAdditionalAttribute": ["staff@n", "measure@n", "keySig@sig"],
    "svgViewBox": True,
    "xmlIdSeed": SEED,
}

_KEY_CHANGE = re.compile(
    r'<scoreDef xml:id="[^"]*">\s*((?:<(?!/scoreDef|staffGrp|scoreDef).*?)?)</scoreDef>', re.DOTALL
)
_KEY = re.compile(r"<keySig\b[^>]*?(?:/>|>.*?</keySig>)\s*", re.DOTALL)


class Engraved(Struct, frozen=True):
    """Engraved pages as SVG, and in words where they do not say what the score says."""

    pages: tuple[str, ...]
    remarks: tuple[str, ...] = ()


def engrave(score: Document) -> Engraved:
    """All pages of a score. Raises BadUsage where the engraver is missing or refuses it."""
    pages = tuple(pages_of(score))
    return Engraved(pages, tuple(differences(score, pages)))


def pages_of(score: Document) -> Iterator[str]:
    """The pages one after the other, as they are engraved."""
    try:
        import verovio
    except ImportError as error:
        raise paper.missing("verovio") from error
    toolkit = paper.engraver(verovio)
    staves = sum(part.staves for part in score.parts)
    height = max(LEAST_HEIGHT, STAFF_ROOM * staves + 600)
    text = paper.music(named(score))
    if not keys_agree(score):
        toolkit.setOptions({**_OPTIONS, "breaks": "none"})
        _load(toolkit, text)
        text = with_keys(toolkit.getMEI(), score)
    toolkit.setOptions({**_OPTIONS, "pageWidth": WIDTH, "pageHeight": height})
    _load(toolkit, text)
    for number in range(1, toolkit.getPageCount() + 1):
        yield _own(_plain_signs(toolkit.renderToSVG(number)), number)


def _load(toolkit: Any, text: str) -> None:  # noqa: ANN401 - Verovio has no types
    if not toolkit.loadData(text):
        raise BadUsage(
            "the score could not be engraved for the proof.",
            hint="Leave out the proof and report this; check tells the findings without pages.",
        )


_ROOT = re.compile(r'<svg [^>]*\bid="([^"]+)"')


def _own(page: str, number: int) -> str:
    """The page with a name of its own, and its music hidden from screen readers.

    The engraver gives all pages one name, which their letters and styles are hung upon.
    """
    root = _ROOT.search(page)
    if root:
        page = page.replace(root[1], f"page-{number}-svg")
    return page.replace('<g class="page-margin"', '<g aria-hidden="true" class="page-margin"', 1)


_SIGN = re.compile(r'<tspan font-family="Leipzig" font-size="(\d+)px">(.)</tspan>')
_SIGNS = {
    "\ueaa4": "♭", "\ueaa6": "♮", "\ueaa5": "♮", "\uea65": "♮", "\uea64": "♭", "\uea66": "♯",
    "\ueca2": "𝅝", "\ueca3": "𝅗𝅥", "\ueca5": "♩", "\ueca7": "♪", "\ueca9": "𝅘𝅥𝅯", "\uecb7": ".",
}  # fmt: skip
"""Signs in text, from the code points of music letters (SMuFL) to those that any letters have."""


def _plain_signs(page: str) -> str:
    """The page with flats, sharps and note values in text as ordinary letters."""
    return _SIGN.sub(_plain_sign, page)


def _plain_sign(found: re.Match[str]) -> str:
    size = int(found[1]) * 9 // 16
    return f'<tspan font-size="{size}px">{_SIGNS.get(found[2], found[2])}</tspan>'


# Names ---------------------------------------------------------------------------------------


def head_name(part: int, bar: int, layer: int, event: int, head: int) -> str:
    """The name of a head on the page."""
    return f"n{part}-{bar}-{layer}-{event}-{head}"


def named(score: Document) -> Document:
    """The score with a name on every head and bar, and rehearsal marks over the top staff only.

    The engraver draws those of other staves at the top as well, over the first ones.
    """
    return replace(score, parts=tuple(_part(i, part) for i, part in enumerate(score.parts)))


def _part(index: int, part: Part[Written]) -> Part[Written]:
    bars = tuple(_bar(index, number, bar) for number, bar in enumerate(part.bars))
    return replace(part, bars=bars)


def _bar(part: int, number: int, bar: PartBar[Written]) -> PartBar[Written]:
    layers = tuple(
        tuple(_event(f"{part}-{number}-{i}-{j}", event) for j, event in enumerate(layer))
        for i, layer in enumerate(bar.layers)
    )
    own = tuple((k, v) for k, v in bar.attributes if k != "id")
    if part == 0:
        return replace(bar, layers=layers, attributes=(*own, ("id", f"m{number}")))
    unmarked = tuple(d for d in bar.directions if d.first("rehearsal") is None)
    return replace(bar, layers=layers, directions=unmarked, attributes=own)


def _event(name: str, event: Event[Written]) -> Event[Written]:
    notes = tuple(
        replace(note, attributes=_with_id(note.attributes, f"n{name}-{i}"))
        for i, note in enumerate(event.notes)
    )
    return replace(event, notes=notes, attributes=_without_id(event.attributes))


def _with_id(attributes: Sequence[tuple[str, str]], name: str) -> tuple[tuple[str, str], ...]:
    return (*_without_id(attributes), ("id", name))


def _without_id(attributes: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple((k, v) for k, v in attributes if k != "id")


# Keys ----------------------------------------------------------------------------------------


def key_changes(score: Document) -> dict[int, dict[int, Key]]:
    """The keys that begin in each bar after the first, by staff of the score.

    A change inside a bar is told at the next barline.
    """
    found: dict[int, dict[int, Key]] = {}
    first = 1
    for part in score.parts:
        for index, bar in enumerate(part.bars):
            for change in bar.changes:
                at = index if change.at == 0 else index + 1
                if isinstance(change.what, Key) and 0 < at < len(part.bars):
                    staves = [change.staff] if change.staff else range(1, part.staves + 1)
                    found.setdefault(at, {}).update((first + s - 1, change.what) for s in staves)
        first += part.staves
    return found


def keys_agree(score: Document) -> bool:
    """True where every staff changes to the same keys in the same bars, as the engraver has it."""
    staves = sum(part.staves for part in score.parts)
    return all(
        len(keys) == staves and len({signature(key) for key in keys.values()}) == 1
        for keys in key_changes(score).values()
    )


def with_keys(mei: str, score: Document) -> str:
    """The engraver's text with each staff's own key changes."""
    start = mei.index("<section")
    head, body = mei[:start], _KEY_CHANGE.sub(_without_key, mei[start:])
    for bar, keys in key_changes(score).items():
        staves = "".join(_staff_key(staff, key) for staff, key in sorted(keys.items()))
        change = f"<scoreDef><staffGrp>{staves}</staffGrp></scoreDef>"
        body = body.replace(f'<measure xml:id="m{bar}"', f'{change}<measure xml:id="m{bar}"', 1)
    return head + body


def _without_key(found: re.Match[str]) -> str:
    rest = _KEY.sub("", found[1])
    return f"<scoreDef>{rest}</scoreDef>" if rest.strip() else ""


def _staff_key(staff: int, key: Key) -> str:
    return f'<staffDef n="{staff}"><keySig sig="{signature(key)}"/></staffDef>'


def signature(key: Key) -> str:
    """A key as the engraver names it: "2s", "3f", "0"."""
    return f"{abs(key.fifths)}{'s' if key.fifths > 0 else 'f'}" if key.fifths else "0"


# The check -----------------------------------------------------------------------------------

_HEAD_ID = re.compile(r'id="(n\d+-\d+-\d+-\d+-\d+)"')
_DRAWN = re.compile(
    r'<g id="m(\d+)" class="measure"|class="staff[^"]*" data-n="(\d+)"'
    r'|class="keySig[^"]*"(?: data-sig="([^"]*)")?'
)


def differences(score: Document, pages: Sequence[str]) -> Iterator[str]:
    """What the pages do not show as the score has it, in words."""
    drawn = {name for page in pages for name in _HEAD_ID.findall(page)}
    missing = [name for name in head_names(score) if name not in drawn]
    if missing:
        part, bar = (int(n) for n in missing[0][1:].split("-")[:2])
        where = f"{score.parts[part].name or score.parts[part].id}, bar {score.bars[bar].number}"
        yield f"{len(missing)} notes are not on the engraved pages; the first is in {where}."
    wrong = [place for place in signatures(pages) if not _as_written(score, *place)]
    if wrong:
        bar, staff, _ = wrong[0]
        yield (
            f"{len(wrong)} key signatures are engraved wrongly; the first is on staff {staff} in "
            f"bar {score.bars[bar].number}."
        )


def head_names(score: Document) -> Iterator[str]:
    """The names of all heads that are to be seen."""
    for p, part in enumerate(score.parts):
        for b, bar in enumerate(part.bars):
            for i, layer in enumerate(bar.layers):
                for j, event in enumerate(layer):
                    yield from _seen(f"n{p}-{b}-{i}-{j}", event)


def _seen(name: str, event: Event[Written]) -> Iterator[str]:
    unseen = ("print-object", "no")
    for k, note in enumerate(event.notes):
        if unseen not in note.attributes and unseen not in event.attributes:
            yield f"{name}-{k}"


def signatures(pages: Sequence[str]) -> Iterator[tuple[int, int, str]]:
    """Every key signature drawn: bar, staff, signature."""
    bar = staff = 0
    for page in pages:
        for found in _DRAWN.finditer(page):
            if found[1]:
                bar = int(found[1])
            elif found[2]:
                staff = int(found[2])
            elif found[3]:
                yield bar, staff, found[3]


def _as_written(score: Document, bar: int, staff: int, drawn: str) -> bool:
    return drawn in keys_near(score, bar, staff)


def keys_near(score: Document, bar: int, staff: int) -> set[str]:
    """The signatures that may stand on a staff in a bar: its own, or the warning at its end."""
    return {_key_at(score, bar, staff), _key_at(score, bar + 1, staff)}


def _key_at(score: Document, bar: int, staff: int) -> str:
    for part in score.parts:
        if staff <= part.staves:
            return _last_key(part, bar, staff)
        staff -= part.staves
    return "0"


def _last_key(part: Part[Written], bar: int, staff: int) -> str:
    key = Key()
    for index, content in enumerate(part.bars[: bar + 1]):
        for change in content.changes:
            here = change.at == 0 or index < bar
            if isinstance(change.what, Key) and change.staff in (0, staff) and here:
                key = change.what
    return signature(key)
