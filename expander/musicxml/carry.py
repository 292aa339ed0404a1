"""Elements carried through as marks, cut to what the MusicXML 4.0 schema allows.

What is left out: positions on the page (they belong to the old layout), ids (copies would
clash) and whatever the schema does not know; the last is reported.
"""

from __future__ import annotations

from collections.abc import Callable

from expander.model.score import Attributes, Mark
from expander.musicxml.grammar import Kind, allows, content_pattern, fitting, kind
from expander.musicxml.oddities import Oddities
from expander.musicxml.text import element
from expander.musicxml.tree import Element, Items, items_of, line_of

LAYOUT = frozenset(
    {
        *("default-x", "default-y", "relative-x", "relative-y", "bezier-x", "bezier-y"),
        *("bezier-x2", "bezier-y2", "bezier-offset", "bezier-offset2"),
    }
)
_LEFT_OUT = LAYOUT | {"id"}
_NAMING = frozenset({"id"})
_REFERRING_TAGS = frozenset(
    {"instrument", "instrument-change", "midi-device", "midi-instrument", "play"}
)
_PREFIXES = {
    "{http://www.w3.org/XML/1998/namespace}": "xml:",
    "{http://www.w3.org/1999/xlink}": "xlink:",
}
_REFERRING = frozenset({"IDREF"})


def ending_numbers(value: str) -> str | None:
    """An ending's number with what is no number of a pass left out: "0, 1, 5" gives "1, 5"."""
    numbers = [n.strip() for n in value.replace(";", ",").split(",")]
    passes = [n.lstrip("0") for n in numbers if n.isascii() and n.isdigit() and n.strip("0")]
    return ", ".join(passes) or None


_REPAIRS: dict[tuple[str, str], Callable[[str], str | None]] = {
    ("ending", "number"): ending_numbers,
}
_OLD_NAMES = {("accidental", "double-flat"): "flat-flat"}
"""Texts that programs write for one that the schema has."""
_STAND_INS = {"kind": "other", "degree-alter": "0"}
"""What a text is read as that makes no sense where the element cannot do without."""


