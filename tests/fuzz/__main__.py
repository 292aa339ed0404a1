"""Many mutated inputs, on request; what fails is kept.

    python -m tests.fuzz [--count 20000] [--seed 1] [--keep FOLDER] [--guided SECONDS]

Each input is a score or a rule file mutated with its structure in mind and sent through the whole
program. Kept for each fault (once for each place in the code): the input and the traceback.
`--guided` lets atheris choose by coverage, where it is installed.
"""

from __future__ import annotations

import argparse
import random
import resource
import signal
import sys
import time
import traceback
from collections import Counter
from pathlib import Path

from tests.fuzz import trial
from tests.fuzz.mutate import Choices, Randomly, mutated_rules, mutated_score, pick

SECONDS = 10
MEMORY = 2_000_000_000


class Slow(Exception):
    """More than the allowed seconds (of the processor) for one input."""


def one(choices: Choices) -> tuple[str, bytes, str]:
    """A kind of trial, with its mutated input and what else it takes."""
    kind = choices.below(21)
    if kind < 3:
        return "rules", mutated_rules(pick(choices, trial.rule_files()), choices).encode(
            "utf-8", "surrogatepass"
        ), ""  # fmt: skip
    lent = pick(choices, trial.scores()) if choices.below(2) else None
    data = mutated_score(pick(choices, trial.scores()), choices, lent)
    if kind < 15:
        return "expand", data, pick(choices, trial.LINE_UPS)
    return ("check", "check", "parts", "reduce", "outline", "merge")[kind - 15], data, ""


def tried(kind: str, data: bytes, line_up: str) -> str:
    """What came of it: refused, written, done."""
    if kind == "rules":
        done = trial.expanded(trial.sample(), "", data.decode("utf-8", "surrogatepass"))
        return "refused" if done.refused else "written"
    if kind == "expand":
        return "refused" if trial.expanded(data, line_up).refused else "written"
    trial.further(data, kind)
    return "done"


def _late(*_) -> None:
    raise Slow(f"more than {SECONDS} s")


def place_of(error: BaseException) -> str:
    """The kind of fault and the last line of the program it passed through."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/expander/" in f.filename]
    last = frames[-1] if frames else None
    where = f"{Path(last.filename).name}:{last.name}" if last else "?"
    said = str(error).split("'")[0][:60] if isinstance(error, trial.Broken) else ""
    return f"{type(error).__name__} {where} {said}".strip()


def run(count: int, seed: int, keep: Path) -> Counter[str]:
    """The trials, each with a seed of its own so that it can be had again."""
    signal.signal(signal.SIGPROF, _late)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    found: Counter[str] = Counter()
    begun = time.monotonic()
    for number in range(count):
        kind, data, line_up = one(Randomly(random.Random(f"{seed}/{number}")))
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        try:
            outcome = tried(kind, data, line_up)
        except Exception as error:  # what must not happen is what is looked for
            outcome = f"FAULT {kind} {place_of(error)}"
            if outcome not in found:
                _keep(keep, number, kind, data, line_up, error)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        found[outcome if outcome.startswith("FAULT") else f"{kind}: {outcome}"] += 1
        if number % 500 == 499:
            print(f"{number + 1} after {time.monotonic() - begun:.0f} s: {dict(found)}", flush=True)
    return found


def _keep(keep: Path, number: int, kind: str, data: bytes, line_up: str, error) -> None:
    keep.mkdir(parents=True, exist_ok=True)
    ending = "yaml" if kind == "rules" else "musicxml"
    (keep / f"{number}-{kind}.{ending}").write_bytes(data)
    said = "".join(traceback.format_exception(error))
    (keep / f"{number}-{kind}.txt").write_text(f"{kind} {line_up}\n{said}", encoding="utf-8")


def guided(seconds: int) -> None:
    """Coverage-guided choices; stops at the first fault, whose input it writes."""
    import atheris

    class Provided:
        def __init__(self, data: bytes) -> None:
            self._data = atheris.FuzzedDataProvider(data)

        def below(self, count: int) -> int:
            return self._data.ConsumeIntInRange(0, count - 1)

    atheris.instrument_all()
    atheris.Setup(
        [sys.argv[0], f"-max_total_time={seconds}", "-timeout=60", "-rss_limit_mb=2000"],
        lambda data: tried(*one(Provided(data))),
    )
    atheris.Fuzz()


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path("fuzz-faults"))
    parser.add_argument("--guided", type=int, default=0, help="seconds")
    chosen = parser.parse_args()
    if chosen.guided:
        guided(chosen.guided)
        return
    found = run(chosen.count, chosen.seed, chosen.keep)
    for outcome, count in sorted(found.items()):
        print(f"{count:7d}  {outcome}")
    sys.exit(any(o.startswith("FAULT") for o in found))


if __name__ == "__main__":
    main()
