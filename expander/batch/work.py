"""What a worker does: bytes in, bytes out, no files, so that any worker anywhere does the same."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from msgspec import Struct

from expander import __version__
from expander.errors import ExpanderError
from expander.model.instrument import Ensemble
from expander.model.rules import Rules

SCORE = "score.musicxml"
REPORT = "report.json"
PARTS = "parts"


class Work(Struct, frozen=True):
    """One job ready for a worker: the sketch's bytes under its name, rules and line-up as values.

    `fingerprint` stands for all of it and goes into the report.
    """

    sketch: bytes
    sketch_name: str
    rules: Rules
    ensemble: Ensemble
    fingerprint: str
    parts: bool = False
    desks: bool = False
    pdf: bool = False


class Made(Struct, frozen=True):
    """What came of a job: files by their paths in its folder, the report last; or what was wrong.

    `counts` are figures for the summary.
    """

    files: tuple[tuple[str, bytes], ...] = ()
    counts: tuple[tuple[str, int], ...] = ()
    wrong: str = ""
    version: str = __version__


def work(job: Work) -> Made:
    """Do one job. Nothing a user or their files can cause is raised; it is in `wrong`."""
    try:
        return _done(job)
    except ExpanderError as error:
        return Made(wrong=error.message)
    except Exception as error:  # one job must not end the others, whatever its file does to us
        return Made(wrong=f"{job.sketch_name}: a fault of this program: {_said(error)}")


def _said(error: Exception) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def _done(job: Work) -> Made:
    from expander.musicxml import read_bytes
    from expander.musicxml.write import to_bytes
    from expander.pipeline import expand_score, settled
    from expander.report import as_json
    from expander.sounding import to_sounding

    sketch = to_sounding(read_bytes(job.sketch, job.sketch_name))
    rules = settled(job.rules, job.ensemble, sketch)
    done = expand_score(sketch, rules, job.ensemble)
    files = {SCORE: to_bytes(done.score)}
    data: dict[str, Any] = json.loads(as_json(done.ledger, done.findings, done.score))
    counts = {
        "bars": len(done.score.bars),
        "notes": done.ledger.notes,
        "given to nobody": len(done.ledger.unplaced),
        "errors": sum(f.severity == "error" for f in done.findings),
        "warnings": sum(f.severity == "warning" for f in done.findings),
        "parts": 0,
    }
    if job.parts:
        made, told = _parts(job, done.score)
        files.update(made)
        data["players"] = told
        counts["parts"] = len(told["parts"])
    data["job"] = {
        "fingerprint": job.fingerprint,
        "version": __version__,
        "counts": counts,
        "files": sorted(files),
    }
    files[REPORT] = (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()
    return Made(tuple(files.items()), tuple(counts.items()))


def _parts(job: Work, score: Any) -> tuple[dict[str, bytes], dict[str, Any]]:  # noqa: ANN401
    from expander.parts import Options, make_parts
    from expander.parts.command import part_files
    from expander.parts.report import data_of

    made = make_parts(score, Options(desks=job.desks))
    files = part_files(made, Path(PARTS), pdf=job.pdf)
    return {path.as_posix(): data for path, data in files.items()}, data_of(made)