class Carrier:
    """Makes marks from elements.

    `instruments` maps the file's instrument ids to ours. While `page` is set, positions are kept
    (title pages and page set-up are nothing without them).
    """

    def __init__(self, oddities: Oddities) -> None:
        self.oddities = oddities
        self.instruments: dict[str, str] = {}
        self.page = False
        self._attributes: dict[tuple[object, ...], Attributes | None] = {}
        self._plain: dict[tuple[str, str, Attributes, str | None], Mark] = {}

    def forget(self) -> None:
        """Forgets what was looked at, so that what is odd is told again."""
        self._attributes.clear()
        self._plain.clear()

    def mark(self, el: Element, group: str) -> Mark | None:
        """The element as a mark of `group`; None (reported) where nothing valid is left."""
        if len(el) and self._may_hold(el):
            return self._mark_with_children(el, group) if self._may_stand(el, group) else None
        attributes = self.attributes(el)
        if attributes is None:
            return None
        key = (group, el.tag, attributes, el.text)
        found = self._plain.get(key)
        if found is None:
            found = self._childless(el, group, attributes)
            if found is not None:
                self._plain[key] = found
        return found

    def _may_stand(self, el: Element, group: str) -> bool:
        if allows(group, el.tag):
            return True
        self._say(f"<{el.tag}> has no place in MusicXML's {group} and was left out", el)
        return False

    def _may_hold(self, el: Element) -> bool:
        """True where the element may have children; says so where it may not."""
        known = kind(el.tag)
        if known is None or known.content is not None:
            return True
        self._say(f"<{el.tag}> holds elements, which it may not; they were left out", el)
        return False

    def _childless(self, el: Element, group: str, attributes: Attributes) -> Mark | None:
        if not self._may_stand(el, group):
            return None
        text = self._text(el)
        return None if text is None else Mark(group, el.tag, attributes, text)

    def _mark_with_children(self, el: Element, group: str) -> Mark | None:
        attributes, inner = self.attributes(el), self.inner(el)
        if attributes is None or inner is None:
            return None
        return Mark(group, el.tag, attributes, inner=inner)

    def attributes(self, el: Element) -> Attributes | None:
        """Its attributes, cut to the schema; None where one it must have is missing."""
        items = items_of(el)
        tag = el.tag
        if items:
            dropped = self._dropped(tag)
            items = [item for item in items if item[0] not in dropped]
        key = (tag, *items)
        try:
            return self._attributes[key]
        except KeyError:
            found = self._attributes[key] = self._checked(el, items)
            return found

    def _dropped(self, tag: str) -> frozenset[str]:
        if self.page:
            return _NAMING
        return LAYOUT if tag in _REFERRING_TAGS else _LEFT_OUT

    def _checked(self, el: Element, items: Items) -> Attributes | None:
        known = kind(el.tag)
        if known is None:
            self._say(f"<{el.tag}> is not known to MusicXML 4.0 and was left out", el)
            return None
        kept = [
            (name, fit) for name, value in items for name, fit in self._fit(el, known, name, value)
        ]
        names = {name for name, _ in kept}
        missing = [name for name in known.required if name not in names]
        if missing:
            self._say(f"<{el.tag}> without a usable {missing[0]} was left out", el)
            return None
        return tuple(kept)

    def _fit(self, el: Element, known: Kind, name: str, value: str) -> list[tuple[str, str]]:
        name = _prefixed(name)
        value_type = known.attributes.get(name)
        if value_type is None:
            self._say(
                f"attribute {name} of <{el.tag}> is not known to MusicXML 4.0 and was left out", el
            )
            return []
        if value_type in _REFERRING:
            value = self.instruments.get(value, "")
        fit = fitting(value_type, value)
        if fit is None:
            fit = self._repaired(el, name, value)
        return [] if fit is None else [(name, fit)]

    def _repaired(self, el: Element, name: str, value: str) -> str | None:
        repair = _REPAIRS.get((el.tag, name))
        fit = repair(value) if repair else None
        outcome = f"read as {fit!r}" if fit else "left out"
        self._say(f"{name}={value!r} of <{el.tag}> is not allowed in MusicXML, {outcome}", el)
        return fit

    def _text(self, el: Element) -> str | None:
        known = kind(el.tag)
        if known is None:
            return None
        if known.content is not None and not content_pattern(known.content).fullmatch(""):
            self._say(f"<{el.tag}> has nothing in it and was left out", el)
            return None
        if known.text is None:
            return ""
        said = el.text or ""
        fit = fitting(known.text, _OLD_NAMES.get((el.tag, said.strip()), said))
        if fit is None:
            fit = _STAND_INS.get(el.tag)
            outcome = f"read as {fit!r}" if fit else "left out"
            self._say(f"<{el.tag}> does not allow {said.strip()!r}, {outcome}", el)
        return fit

    def inner(self, el: Element, without: frozenset[str] = frozenset()) -> str | None:
        """Its children as XML, cut to the schema; None where no valid content is left."""
        known = kind(el.tag)
        if known is None:
            self._say(f"<{el.tag}> is not known to MusicXML 4.0 and was left out", el)
            return None
        children = [c for c in el if c.tag not in without]
        texts = [(c.tag, self.xml(c)) for c in children]
        kept = [(tag, text) for tag, text in texts if text is not None]
        chosen = settled(known, kept)
        if chosen is None:
            self._say(f"<{el.tag}> lacks what MusicXML asks for in it and was left out", el)
            return None
        if len(chosen) < len(kept):
            self._say(f"<{el.tag}> holds more than MusicXML allows; some was left out", el)
        return "".join([text for _, text in chosen])

    def xml(self, el: Element) -> str | None:
        """The element with all it holds as XML, cut to the schema."""
        attributes = self.attributes(el)
        if attributes is None:
            return None
        if not len(el) or not self._may_hold(el):
            text = self._text(el)
            return None if text is None else element(el.tag, attributes, text)
        inner = self.inner(el)
        return None if inner is None else element(el.tag, attributes, inner=inner)

    def _say(self, message: str, el: Element) -> None:
        self.oddities.once(message, line_of(el))


def _prefixed(name: str) -> str:
    for long, short in _PREFIXES.items():
        if name.startswith(long):
            return short + name[len(long) :]
    return name


def settled(known: Kind, children: list[tuple[str, str]]) -> list[tuple[str, str]] | None:
    """The children in an order and choice that the content model allows; None if there is none."""
    if known.content is None:
        return []
    if _matches(known, children):
        return children
    known_ones = [c for c in children if c[0] in known.order]
    sorted_ones = sorted(known_ones, key=lambda c: known.order[c[0]])
    for attempt in (known_ones, sorted_ones):
        if _matches(known, attempt):
            return attempt
    return _pruned(known, sorted_ones)


def _pruned(known: Kind, children: list[tuple[str, str]]) -> list[tuple[str, str]] | None:
    """With children dropped from the end until the rest fits."""
    kept = list(children)
    for place in range(len(children) - 1, -1, -1):
        kept = kept[:place] + kept[place + 1 :]
        if _matches(known, kept):
            return kept
        shorter = children[:place] + children[place + 1 :]
        if _matches(known, shorter):
            return shorter
    return None


def _matches(known: Kind, children: list[tuple[str, str]]) -> bool:
    names = "".join([tag + " " for tag, _ in children])
    return bool(content_pattern(known.content or "").fullmatch(names))
