"""Watching a sketch and its rules: score and proof are made again whenever one of them is saved.

The proof is served at an address of this machine only. An open page is told of a newer one, and of
mistakes; after a mistake the last good score and page stay.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from socket import AF_INET, SO_REUSEADDR, SOCK_STREAM, SOL_SOCKET, socket
from typing import TYPE_CHECKING

from expander import paper
from expander.errors import BadUsage, ExpanderError
from expander.model.finding import Severity
from expander.model.score import Document
from expander.musicxml import file_bytes, read
from expander.outputs import put_in_place
from expander.pipeline import Expanded, expand_file
from expander.proof import Proof, as_html, proof_of
from expander.report import ledger_line

if TYPE_CHECKING:
    from anyio.abc import TaskStatus
    from starlette.applications import Starlette

HOST = "127.0.0.1"
"""The only address that is listened at: this machine's own."""

QUIET = 15.0
"""Seconds after which an open page is sent a sign of life."""

STEP = 0.2
"""Seconds between looks at whether there is anything to tell."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What to make from what. `proof` is None where only the score is wanted."""

    sketch: Path
    score: Path
    rules: Path | None = None
    ensemble: str = ""
    proof: Path | None = None
    above: bool = False

    @property
    def watched(self) -> tuple[Path, ...]:
        """The files whose saving starts the work: sketch, rules, a line-up's own file."""
        own = [Path(self.ensemble)] if self.ensemble and Path(self.ensemble).is_file() else []
        return tuple(p.resolve() for p in (self.sketch, self.rules, *own) if p is not None)


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: the score's findings, and the proof where one was wanted."""

    done: Expanded
    proof: Proof | None = None


def make(wish: Wish) -> Made:
    """Read, expand, engrave, and put the files in place. Raises ExpanderError; then nothing is."""
    sketch = read(wish.sketch)
    done = expand_file(sketch, wish.rules, wish.ensemble)
    files = {wish.score: file_bytes(done.score, wish.score)}
    proof = _proof(wish, sketch, done) if wish.proof else None
    if wish.proof and proof:
        files[wish.proof] = as_html(proof)
    put_in_place(files)
    return Made(done, proof)


def _proof(wish: Wish, sketch: Document, done: Expanded) -> Proof:
    above = sketch if wish.above else None
    return proof_of(done.score, done.findings, sketch=above, ensemble=done.ensemble)


def counted(done: Expanded) -> str:
    """What was made, in one line."""
    counts = Counter(finding.severity for finding in done.findings)
    told = ", ".join(f"{counts[s]} {s.value}{'s' * (counts[s] != 1)}" for s in Severity)
    return f"{ledger_line(done.ledger)} Findings: {told}."


# What open pages are told ----------------------------------------------------------------------


@dataclass(slots=True)
class Board:
    """The page as it stands: its version, and the mistake that keeps a newer one away, if any."""

    version: int = 0
    mistake: str = ""
    proof: Proof | None = None
    stopping: Callable[[], bool] = lambda: False

    def well(self, proof: Proof | None) -> None:
        """A new version is there."""
        self.version += 1
        self.mistake, self.proof = "", proof

    def wrong(self, mistake: str) -> None:
        """There was a mistake; the last version stays."""
        self.mistake = mistake

    def page(self) -> bytes:
        """The page to open in a browser."""
        live = f"/changes?version={self.version}"
        if self.proof is None:
            return paper.html("proof", "waiting.html", {"live": live}).encode()
        return as_html(self.proof, live)

    async def news(self, seen: int) -> AsyncIterator[str]:
        """What a page of version `seen` is told, until it goes away or the program stops."""
        from anyio import sleep

        told, quiet = "", 0.0
        while not self.stopping():
            message = self.message(seen)
            if message != told or quiet >= QUIET:
                yield message
                told, quiet = message, 0.0
            await sleep(STEP)
            quiet += STEP

    def message(self, seen: int) -> str:
        """One message: a fresh page, a mistake, or that all is well."""
        if self.mistake:
            return _message("mistake", json.dumps(self.mistake))
        return _message("fresh" if seen != self.version else "well", str(self.version))


