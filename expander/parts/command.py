"""The command: a score file in, a folder of parts out."""

from __future__ import annotations

from pathlib import Path

from expander.errors import BadUsage, CannotWrite, Spot
from expander.model.score import Document
from expander.musicxml import file_bytes
from expander.outputs import put_in_place
from expander.parts.make import Options, PartSet, make_parts
from expander.parts.report import as_json


def write_parts(
    score: Document,
    folder: Path,
    options: Options,
    *,
    pdf: bool = False,
    report: Path | None = None,
    source: Path | None = None,
) -> PartSet:
    """Make the parts of a score and put them into a folder, which is made where it is missing.

    With `pdf` each part is also engraved. `source` is the score's own file. Raises CannotWrite,
    in which case no file was changed; BadUsage where a part would take the place of `source`, and
    for `pdf` without the libraries that engrave.
    """
    made = make_parts(score, options)
    files = part_files(made, folder, pdf=pdf)
    if report:
        files[report] = as_json(made).encode()
    for path in files if source else ():
        if source and path.exists() and path.samefile(source):
            raise BadUsage(f"{path} is the score itself.", hint="Name another folder or report.")
    made_folder(folder)
    put_in_place(files)
    return made


def part_files(made: PartSet, folder: Path, *, pdf: bool) -> dict[Path, bytes]:
    """The files of a set of parts by their paths."""
    files: dict[Path, bytes] = {}
    for part in made.parts:
        path = folder / f"{part.stem}.musicxml"
        files[path] = file_bytes(part.document, path)
    if pdf:
        from expander.parts.pdf import pdf_of

        files.update({folder / f"{part.stem}.pdf": pdf_of(part) for part in made.parts})
    return files


def made_folder(folder: Path) -> None:
    """Make a folder for outputs. Raises CannotWrite, BadUsage where a file has its name."""
    if folder.exists() and not folder.is_dir():
        raise BadUsage(f"{folder} is a file; a folder was expected.", hint="Name another folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CannotWrite(
            f"the folder could not be made ({error.strerror or error}); nothing was changed.",
            at=Spot(str(folder)),
            hint="Check that the folder above it may be written to.",
        ) from error
