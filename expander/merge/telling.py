"""What a merge did, for a terminal and for a report file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from expander.merge.choose import Told
from expander.merge.merge import Merged
from expander.merge.wording import listed
from expander.model.finding import SCHEMA

MOST_TOLD = 40
"""Conflicts and remarks printed; a screen or two."""

_MOST_NAMED = 3

_STANDS = {"new": "the new stands", "edited": "the edit stands", "neither": ""}


def lines(merged: Merged, report: str = "") -> list[str]:
    """What the musician should look at, most pressing first; `report` names the file with all."""
    told = [*_by_bar(merged.conflicts), *_by_bar(merged.remarks)]
    every = [line_of(one, parts) for one, parts in grouped(told)]
    more = len(every) - MOST_TOLD
    if more <= 0:
        return every
    where = f"all are in {report}." if report else "--report FILE writes them all down."
    return [*every[:MOST_TOLD], f"... and {more} more; {where}"]


def _by_bar(told: Iterable[Told]) -> list[Told]:
    return sorted(told, key=lambda one: one.index)


def summary(merged: Merged) -> str:
    """The merge in one line."""
    counts = (
        (len(merged.edits), "edit", "kept"),
        (merged.changes, "change", "taken"),
        (len(merged.conflicts), "conflict", ""),
    )
    return ", ".join(f"{n} {name}{'s' * (n != 1)} {what}".strip() for n, name, what in counts) + "."


def grouped(told: Iterable[Told]) -> list[tuple[Told, tuple[str, ...]]]:
    """Things told, the same of several parts in one with the parts' names."""
    found: dict[tuple[object, ...], tuple[Told, list[str]]] = {}
    for one in told:
        key = (one.bar, one.beat, one.what, one.edited, one.new, one.old, one.stands, one.message)
        found.setdefault(key, (one, []))[1].append(one.part)
    return [(one, tuple(dict.fromkeys(parts))) for one, parts in found.values()]


def line_of(told: Told, parts: Sequence[str]) -> str:
    """One thing told: its place, what it is, its versions and which stands."""
    if told.message and not (told.edited or told.new):
        return _sentence(f"{_place(told, parts)}{told.what} {told.message}")
    if told.stands == "neither":
        return _sentence(f"{_place(told, parts)}{told.what} {told.edited} {told.message}")
    versions = [f"by hand {told.edited}", f"new {told.new}"]
    versions += [f"before {told.old}"] if told.old else []
    end = told.message or _STANDS[told.stands]
    return f"{_place(told, parts)}{told.what}: {'; '.join(versions)}. {end[:1].upper()}{end[1:]}."


def _sentence(text: str) -> str:
    return text if text.endswith("?") else f"{text}."


def _place(told: Told, parts: Sequence[str]) -> str:
    names = [name for name in parts if name]
    named = listed(names) if len(names) <= _MOST_NAMED else f"{len(names)} parts"
    bar = f"bar {told.bar}" if told.bar else ""
    beat = f" beat {told.beat:g}" if told.beat is not None else ""
    place = ", ".join(text for text in (named, f"{bar}{beat}".strip()) if text)
    return f"{place}: " if place else ""


def report_of(merged: Merged) -> str:
    """The report as JSON text: every edit, conflict and remark with its place."""
    data = {
        "schema": SCHEMA,
        "edits": [_data(told) for told in merged.edits],
        "changes": merged.changes,
        "conflicts": [_data(told) for told in merged.conflicts],
        "remarks": [_data(told) for told in merged.remarks],
    }
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _data(told: Told) -> dict[str, Any]:
    """One thing told as plain data; what it does not say is left out."""
    data = {
        "part": told.part,
        "bar": told.bar,
        "beat": told.beat,
        "what": told.what,
        "before": told.old,
        "edited": told.edited,
        "new": told.new,
        "stands": told.stands,
        "message": told.message,
    }
    return {key: value for key, value in data.items() if value not in ("", None)}