def _message(name: str, data: str) -> str:
    return f"event: {name}\ndata: {data}\n\n"


def site(board: Board) -> Starlette:
    """The pages of a board: the proof, and the stream of news."""
    from starlette.applications import Starlette
    from starlette.middleware import Middleware
    from starlette.middleware.trustedhost import TrustedHostMiddleware
    from starlette.requests import Request
    from starlette.responses import HTMLResponse, Response, StreamingResponse
    from starlette.routing import Route

    def page(_: Request) -> Response:
        return HTMLResponse(board.page(), headers={"Cache-Control": "no-store"})

    def changes(request: Request) -> Response:
        seen = request.query_params.get("version", "")
        news = board.news(int(seen) if seen.isdigit() else -1)
        return StreamingResponse(news, media_type="text/event-stream")

    guard = Middleware(TrustedHostMiddleware, allowed_hosts=[HOST, "localhost"])
    return Starlette(routes=[Route("/", page), Route("/changes", changes)], middleware=[guard])


# Watching --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Watch:
    """A wish carried out again and again. `say` is told what happens, in words."""

    wish: Wish
    say: Callable[[str], None]
    port: int = 0

    @cached_property
    def board(self) -> Board:
        """What open pages see."""
        return Board()

    def run(self) -> None:
        """Make, watch and serve until interrupted. Raises BadUsage for a port that is taken."""
        try:
            import anyio
            import uvicorn  # noqa: F401
            import watchfiles  # noqa: F401
        except ImportError as error:
            raise paper.missing(error.name or "watchfiles") from error
        try:
            anyio.run(self._run)
        except KeyboardInterrupt:  # the usual way to stop
            self.say("Stopped.")

    async def _run(self) -> None:
        import anyio

        async with anyio.create_task_group() as group:
            if self.wish.proof:
                await group.start(self._serve)
            await self._again()
            await self._watch()
            group.cancel_scope.cancel()

    async def _again(self) -> None:
        from anyio import to_thread

        try:
            made = await to_thread.run_sync(partial(make, self.wish))
        except ExpanderError as error:
            self.say(error.message)
            self.board.wrong(error.message)
            return
        self.board.well(made.proof)
        self.say(f"{self.wish.score}: {counted(made.done)}")

    async def _watch(self) -> None:
        from watchfiles import awatch

        wanted = {str(path) for path in self.wish.watched}
        folders = sorted({str(path.parent) for path in self.wish.watched})
        names = ", ".join(path.name for path in self.wish.watched)
        self.say(f"Watching {names}; Ctrl-C stops.")

        def chosen(_: object, path: str) -> bool:
            return str(Path(path).resolve()) in wanted

        async for _ in awatch(*folders, watch_filter=chosen, recursive=False):
            await self._again()

    async def _serve(self, *, task_status: TaskStatus[None]) -> None:
        import uvicorn

        bound = listening(self.port)
        settings = uvicorn.Config(
            site(self.board), log_level="critical", timeout_graceful_shutdown=1, lifespan="off"
        )
        self.say(f"The proof is at http://{HOST}:{bound.getsockname()[1]}/ on this machine.")
        task_status.started()
        server = uvicorn.Server(settings)
        self.board.stopping = lambda: server.should_exit
        await server.serve(sockets=[bound])


def listening(port: int) -> socket:
    """A socket at this machine's own address; port 0 takes any that is free.

    Raises BadUsage where the port is taken.
    """
    bound = socket(AF_INET, SOCK_STREAM)
    bound.setsockopt(SOL_SOCKET, SO_REUSEADDR, 1)
    try:
        bound.bind((HOST, port))
    except OSError as error:
        bound.close()
        raise BadUsage(
            f"port {port} cannot be listened at ({error.strerror or error}).",
            hint="Choose another with --port, or leave it out.",
        ) from error
    return bound
