"""The command line: arguments, printing, exit status. Heavy rooms are imported where used."""

from __future__ import annotations

import gc
import json
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from expander import __version__
from expander.cli_players import add_to
from expander.errors import BadUsage, ExpanderError, printable

if TYPE_CHECKING:
    from expander.model.score import Document
    from expander.pipeline import Expanded

SAID_BY_CHECKS = 1
INTERRUPTED = 130

app = typer.Typer(
    name="expander",
    help="Expands a MusicXML short score into a full score for a given line-up.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


class Pitch(StrEnum):
    """How the score is shown."""

    CONCERT = "concert"
    TRANSPOSED = "transposed"


class Format(StrEnum):
    """How findings are printed."""

    TEXT = "text"
    JSON = "json"


class Level(StrEnum):
    """For whom ranges are held to."""

    STUDENT = "student"
    AMATEUR = "amateur"
    PROFESSIONAL = "professional"


class Listing(StrEnum):
    """What `list` can show."""

    INSTRUMENTS = "instruments"
    ENSEMBLES = "ensembles"
    VOICINGS = "voicings"
    CHECKS = "checks"
    TECHNIQUES = "techniques"


SketchArgument = Annotated[Path, typer.Argument(help="The short score (MusicXML).")]
ScoreArgument = Annotated[Path, typer.Argument(help="A full score (MusicXML).")]
EnsembleOption = Annotated[
    str, typer.Option("-e", "--ensemble", help="A shipped line-up, or an ensemble file.")
]
RulesOption = Annotated[Path | None, typer.Option("-r", "--rules", help="The rule file.")]
OnlyOption = Annotated[
    list[str] | None, typer.Option(help="Run this check only (may be repeated).")
]
SkipOption = Annotated[
    list[str] | None, typer.Option(help="Leave this check out (may be repeated).")
]
LevelOption = Annotated[Level, typer.Option(help="Who will play: chooses the ranges.")]
OutOption = Annotated[Path, typer.Option("-o", "--output", help="The file to write.")]


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"expander {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    pass


@app.command(
    epilog="Example: expander expand song.musicxml -r song.yaml -o score.musicxml --report r.json"
)
def expand(
    sketch: SketchArgument,
    output: OutOption,
    rules: RulesOption = None,
    ensemble: EnsembleOption = "",
    pitch: Annotated[
        Pitch | None, typer.Option(help="Show the score transposed or at concert pitch.")
    ] = None,
    report: Annotated[
        Path | None, typer.Option(help="Also write the report to this JSON file.")
    ] = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with 1 where the checks find errors.")
    ] = False,
) -> None:
    """Write a short score out in full for a line-up, by a rule file or by register."""
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place
    from expander.pipeline import expand_file
    from expander.report import as_json

    line_up = Path(ensemble) if ensemble else None
    for made in (output, report):
        _not_the_input(made, [sketch, rules, line_up, output if made is report else None])
    document = _read(sketch)
    with _told("expanding"):
        done = expand_file(document, rules, ensemble, pitch.value if pitch else "")
    with _told("writing"):
        files = {output: file_bytes(done.score, output)}
        if report:
            text = as_json(done.ledger, done.findings, done.score)
            files[report] = text.encode()
        put_in_place(files)
    _summarise(done, output)
    if strict and _errors(done):
        raise typer.Exit(SAID_BY_CHECKS)


@app.command(epilog="Example: expander start song.musicxml -e septet -o song.yaml")
def start(
    sketch: SketchArgument,
    output: OutOption,
    ensemble: EnsembleOption,
) -> None:
    """Write a first rule file to edit: the form found, the staves named, a default plan."""
    from expander.outputs import put_in_place
    from expander.pipeline import first_rules_for

    _not_the_input(output, [sketch])
    text = first_rules_for(_read(sketch), ensemble, str(sketch), str(output))
    put_in_place({output: text.encode()})
    typer.echo(f"Wrote {output}. Next: expander expand {sketch} -r {output} -o score.musicxml",
               err=True)  # fmt: skip


@app.command(epilog="Example: expander check score.musicxml --only above-range --format json")
def check(
    score: ScoreArgument,
    ensemble: EnsembleOption = "",
    format: Annotated[Format, typer.Option(help="Text, or JSON alone.")] = Format.TEXT,  # noqa: A002
    only: OnlyOption = None,
    skip: SkipOption = None,
    level: LevelOption = Level.PROFESSIONAL,
    mark: Annotated[
        Path | None, typer.Option(help="Also write the score with what was found coloured.")
    ] = None,
) -> None:
    """Look a full score over as players and librarians would, whoever wrote it."""
    from expander.catalogue.ensembles import load_ensemble
    from expander.checks import run
    from expander.checks.marking import mark as marked
    from expander.checks.wording import as_json, as_text
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place

    if mark:
        _not_the_input(mark, [score])
    document = _read(score)
    line_up = load_ensemble(ensemble) if ensemble else None
    with _told("checking"):
        findings = run(
            document, ensemble=line_up, level=level.value, only=only or (), skip=skip or ()
        )
    if mark:
        put_in_place({mark: file_bytes(marked(document, findings), mark)})
    if format is Format.JSON:
        typer.echo(json.dumps(as_json(findings), ensure_ascii=False, indent=1))
    else:
        typer.echo(as_text(findings), nl=False)
    if any(finding.severity == "error" for finding in findings):
        raise typer.Exit(SAID_BY_CHECKS)


