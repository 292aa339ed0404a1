"""Helpers for tests of the MusicXML room."""

import zipfile

import pytest


@pytest.fixture
def plain():
    """Gives the XML in a file of music21's, unpacked with the standard library alone."""
    return _plain


def _plain(path):
    if path.suffix != ".mxl":
        return path.read_bytes()
    with zipfile.ZipFile(path) as archive:
        names = [n for n in archive.namelist() if n.endswith(("xml",)) and "META-INF" not in n]
        return archive.read(names[0])
