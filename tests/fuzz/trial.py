"""One mutated input through the whole program, in this process: what came of it."""

from __future__ import annotations

import os
import tempfile
from functools import cache
from pathlib import Path

from msgspec import Struct

from expander.checks import run as run_checks
from expander.errors import ExpanderError
from expander.musicxml import file_bytes, read_bytes
from expander.pipeline import expand_file
from expander.report import as_json
from tests.musicxml.corpus import CONFORMANCE
from tests.schema import faults

SAMPLES = Path(__file__).parents[2] / "samples"
LINE_UPS = ("string-quartet", "woodwind-quintet", "septet", "satb-choir", "brass-quintet",
            "saxophone-quartet", "chamber-orchestra")  # fmt: skip


class Broken(AssertionError):
    """The program did what it never should: its output is not valid, or it lost count."""


class Outcome(Struct, frozen=True):
    """`refused` is the message where the program would not; else `output` is the score."""

    refused: str = ""
    output: bytes = b""


@cache
def scores() -> tuple[bytes, ...]:
    """The scores to begin with: a file for each feature of MusicXML, and the sample's bars."""
    plain = [p.read_bytes() for p in CONFORMANCE if p.suffix == ".xml"]
    return (*plain, *(p.read_bytes() for p in sorted(SAMPLES.glob("*.musicxml"))))


@cache
def rule_files() -> tuple[str, ...]:
    """The rule files to begin with."""
    return tuple(p.read_text(encoding="utf-8") for p in sorted(SAMPLES.glob("*.yaml")))


@cache
def sample() -> bytes:
    """The sample's short score."""
    return (SAMPLES / "paper-harbour.musicxml").read_bytes()


def expanded(data: bytes, line_up: str = "", rules: str | None = None) -> Outcome:
    """Expand; raises Broken, or whatever the program should have caught."""
    try:
        document = read_bytes(data, "mutated.musicxml")
        done = expand_file(document, _saved(rules), line_up)
        output = file_bytes(done.score, Path("out.musicxml"))
    except ExpanderError as error:
        if not error.message.strip():
            raise Broken("a refusal without a word") from error
        return Outcome(error.message)
    as_json(done.ledger, done.findings, done.score)
    _sound(output, done.ledger)
    return Outcome(output=output)


def _saved(rules: str | None) -> Path | None:
    if rules is None:
        return None
    path = Path(tempfile.gettempdir()) / f"mutated-rules-{os.getpid()}.yaml"
    path.write_bytes(rules.encode("utf-8", "surrogatepass"))
    return path


def _sound(output: bytes, ledger) -> None:
    found = faults(output)
    if found:
        raise Broken(f"the output is not valid: {found[0]}")
    again = read_bytes(output, "output")
    if read_bytes(file_bytes(again, Path("again.musicxml")), "again") != again:
        raise Broken("the output is not the same when read, written and read again")
    accounted = ledger.placed + ledger.replaced + len(ledger.unplaced)
    if accounted < ledger.notes:
        raise Broken(f"{ledger.notes - accounted} notes are not accounted for")


def further(data: bytes, command: str) -> None:
    """A mutated score through another command; raises what it should have caught."""
    try:
        document = read_bytes(data, "mutated.musicxml")
        COMMANDS[command](document)
    except ExpanderError:
        return


def _parts(document) -> None:
    from expander.parts import Options
    from expander.parts.command import write_parts

    with tempfile.TemporaryDirectory() as folder:
        write_parts(document, Path(folder) / "parts", Options(), pdf=False, report=None)
        for path in sorted(Path(folder).rglob("*.musicxml")):
            found = faults(path.read_bytes())
            if found:
                raise Broken(f"a part is not valid: {found[0]}")


def _reduced(document) -> None:
    from expander.revoice.commands import reduce_document

    done = reduce_document(document, 0)
    found = faults(file_bytes(done.score, Path("reduced.musicxml")))
    if found:
        raise Broken(f"the short score is not valid: {found[0]}")


def _merged(document) -> None:
    """The score with its first bar gone on one side and its last put twice on the other."""
    from msgspec.structs import replace

    from expander.merge import merge

    def with_bars(chosen):
        parts = tuple(replace(p, bars=tuple(p.bars[i] for i in chosen)) for p in document.parts)
        return replace(document, bars=tuple(document.bars[i] for i in chosen), parts=parts)

    order = list(range(len(document.bars)))
    shorter, longer = order[1:] or order, [*order, *order[-1:]]
    for sides in ((shorter, longer), (longer, shorter)):
        new, edited = map(with_bars, sides)
        for keep in (False, True):
            done = merge(document, new, edited, keep_edited=keep)
            found = faults(file_bytes(done.score, Path("merged.musicxml")))
            if found:
                raise Broken(f"the merged score is not valid: {found[0]}")


def _outlined(document) -> None:
    from expander.outline import outline_of_score, rendered

    rendered(outline_of_score(document), ".txt", lyrics=False)


COMMANDS = {
    "check": lambda document: run_checks(document),
    "parts": _parts,
    "reduce": _reduced,
    "outline": _outlined,
    "merge": _merged,
}
