"""What stands before the music: titles, people, credits, part names and brackets."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from msgspec.structs import replace

from expander.merge.choose import Account, Told, Verdict, choose, choose_set
from expander.merge.same import plain
from expander.merge.wording import NOTHING
from expander.model.pitch import Written
from expander.model.score import Bracket, Credit, Header, Part

_FILE_NAME = re.compile(r"\S+\.(musicxml|mxl|xml)$", re.IGNORECASE)
Pairs = tuple[tuple[str, str], ...]
"""Texts with their types, such as ("composer", "...")."""


def merged_header(old: Header, new: Header, edited: Header, account: Account) -> Header:
    """Each field from the version that changed it."""
    edited = _as_meant(old, edited)

    def text(name: str, get: Callable[[Header], str]) -> str:
        return _text(name, get(old), get(new), get(edited), account)

    def pairs(name: str, get: Callable[[Header], Pairs]) -> Pairs:
        return _pairs(name, get(old), get(new), get(edited), account)

    looks = choose(old.defaults, new.defaults, edited.defaults, keep_edited=True).value
    own = [m for m in edited.miscellaneous if m not in (*new.miscellaneous, *old.miscellaneous)]
    same_pitch = edited.concert_pitch == old.concert_pitch
    return Header(
        text("title", lambda h: h.work_title),
        text("work number", lambda h: h.work_number),
        text("movement title", lambda h: h.movement_title),
        text("movement number", lambda h: h.movement_number),
        pairs("names", lambda h: h.people),
        pairs("rights", lambda h: h.rights),
        text("source", lambda h: h.source),
        (*new.miscellaneous, *own),
        _credits(old.credits, new.credits, edited.credits, account),
        looks or new.defaults,
        new.concert_pitch if same_pitch else edited.concert_pitch,
    )


def _as_meant(old: Header, edited: Header) -> Header:
    """The edited header without what programs do to it.

    They put the file's name or the title again for a movement's title, or lose all of it.
    """
    named = edited.movement_title == edited.work_title or _FILE_NAME.match(edited.movement_title)
    if named and not old.movement_title:
        edited = replace(edited, movement_title="")
    titles = edited.work_title or edited.movement_title
    if titles or edited.people or edited.rights or edited.credits:
        return edited if edited.people or not old.people else replace(edited, people=old.people)
    return replace(old, defaults=edited.defaults, concert_pitch=edited.concert_pitch)


def _text(name: str, old: str, new: str, edited: str, account: Account) -> str:
    choice = choose(plain(old), plain(new), plain(edited), keep_edited=account.keep_edited)
    _account(name, choice.verdict, (old, new, edited), account)
    return {plain(old): old, plain(new): new, plain(edited): edited}[choice.value]


def _account(
    name: str, verdict: Verdict | None, values: Sequence[str], account: Account, part: str = ""
) -> None:
    old, new, edited = (f"“{value}”" if value else NOTHING for value in values)
    account.note(verdict, lambda: Told(part, "", None, name, edited, new, old))


def _pairs(name: str, old: Pairs, new: Pairs, edited: Pairs, account: Account) -> Pairs:
    """Typed texts such as ("composer", "..."), type by type."""
    found: list[tuple[str, str]] = []
    for kind in dict.fromkeys(kind for kind, _ in (*edited, *new, *old)):
        before, now, by_hand = (
            "\n".join(t for k, t in side if k == kind) for side in (old, new, edited)
        )
        value = _text(kind or name, before, now, by_hand, account)
        found += [(kind, text) for text in value.split("\n") if text]
    return tuple(found)


def _credits(
    old: tuple[Credit, ...],
    new: tuple[Credit, ...],
    edited: tuple[Credit, ...],
    account: Account,
) -> tuple[Credit, ...]:
    """Lines of the title page by their words; new in their new order, the hand's own after."""
    sides = [{plain(c.text): c for c in reversed(side)} for side in (old, new, edited)]
    said = [frozenset(side) for side in sides]
    if not said[2] and said[0]:
        said[2], sides[2] = said[0], sides[0]
    choice = choose_set(said[0], said[1], said[2], single=False, keep_edited=account.keep_edited)
    words = [", ".join(sorted(s)) for s in said]
    _account("credits", choice.verdict, words, account)
    if choice.value == said[2] and choice.verdict in (None, Verdict.EDIT):
        return tuple(_typed(c, sides[1]) for c in edited) if edited else old
    order = [*(c for c in new), *(c for c in edited if plain(c.text) not in said[1])]
    return tuple(c for c in order if plain(c.text) in choice.value)


def _typed(credit: Credit, new: dict[str, Credit]) -> Credit:
    """A credit that lost its kind in saving, as the new score has it."""
    same = new.get(plain(credit.text))
    return same if same is not None and not credit.kind else credit


# Parts -------------------------------------------------------------------------------------------


def named_part(
    old: Part[Written] | None,
    new: Part[Written] | None,
    edited: Part[Written] | None,
    account: Account,
) -> Part[Written]:
    """The part with the name and short name that stand, from one of its versions."""
    base = edited or new or old
    assert base is not None
    if old is None or new is None or edited is None:
        return base
    name = choose(plain(old.name), plain(new.name), plain(edited.name),
                  keep_edited=account.keep_edited)  # fmt: skip
    _account("name of the part", name.verdict, (old.name, new.name, edited.name), account, old.name)
    short = choose(plain(old.short), plain(new.short), plain(edited.short),
                   keep_edited=account.keep_edited)  # fmt: skip
    _account("short name of the part", short.verdict, (old.short, new.short, edited.short),
             account, old.name)  # fmt: skip
    from_edited = name.value == plain(edited.name) != plain(new.name)
    source = edited if from_edited else new
    shorts = {plain(p.short): p.short for p in (old, new, edited)}
    return replace(base, name=source.name, short=shorts[short.value], carried=source.carried)


Group = tuple[frozenset[int], Bracket]
"""The parts under a bracket as numbers of the merged score's parts."""


def merged_brackets(
    old: Sequence[Group], new: Sequence[Group], edited: Sequence[Group], order: Sequence[int],
    account: Account,
) -> tuple[Bracket, ...]:  # fmt: skip
    """Brackets by what they hold, over the parts in their merged order."""
    sides = [{_bracket_sign(g): g for g in reversed(side)} for side in (old, new, edited)]
    said = [frozenset(side) for side in sides]
    if not said[2] and said[0]:
        said[2] = said[0]
    choice = choose_set(said[0], said[1], said[2], single=False, keep_edited=account.keep_edited)
    account.note(choice.verdict, lambda: Told("", "", None, "brackets"))
    source = {**sides[0], **sides[1], **sides[2]}
    kept = [source[sign] for sign in source if sign in choice.value]
    places = {part: place for place, part in enumerate(order)}
    made = [_placed(parts, bracket, places) for parts, bracket in kept]
    return tuple(sorted(filter(None, made), key=lambda b: (b.first, -b.last, b.symbol)))


def _bracket_sign(group: Group) -> tuple[object, ...]:
    parts, bracket = group
    return (tuple(sorted(parts)), bracket.symbol, bracket.name)


def _placed(parts: frozenset[int], bracket: Bracket, places: dict[int, int]) -> Bracket | None:
    at = [places[part] for part in parts if part in places]
    return replace(bracket, first=min(at), last=max(at), number="") if at else None
