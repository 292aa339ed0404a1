"""Files mangled at random (the same way every time): refused in words, or read and written well."""

import copy
import random

import pytest
from lxml import etree

from expander.errors import BadMusic
from expander.musicxml import read_bytes, to_bytes
from expander.sounding import origins, to_sounding
from tests.musicxml import broken as b
from tests.musicxml.corpus import CONFORMANCE
from tests.schema import assert_valid

FILES = [path for path in CONFORMANCE if path.suffix == ".xml"]
TEXTS = ["", "0", "-1", "1", "7", "x", "1.5", "yes", "start", "stop", "C", "none", "up", "é", "<&>"]
NAMES = ["type", "number", "id", "placement", "color", "print-object", "location", "size", "swing"]


def _remove(rng, el, others):
    el.getparent().remove(el)


def _double(rng, el, others):
    el.getparent().insert(rng.randrange(len(el.getparent()) + 1), copy.deepcopy(el))


def _graft(rng, el, others):
    target = rng.choice(others)
    if el not in [target, *target.iterancestors()]:
        target.append(copy.deepcopy(el))


def _reword(rng, el, others):
    el.text = rng.choice(TEXTS)


def _relabel(rng, el, others):
    el.set(rng.choice([*NAMES, *el.attrib]), rng.choice(TEXTS))


def _rename(rng, el, others):
    el.tag = rng.choice(others).tag


MANGLES = (_remove, _double, _graft, _reword, _relabel, _rename)


def mangled(seed):
    """A conformance file with one to twelve things done to it."""
    rng = random.Random(seed)
    parser = etree.XMLParser(remove_comments=True)
    root = etree.parse(str(rng.choice(FILES)), parser).getroot()
    for _ in range(rng.choice([1, 2, 3, 6, 12])):
        below = [el for el in root.iter() if el is not root]
        rng.choice(MANGLES)(rng, rng.choice(below), below)
    return etree.tostring(root)


@pytest.mark.parametrize("seed", range(100))
def test_a_mangled_file_is_refused_or_comes_back_equal_and_valid(seed):
    try:
        score = read_bytes(mangled(seed), "mangled")
    except BadMusic as refusal:
        assert refusal.fault and refusal.hint
        return
    written = to_bytes(score)
    assert_valid(written)
    assert read_bytes(written, "again") == score
    numbers = list(origins(to_sounding(score)))
    assert numbers == list(range(len(numbers)))


def test_most_mangled_files_are_read():
    refused = 0
    for seed in range(60):
        try:
            read_bytes(mangled(seed), "mangled")
        except BadMusic:
            refused += 1
    assert 0 < refused < 30


@pytest.mark.parametrize("packed", [False, True], ids=["plain", "compressed"])
@pytest.mark.parametrize("seed", range(20))
def test_spoilt_bytes_are_refused_or_read(seed, packed):
    rng = random.Random(seed)
    good = b.score(b.bar(b.NOTE))
    data = bytearray(b.mxl(good) if packed else good.encode())
    for _ in range(rng.choice([1, 2, 5])):
        data[rng.randrange(len(data))] = rng.randrange(256)
    if seed % 3 == 0:
        del data[rng.randrange(len(data)) :]
    try:
        score = read_bytes(bytes(data), "spoilt")
    except BadMusic as refusal:
        assert refusal.fault and refusal.hint
    else:
        assert_valid(to_bytes(score))
