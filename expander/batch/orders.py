"""From arguments and jobs files to orders: one sketch, one line-up, one rule file, one folder."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from expander.errors import BadUsage
from expander.model.jobs import JobEntry


class Order(Struct, frozen=True):
    """One job. `name` is its folder's name; no `rules` or no `ensemble` leaves it to the other."""

    name: str
    sketch: Path
    rules: Path | None = None
    ensemble: str = ""
    pitch: str = ""
    parts: bool = False
    desks: bool = False
    pdf: bool = False


def orders_of(
    entries: Iterable[tuple[JobEntry, Path]], *, parts: bool = False, pdf: bool = False
) -> tuple[Order, ...]:
    """The orders of entries, each with the folder its paths are taken from, in order.

    `parts` holds where an entry does not say. Each order has a folder of its own: the sketch's
    name, with the line-up's and the rules' where an entry has several of them, with the folder
    of the sketch or a number where names are still the same. Raises BadUsage for none at all.
    """
    found = [
        order
        for entry, base in entries
        for order in _paired(entry, base, parts=parts or pdf, pdf=pdf)
    ]
    if not found:
        raise BadUsage("there is nothing to do.", hint="Name sketches, or a jobs file with --jobs.")
    return tuple(_apart(found))


def _paired(entry: JobEntry, base: Path, *, parts: bool, pdf: bool) -> list[Order]:
    several = len(entry.ensembles) > 1, len(entry.rules) > 1
    return [
        Order(
            name=_name(entry, sketch, ensemble, rules, several),
            sketch=base / sketch,
            rules=base / rules if rules else None,
            ensemble=_line_up(ensemble, base),
            pitch=entry.pitch,
            parts=parts if entry.parts is None else entry.parts,
            desks=entry.desks,
            pdf=pdf,
        )
        for sketch in entry.sketches
        for ensemble in entry.ensembles or ("",)
        for rules in entry.rules or ("",)
    ]


def _line_up(name: str, base: Path) -> str:
    """A shipped line-up's name, or the path of an ensemble file from the entry's folder."""
    return str(base / name) if name.endswith((".yaml", ".yml")) or "/" in name else name


def _name(
    entry: JobEntry, sketch: str, ensemble: str, rules: str, several: tuple[bool, bool]
) -> str:
    own = entry.name if entry.name and len(entry.sketches) == 1 else _stem(sketch)
    own = f"{entry.name}-{own}" if entry.name and len(entry.sketches) > 1 else own
    more = [_stem(text) for text, many in zip((ensemble, rules), several, strict=True) if many]
    return "-".join([own, *more])


def _stem(path: str) -> str:
    return Path(path).stem or "sketch"


def _apart(orders: Sequence[Order]) -> list[Order]:
    """Orders of one name get the folder of their sketch before it, then numbers after it.

    Names are compared without regard to capitals: some disks have none.
    """
    counts = Counter(order.name.casefold() for order in orders)
    placed = [
        replace(order, name=f"{order.sketch.resolve().parent.name}-{order.name}")
        if counts[order.name.casefold()] > 1
        else order
        for order in orders
    ]
    taken: set[str] = set()
    done: list[Order] = []
    for order in placed:
        name, number = order.name, 2
        while name.casefold() in taken:
            name, number = f"{order.name}-{number}", number + 1
        taken.add(name.casefold())
        done.append(replace(order, name=name))
    return done
