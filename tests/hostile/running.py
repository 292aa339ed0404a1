"""The command run in this process, watched: what it said, opened, wrote and how it ended."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from msgspec import Struct

from expander import cli

SECONDS = 10
WATCHED = frozenset({"socket", "subprocess", "ftplib", "urllib", "os.system", "os.exec",
                     "os.posix_spawn", "os.remove", "os.rename"})  # fmt: skip
_watched: list[tuple[str, str]] | None = None


class Ran(Struct, frozen=True):
    """How a run ended: exit status, what it said, and which files outside it opened to write."""

    status: int
    said: str
    shown: str
    events: tuple[tuple[str, str], ...]


def _listen(event: str, arguments: tuple) -> None:
    if _watched is None:
        return
    if event == "open" and isinstance(arguments[0], (str, bytes, os.PathLike)):
        _watched.append(("open", os.fsdecode(arguments[0])))
    elif event.split(".")[0] in WATCHED or event in WATCHED:
        _watched.append((event, str(arguments)))


sys.addaudithook(_listen)


@contextlib.contextmanager
def watching() -> Iterator[list[tuple[str, str]]]:
    global _watched
    _watched = []
    try:
        yield _watched
    finally:
        _watched = None


def _late(*_) -> None:
    raise TimeoutError(f"more than {SECONDS} s of work")


def run(arguments: Sequence[str]) -> Ran:
    """`expander` with these arguments; anything but an ordinary end comes out as it is."""
    said, shown = io.StringIO(), io.StringIO()
    status = 0
    before, sys.argv = sys.argv, ["expander", *arguments]
    handler = signal.signal(signal.SIGPROF, _late)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        outputs = contextlib.redirect_stderr(said), contextlib.redirect_stdout(shown)
        with watching() as events, outputs[0], outputs[1]:
            try:
                cli.main()
            except SystemExit as ended:
                status = ended.code if isinstance(ended.code, int) else int(bool(ended.code))
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, handler)
        sys.argv = before
    return Ran(status, said.getvalue(), shown.getvalue(), tuple(events))


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {
        str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }
