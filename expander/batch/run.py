"""A batch from orders to folders: only what is missing or changed is done."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from msgspec import Struct, field
from msgspec.structs import replace

from expander import __version__
from expander.batch.orders import Order
from expander.batch.store import fingerprint, keep, stands
from expander.batch.telling import COLUMNS, DONE, FAILED, STANDS, Outcome, summary
from expander.batch.work import Made, Work
from expander.catalogue.ensembles import load_ensemble
from expander.errors import BadRules, BadUsage, ExpanderError, Spot
from expander.model.instrument import Ensemble
from expander.model.rules import Rules
from expander.outputs import put_in_place
from expander.parts.command import made_folder
from expander.rulefile import parse_rules

SUMMARY = "summary.json"


class Workers(Protocol):
    """Something that does jobs: gives each number's result as it comes."""

    def results(self, jobs: Mapping[int, Work]) -> Iterator[tuple[int, Made]]:
        """Each job's result as it comes, in any order."""


def run_batch(
    orders: Sequence[Order],
    folder: Path,
    workers: Workers,
    *,
    force: bool = False,
    tell: Callable[[Outcome], None] = lambda outcome: None,
) -> tuple[Outcome, ...]:
    """Do the orders, each into its own folder in `folder`, and write the summary there.

    Jobs that were done before with the same sketch, rules, line-up, options and version stand as
    they are unless `force` is set. A job that fails leaves what its folder held; the others go
    on. `tell` is called with each outcome as it comes. The outcomes are in the orders' order.
    Raises CannotWrite, BadUsage where the folder cannot be used.
    """
    made_folder(folder)
    outcomes: dict[int, Outcome] = {}
    jobs: dict[int, Work] = {}

    def settle(number: int, outcome: Outcome) -> None:
        outcomes[number] = outcome
        tell(outcome)

    desk = _Desk()
    for number, order in enumerate(orders):
        try:
            job = desk.job(order)
        except ExpanderError as error:
            settle(number, Outcome(order, FAILED, wrong=error.message))
            continue
        report = None if force else stands(folder / order.name, job.fingerprint)
        if report is None:
            jobs[number] = job
        else:
            settle(number, Outcome(order, STANDS, _counts(report)))
    for number, made in workers.results(jobs) if jobs else ():
        settle(number, _kept(orders[number], folder / orders[number].name, made))
    told = tuple(outcomes[number] for number in range(len(orders)))
    put_in_place({folder / SUMMARY: summary(told)})
    return told


def _kept(order: Order, folder: Path, made: Made) -> Outcome:
    if made.wrong:
        return Outcome(order, FAILED, wrong=made.wrong)
    try:
        keep(folder, made)
    except ExpanderError as error:
        return Outcome(order, FAILED, wrong=error.message)
    return Outcome(order, DONE, dict(made.counts))


def _counts(report: Mapping[str, Any]) -> dict[str, int]:
    """The summary's figures of a job from its report."""
    kept = report.get("job", {}).get("counts", {})
    return {name: int(kept.get(name, 0)) for name in COLUMNS}


class _Desk(Struct):
    """Makes orders ready for workers; rule files and line-ups are read once."""

    rules: dict[Path, tuple[bytes, Rules]] = field(default_factory=dict)
    ensembles: dict[tuple[str, str], tuple[str, Ensemble]] = field(default_factory=dict)

    def job(self, order: Order) -> Work:
        """An order with all it needs. Raises ExpanderError where something cannot be read."""
        text, rules = self._rules(order.rules) if order.rules else (b"", Rules())
        name = order.ensemble or rules.ensemble
        if not name:
            raise BadUsage(
                f"{order.sketch}: no line-up is named.",
                hint="Name one with --ensemble, in the jobs file or in the rule file.",
            )
        base = order.rules.parent if order.rules and not order.ensemble else Path()
        described, ensemble = self._ensemble(name, base)
        rules = replace(rules, ensemble=name, pitch=order.pitch or rules.pitch)
        sketch = _bytes(order.sketch)
        asked = (rules.pitch, str(order.parts), str(order.desks), str(order.pdf))
        known = fingerprint([__version__, sketch, text, described, *asked])
        return Work(
            sketch,
            str(order.sketch),
            rules,
            ensemble,
            known,
            order.parts,
            order.desks,
            order.pdf,
        )

    def _rules(self, path: Path) -> tuple[bytes, Rules]:
        if path not in self.rules:
            data = _bytes(path)
            self.rules[path] = (data, parse_rules(_decoded(data, path), str(path)))
        return self.rules[path]

    def _ensemble(self, name: str, base: Path) -> tuple[str, Ensemble]:
        key = (name, str(base))
        if key not in self.ensembles:
            found = load_ensemble(name, base)
            self.ensembles[key] = (repr(found), found)
        return self.ensembles[key]


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadUsage(
            f"the file cannot be read ({error.strerror or error}).", at=Spot(str(path))
        ) from error


def _decoded(data: bytes, path: Path) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        fault = f"The file is not UTF-8 text (byte {data[error.start]:#04x})."
        spot = Spot(str(path), data[: error.start].count(b"\n") + 1)
        raise BadRules([ExpanderError(fault, at=spot, hint="Save it as UTF-8.")]) from error
