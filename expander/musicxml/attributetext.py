"""Writing changes as `<attributes>` elements."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from expander.model.pitch import Transposition
from expander.model.score import Attributes, Change, Clef, Key, Mark, Time
from expander.musicxml.attributes import NAMES, RANKS, rank
from expander.musicxml.text import element, leaf
from expander.musicxml.valuetext import checked_mark_text

_ONCE = frozenset({"footnote", "level", "divisions", "staves", "part-symbol", "instruments"})
_EITHER = frozenset({"transpose", "for-part"})
_NONE = Mark("attributes", "")
Named = tuple[str, str]


def attributes_texts(changes: Sequence[Change], first: Sequence[Named] = ()) -> str:
    """The changes of one place; `first` are elements that only the writer knows of."""
    named = [*first, *_texts(sorted(changes, key=rank))]
    named.sort(key=lambda pair: RANKS.get(pair[0], 0))
    return "".join(
        [
            "<attributes>" + "".join(text for _, text in g) + "</attributes>\n"
            for g in _groups(named)
        ]
    )


def _groups(named: Sequence[Named]) -> Iterator[list[Named]]:
    """The elements in as few groups as the schema allows."""
    group: list[Named] = []
    for name, text in named:
        held = {n for n, _ in group}
        if (name in _ONCE and name in held) or (name in _EITHER and held & (_EITHER - {name})):
            yield group
            group = []
        group.append((name, text))
    if group:
        yield group


def _texts(changes: Sequence[Change]) -> Iterator[Named]:
    for index, change in enumerate(changes):
        what = change.what
        if isinstance(what, Mark):
            if what.name not in NAMES.values():
                yield what.name, checked_mark_text(_numbered(what, change.staff))
            continue
        following = changes[index + 1] if index + 1 < len(changes) else None
        yield NAMES[type(what)], _change_text(what, change, _companion(change, following))


def _companion(change: Change, following: Change | None) -> Mark:
    """The mark that holds the rest of a change's element."""
    if following is None or following.staff != change.staff:
        return _NONE
    mark = following.what
    same = isinstance(mark, Mark) and mark.name == NAMES[type(change.what)]
    return mark if same and isinstance(mark, Mark) else _NONE


def _numbered(mark: Mark, staff: int) -> Mark:
    return mark.having(number=str(staff)) if staff else mark


def _change_text(what: Clef | Key | Time | Transposition, change: Change, more: Mark) -> str:
    number: Attributes = (("number", str(change.staff)),) if change.staff else ()
    attributes = (*number, *more.attributes)
    if isinstance(what, Clef):
        return element("clef", attributes, inner=_clef(what))
    if isinstance(what, Key):
        return element("key", attributes, inner=_key(what, more.inner))
    if isinstance(what, Time):
        symbol: Attributes = (("symbol", what.symbol),) if what.symbol else ()
        return element("time", (*symbol, *attributes), inner=_time(what, more.inner))
    return element("transpose", attributes, inner=_transpose(what))


def _clef(clef: Clef) -> str:
    line = f"<line>{clef.line}</line>" if clef.line else ""
    octave = f"<clef-octave-change>{clef.octave}</clef-octave-change>" if clef.octave else ""
    return f"<sign>{clef.sign}</sign>{line}{octave}"


def _key(key: Key, more: str) -> str:
    cancel, octaves = (more, "") if more.startswith("<cancel") else ("", more)
    if "<key-octave" in cancel:
        place = cancel.index("<key-octave")
        cancel, octaves = cancel[:place], cancel[place:]
    if key.own:
        return key.own + octaves
    return f"{cancel}<fifths>{key.fifths}</fifths>{leaf('mode', key.mode)}{octaves}"


def _time(time: Time, more: str) -> str:
    if not time.beats:
        return "<senza-misura/>"
    pairs = [element("beats", text=b) + element("beat-type", text=t) for b, t in time.beats]
    return "".join(pairs) + more


def _transpose(move: Transposition) -> str:
    octave = f"<octave-change>{move.octave}</octave-change>" if move.octave else ""
    double = {"above": '<double above="yes"/>', "below": "<double/>"}.get(move.double, "")
    steps = f"<diatonic>{move.diatonic}</diatonic><chromatic>{move.chromatic}</chromatic>"
    return f"{steps}{octave}{double}"
