"""The commands for what lies on the stands: parts for the players, and many pieces at once."""

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from expander.cli_common import (
    SAID_BY_CHECKS,
    Pitch,
    ReportOption,
    ScoreArgument,
    read_and_tell,
    warn,
)

if TYPE_CHECKING:
    from expander.model.jobs import JobEntry


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.command(epilog="Example: expander parts score.musicxml -o parts --pdf")(parts)
    app.command(
        epilog="Example: expander batch songs/*.musicxml -e septet -e big-band -o done --parts"
    )(batch)


FolderOption = Annotated[Path, typer.Option("-o", "--output", help="The folder to write to.")]
PdfOption = Annotated[bool, typer.Option("--pdf", help="Also engrave each part as a PDF.")]


def parts(
    score: ScoreArgument,
    output: FolderOption,
    pdf: PdfOption = False,
    desks: Annotated[
        bool, typer.Option("--desks", help="Strings: one part for each desk, not each section.")
    ] = False,
    percussion_score: Annotated[
        bool, typer.Option("--percussion-score", help="All percussion in one score.")
    ] = False,
    cues: Annotated[
        bool, typer.Option("--cues/--no-cues", help="Cues before entries after long rests.")
    ] = True,
    report: ReportOption = None,
) -> None:
    """Write a part for each player, as they read it on the stand."""
    from expander.parts import Options
    from expander.parts.command import write_parts
    from expander.parts.report import failed, lines

    document = read_and_tell(score)
    options = Options(desks=desks, cues=cues, percussion_score=percussion_score)
    made = write_parts(document, output, options, pdf=pdf, report=report, source=score)
    for line in lines(made):
        warn(line)
    if failed(made):
        raise typer.Exit(SAID_BY_CHECKS)


def batch(
    output: FolderOption,
    sketches: Annotated[
        list[str] | None, typer.Argument(help="Short scores (MusicXML).", show_default=False)
    ] = None,
    ensemble: Annotated[
        list[str] | None, typer.Option("-e", "--ensemble", help="A line-up; may be repeated.")
    ] = None,
    rules: Annotated[
        list[str] | None, typer.Option("-r", "--rules", help="A rule file; may be repeated.")
    ] = None,
    jobs: Annotated[
        Path | None, typer.Option(help="A jobs file, which pairs sketches, rules and line-ups.")
    ] = None,
    pitch: Annotated[
        Pitch | None, typer.Option(help="Show the scores transposed or at concert pitch.")
    ] = None,
    parts: Annotated[bool, typer.Option("--parts", help="Also a part for each player.")] = False,
    pdf: PdfOption = False,
    workers: Annotated[
        int, typer.Option(min=1, max=256, help="Jobs done at a time on this machine.")
    ] = os.cpu_count() or 1,
    cluster: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Give the jobs to this Dask scheduler instead.")
    ] = "",
    force: Annotated[
        bool, typer.Option("--force", help="Do all jobs, not only what is missing or changed.")
    ] = False,
) -> None:
    """Expand many sketches, each with every line-up and rule file given; only what is new."""
    from expander.batch.orders import orders_of
    from expander.batch.pool import Cluster, Local
    from expander.batch.run import run_batch
    from expander.batch.telling import FAILED, Progress, table

    entries = _entries(sketches or [], ensemble or [], rules or [], jobs, pitch)
    orders = orders_of(entries, parts=parts, pdf=pdf)
    progress = Progress(len(orders))
    hands = Cluster(cluster) if cluster else Local(workers)
    with _stoppable():
        outcomes = run_batch(orders, output, hands, force=force, tell=progress.say)
    progress.end()
    for line in table(outcomes):
        warn(line)
    failed = [outcome for outcome in outcomes if outcome.result == FAILED]
    for outcome in failed if progress.live else ():
        warn(f"{outcome.order.name}: {outcome.wrong}")
    if failed:
        raise typer.Exit(SAID_BY_CHECKS)


def _entries(
    sketches: list[str],
    ensembles: list[str],
    rules: list[str],
    jobs: Path | None,
    pitch: Pitch | None,
) -> "list[tuple[JobEntry, Path]]":
    """What the arguments ask for, then the jobs file; the arguments stand where it says nothing."""
    from msgspec.structs import replace

    from expander.model.jobs import JobEntry
    from expander.rulefile.jobs import load_jobs

    shown = pitch.value if pitch else ""
    given = JobEntry(tuple(sketches), tuple(ensembles), tuple(rules), pitch=shown)
    found = [(given, Path())] if sketches else []
    for entry in load_jobs(jobs) if jobs else ():
        if not (entry.ensembles or entry.rules):
            here = tuple(str(Path(name).resolve()) for name in rules)
            entry = replace(entry, ensembles=tuple(ensembles), rules=here)
        found.append((replace(entry, pitch=entry.pitch or shown), jobs.parent if jobs else Path()))
    return found


@contextmanager
def _stoppable() -> Iterator[None]:
    """A request to end stops between jobs, as Ctrl-C does: what is written is whole."""

    def stop(number: int, frame: object) -> NoReturn:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
