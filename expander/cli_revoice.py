"""The commands that start from a full score: another line-up or key, or back to a short score."""

from pathlib import Path
from typing import Annotated

import typer

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
from expander.errors import BadUsage


def add_to(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.command(
        "reduce", epilog="Example: expander reduce symphony.musicxml -o s.musicxml -r s.yaml"
    )(reduce_)
    app.command(
        epilog="Example: expander revoice symphony.musicxml -e woodwind-quintet -o quintet.musicxml"
    )(revoice)


def revoice(
    score: ScoreArgument,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="The file to write.")
    ] = None,
    ensemble: EnsembleOption = "",
    rules: RulesOption = None,
    pitch: PitchOption = None,
    transpose: Annotated[
        str, typer.Option(help="Another key: an interval (M3, -m2), semitones (+2) or a key (Eb).")
    ] = "",
    find_key: Annotated[
        str, typer.Option(help="Only suggest keys in which the tune suits this voice.")
    ] = "",
    report: ReportOption = None,
    strict: StrictOption = False,
) -> None:
    """Write the same music for another line-up, in another key, or both."""
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place
    from expander.revoice import commands

    document = read_and_tell(score)
    if find_key:
        for line in commands.keys_for(document, find_key):
            typer.echo(line)
        return
    if output is None:
        raise BadUsage("no file to write is named.", hint="Name one with --output.")
    not_the_input(output, [score, rules, report])
    wanted = commands.Wanted(ensemble, rules, pitch.value if pitch else "", transpose)
    with told("revoicing"):
        done = commands.revoice_document(document, wanted)
        files = {output: file_bytes(done.score, output)}
        if report:
            files[report] = commands.report_of(done).encode()
        put_in_place(files)
    warn(f"{output}: {commands.told_of(done)}")
    if strict and commands.has_errors(done):
        raise typer.Exit(SAID_BY_CHECKS)


def reduce_(
    score: ScoreArgument,
    output: OutOption,
    staves: Annotated[
        int, typer.Option(help="How many staves, 2 to 5; left out: as many as it needs.")
    ] = 0,
    rules: Annotated[
        Path | None,
        typer.Option(
            "-r", "--rules", help="Also write this rule file, which gives all back to its players."
        ),
    ] = None,
) -> None:
    """Write a full score as a short score: tune, counter-lines, inner parts, bass, percussion.

    With --rules each line can be told from the others in it, and expanding it by that rule file
    gives the score back.
    """
    from expander.musicxml import file_bytes
    from expander.outputs import put_in_place
    from expander.revoice import commands

    line_up = commands.line_up_beside(rules) if rules else None
    for made in filter(None, (output, rules, line_up)):
        not_the_input(made, [score, *(o for o in (output, rules, line_up) if o is not made)])
    document = read_and_tell(score)
    with told("reducing"):
        done = commands.reduce_document(document, staves, exact=rules is not None)
        files = {output: file_bytes(done.score, output)}
        back = commands.give_back(done, rules, output) if rules else None
        put_in_place(files | (back.files if back else {}))
    typer.echo(f"{output}: {', '.join(done.staves)}. {commands.ledger_of(done.ledger)}", err=True)
    if back:
        warn(back.said)
