"""The command line: arguments, printing, exit status. Heavy rooms are imported where used."""

import gc
import json
import signal
import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from expander import __version__, cli_merge, cli_players, cli_revoice
from expander.cli_common import (
    SAID_BY_CHECKS,
    EnsembleOption,
    OutOption,
    PitchOption,
    ReportOption,
    RulesOption,
    ScoreArgument,
    StrictOption,
    not_the_input,
    read_and_tell,
    told,
    warn,
)
from expander.errors import ExpanderError

if TYPE_CHECKING:
    from expander.pipeline import Expanded

INTERRUPTED = 130
MOST_TOLD = 40
"""Errors printed after expanding; a screen or two."""

app = typer.Typer(
    name="expander",
    help="Expands a MusicXML short score into a full score for a given line-up.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


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
OnlyOption = Annotated[
    list[str] | None, typer.Option(help="Run this check only (may be repeated).")
]
SkipOption = Annotated[
    list[str] | None, typer.Option(help="Leave this check out (may be repeated).")
]
LevelOption = Annotated[Level, typer.Option(help="Who will play: chooses the ranges.")]


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
    pitch: PitchOption = None,
    report: ReportOption = None,
    strict: StrictOption = False,
) -> None:
    """Write a short score out in full for a line-up, by a rule file or by register."""
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place
    from expander.pipeline import expand_file
    from expander.report import as_json

    line_up = Path(ensemble) if ensemble else None
    for made in (output, report):
        not_the_input(made, [sketch, rules, line_up, output if made is report else None])
    document = read_and_tell(sketch)
    with told("expanding"):
        done = expand_file(document, rules, ensemble, pitch.value if pitch else "")
    with told("writing"):
        files = {output: file_bytes(done.score, output)}
        if report:
            text = as_json(done.ledger, done.findings, done.score)
            files[report] = text.encode()
        put_in_place(files)
    _summarise(done, output, report)
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

    not_the_input(output, [sketch])
    text = first_rules_for(read_and_tell(sketch), ensemble, str(sketch), str(output))
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
        not_the_input(mark, [score])
    document = read_and_tell(score)
    line_up = load_ensemble(ensemble) if ensemble else None
    with told("checking"):
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
        not_the_input(output, [sketch, rules])
    document = read_and_tell(sketch)
    with told("expanding"):
        done = expand_file(document, rules, ensemble) if rules or ensemble else None
        found = outline_of_plan(document, done) if done else outline_of_score(document)
    if output is None:
        typer.echo(rendered(found, ending, lyrics=lyrics).decode(), nl=False)
        return
    with told("drawing"):
        put_in_place({output: rendered(found, ending, lyrics=lyrics)})


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

    not_the_input(output, [score, sketch])
    ending = ending_of(output)
    document, above = read_and_tell(score), read_and_tell(sketch) if sketch else None
    line_up = load_ensemble(ensemble) if ensemble else None
    with told("checking"):
        findings = run(
            document, ensemble=line_up, level=level.value, only=only or (), skip=skip or ()
        )
    with told("engraving"):
        made = proof_of(document, findings, sketch=above, ensemble=line_up)
        put_in_place({output: rendered(made, ending)})
    for remark in made.remarks:
        warn(f"{output}: {remark}")


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
        not_the_input(made, [sketch, rules])
    Watch(Wish(sketch, output, rules, ensemble, proof, above), warn, port).run()


@app.command("list", epilog="Example: expander list ensembles")
def list_(what: Annotated[Listing, typer.Argument(help="What to list.")]) -> None:
    """Show what is shipped: instruments, ensembles, voicings, checks, techniques."""
    from expander import listing

    for line in listing.lines(what.value):
        typer.echo(line)


def _errors(done: "Expanded") -> bool:
    return any(f.severity == "error" for f in done.findings)


def _summarise(done: "Expanded", output: Path, report: Path | None) -> None:
    """What happened, on standard error: the errors, as many as can be read, the rest counted."""
    from expander.report import CAUTION, ledger_line, place

    errors = [finding for finding in done.findings if finding.severity == "error"]
    for finding in errors[:MOST_TOLD]:
        warn(f"{place(finding)}{finding.message}")
    if len(errors) > MOST_TOLD:
        where = f"all are in {report}." if report else "--report FILE writes them all down."
        warn(f"... and {len(errors) - MOST_TOLD} more errors; {where}")
    counts = {s: sum(f.severity == s for f in done.findings) for s in ("error", "warning", "note")}
    numbers = ", ".join(f"{n} {s}{'s' * (n != 1)}" for s, n in counts.items())
    typer.echo(f"{output}: {ledger_line(done.ledger)} Findings: {numbers}.", err=True)
    if any(counts.values()):
        typer.echo(CAUTION, err=True)


cli_players.add_to(app)
cli_revoice.add_to(app)
cli_merge.add_to(app)


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