@app.command(epilog="Example: expander outline song.musicxml -r song.yaml -o song.html")
def outline(
    sketch: Annotated[Path, typer.Argument(help="A short score or a full score (MusicXML).")],
    rules: RulesOption = None,
    ensemble: EnsembleOption = "",
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help=".html, .pdf, .svg or .txt; without it, text here."),
    ] = None,
    lyrics: Annotated[
        bool, typer.Option("--lyrics", help="The words by section instead, with room for notes.")
    ] = False,
) -> None:
    """Show the plan of a piece on one sheet: form, words, who plays when, how full it is."""
    from expander.outline import ending_of, outline_of_plan, outline_of_score, rendered
    from expander.outputs import put_in_place
    from expander.pipeline import expand_file

    ending = ending_of(output) if output else ".txt"
    if output:
        _not_the_input(output, [sketch, rules])
    document = _read(sketch)
    with _told("expanding"):
        done = expand_file(document, rules, ensemble) if rules or ensemble else None
        told = outline_of_plan(document, done) if done else outline_of_score(document)
    if output is None:
        typer.echo(rendered(told, ending, lyrics=lyrics).decode(), nl=False)
        return
    with _told("drawing"):
        put_in_place({output: rendered(told, ending, lyrics=lyrics)})


@app.command(epilog="Example: expander proof score.musicxml --sketch song.musicxml -o proof.html")
def proof(
    score: ScoreArgument,
    output: Annotated[Path, typer.Option("-o", "--output", help="The page: .html or .pdf.")],
    ensemble: EnsembleOption = "",
    sketch: Annotated[
        Path | None, typer.Option(help="Show this short score above the score.")
    ] = None,
    only: OnlyOption = None,
    skip: SkipOption = None,
    level: LevelOption = Level.PROFESSIONAL,
) -> None:
    """Engrave a score or part with what the checks find at its notes, to see and to hear."""
    from expander.catalogue.ensembles import load_ensemble
    from expander.checks import run
    from expander.outputs import put_in_place
    from expander.proof import ending_of, proof_of, rendered

    _not_the_input(output, [score, sketch])
    ending = ending_of(output)
    document, above = _read(score), _read(sketch) if sketch else None
    line_up = load_ensemble(ensemble) if ensemble else None
    with _told("checking"):
        findings = run(
            document, ensemble=line_up, level=level.value, only=only or (), skip=skip or ()
        )
    with _told("engraving"):
        made = proof_of(document, findings, sketch=above, ensemble=line_up)
        put_in_place({output: rendered(made, ending)})
    for remark in made.remarks:
        _warn(f"{output}: {remark}")


@app.command(epilog="Example: expander watch song.musicxml -r s.yaml -o full.mxl --proof p.html")
def watch(
    sketch: SketchArgument,
    output: OutOption,
    rules: RulesOption = None,
    ensemble: EnsembleOption = "",
    proof: Annotated[
        Path | None, typer.Option(help="Also make this proof (.html) and show it, always fresh.")
    ] = None,
    above: Annotated[
        bool, typer.Option("--above", help="Show the short score above the score in the proof.")
    ] = False,
    port: Annotated[int, typer.Option(help="Where on this machine; 0 takes a free port.")] = 0,
) -> None:
    """Make the score again whenever the short score or the rules are saved; Ctrl-C stops."""
    from expander.watch import Watch, Wish

    for made in filter(None, (output, proof)):
        _not_the_input(made, [sketch, rules])
    Watch(Wish(sketch, output, rules, ensemble, proof, above), _warn, port).run()


@app.command("reduce", epilog="Example: expander reduce symphony.musicxml -o sketch.musicxml")
def reduce_(
    score: ScoreArgument,
    output: OutOption,
    staves: Annotated[
        int, typer.Option(help="How many staves, 2 to 5; left out: as many as it needs.")
    ] = 0,
) -> None:
    """Write a full score as a short score: tune, counter-lines, inner parts, bass, percussion."""
    from expander.musicxml import file_bytes, read
    from expander.outputs import put_in_place
    from expander.revoice.commands import ledger_of, reduce_document

    _not_the_input(output, [score])
    with _told("reducing"):
        done = reduce_document(read(score), staves)
        put_in_place({output: file_bytes(done.score, output)})
    typer.echo(f"{output}: {', '.join(done.staves)}. {ledger_of(done.ledger)}", err=True)


