"""Small sketches for batches, and workers that work in this process."""

from __future__ import annotations

from pathlib import Path

from expander.batch.work import work
from expander.musicxml import to_bytes
from tests import mini

QUARTET = "string-quartet"


def song(bars: int = 2, first: str = "C5") -> bytes:
    """A short score of two staves: a tune and a bass."""
    tune = " | ".join([f"{first}:q D5 E5 F5"] * bars)
    bass = " | ".join(["C3:h G3"] * bars)
    return to_bytes(mini.document(f"Tune: @treble k0 t4/4 {tune} |.\nBass: @bass {bass} |."))


def write_songs(folder: Path, count: int, bars: int = 2) -> list[Path]:
    """So many different songs in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = [folder / f"song-{n:03d}.musicxml" for n in range(count)]
    for n, path in enumerate(paths):
        path.write_bytes(song(bars + n % 3, "CDEFGAB"[n % 7] + "5"))
    return paths


class Here:
    """Workers in this process, which remember what they were given."""

    def __init__(self, backwards: bool = False) -> None:
        self.backwards = backwards
        self.done: list[str] = []

    def results(self, jobs):
        for number in sorted(jobs, reverse=self.backwards):
            self.done.append(Path(jobs[number].sketch_name).stem)
            yield number, work(jobs[number])


def files_in(folder: Path) -> dict[str, bytes]:
    """Every file below a folder by its path there."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