@app.command(
    epilog="Example: expander revoice symphony.musicxml -e woodwind-quintet -o quintet.musicxml"
)
def revoice(
    score: ScoreArgument,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="The file to write.")
    ] = None,
    ensemble: EnsembleOption = "",
    rules: RulesOption = None,
    pitch: Annotated[
        Pitch | None, typer.Option(help="Show the score transposed or at concert pitch.")
    ] = None,
    transpose: Annotated[
        str, typer.Option(help="Another key: an interval (M3, -m2), semitones (+2) or a key (Eb).")
    ] = "",
    find_key: Annotated[
        str, typer.Option(help="Only suggest keys in which the tune suits this voice.")
    ] = "",
    report: Annotated[
        Path | None, typer.Option(help="Also write the report to this JSON file.")
    ] = None,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit with 1 where the checks find errors.")
    ] = False,
) -> None:
    """Write the same music for another line-up, in another key, or both."""
    from expander.musicxml import file_bytes, read
    from expander.outputs import put_in_place
    from expander.revoice import commands

    with _told("reading"):
        document = read(score)
    if find_key:
        for line in commands.keys_for(document, find_key):
            typer.echo(line)
        return
    if output is None:
        raise BadUsage("no file to write is named.", hint="Name one with --output.")
    _not_the_input(output, [score, rules, report])
    wanted = commands.Wanted(ensemble, rules, pitch.value if pitch else "", transpose)
    with _told("revoicing"):
        done = commands.revoice_document(document, wanted)
        files = {output: file_bytes(done.score, output)}
        if report:
            files[report] = commands.report_of(done).encode()
        put_in_place(files)
    _warn(f"{output}: {commands.told_of(done)}")
    if strict and commands.has_errors(done):
        raise typer.Exit(SAID_BY_CHECKS)


@app.command("list", epilog="Example: expander list ensembles")
def list_(what: Annotated[Listing, typer.Argument(help="What to list.")]) -> None:
    """Show what is shipped: instruments, ensembles, voicings, checks, techniques."""
    from expander import listing

    for line in listing.lines(what.value):
        typer.echo(line)


def _read(path: Path) -> Document:
    """Read a score, saying on standard error what was odd in it."""
    from expander.musicxml import read

    with _told("reading"):
        document = read(path)
    for oddity in document.warnings:
        _warn(f"{path}:{oddity.line}: {oddity.message}" if oddity.line else oddity.message)
    return document


def _errors(done: Expanded) -> bool:
    return any(f.severity == "error" for f in done.findings)


def _summarise(done: Expanded, output: Path) -> None:
    """What happened, on standard error: errors in full, the rest counted."""
    from expander.report import CAUTION, ledger_line, place

    for finding in done.findings:
        if finding.severity == "error":
            _warn(f"{place(finding)}{finding.message}")
    counts = {s: sum(f.severity == s for f in done.findings) for s in ("error", "warning", "note")}
    told = ", ".join(f"{n} {s}{'s' * (n != 1)}" for s, n in counts.items())
    typer.echo(f"{output}: {ledger_line(done.ledger)} Findings: {told}.", err=True)
    if any(counts.values()):
        typer.echo(CAUTION, err=True)


def _warn(text: str) -> None:
    typer.echo(printable(text), err=True)


def _not_the_input(output: Path | None, others: list[Path | None]) -> None:
    """Refuse to write over what is read, or over another output."""
    for other in others:
        if output is not None and other is not None and _same_file(other, output):
            raise BadUsage(
                f"the output {output} is another file of this command too.",
                hint="Choose another name for it.",
            )


def _same_file(one: Path, other: Path) -> bool:
    try:
        return one.resolve() == other.resolve() or one.samefile(other)
    except (OSError, RuntimeError, ValueError):  # links in a circle, names no disk can hold
        return False


@contextmanager
def _told(doing: str) -> Iterator[None]:
    """Say on a terminal what is being done; stay quiet in a pipe."""
    if not sys.stderr.isatty():
        yield
        return
    sys.stderr.write(f"\r\033[K{doing} …")
    sys.stderr.flush()
    try:
        yield
    finally:
        sys.stderr.write("\r\033[K")
        sys.stderr.flush()


add_to(app)


def _stopped(*_: object) -> None:
    """Being asked to stop is the same as Ctrl-C: what was begun is cleared away."""
    raise KeyboardInterrupt


def main() -> None:
    """Run the program: errors a user can cause are one message and exit status 2."""
    gc.disable()  # scores are trees of values without cycles; looking for any takes a fifth longer
    signal.signal(signal.SIGTERM, _stopped)
    try:
        app()
    except ExpanderError as error:
        typer.echo(error.message, err=True)
        sys.exit(error.exit_status)
    except KeyboardInterrupt:
        typer.echo("Interrupted; nothing was written.", err=True)
        sys.exit(INTERRUPTED)
