"""Real files to read: music21's conformance suite and pieces from its corpus."""

from importlib.util import find_spec
from pathlib import Path

MUSIC21 = Path(find_spec("music21").origin).parent
CONFORMANCE = sorted(
    p
    for p in (MUSIC21 / "musicxml" / "lilypondTestSuite").iterdir()
    if p.suffix in (".xml", ".mxl")
)
"""One file per feature of MusicXML; no file of it is left out anywhere."""

_NAMES = """
bach/bwv1.6 bach/bwv10.7 bach/bwv104.6 bach/bwv120.6 bach/bwv153.9 bach/bwv166.6 bach/bwv248.12-2
bach/bwv253 bach/bwv26.6 bach/bwv297 bach/bwv333 bach/bwv360 bach/bwv4.8 bach/bwv64.2 bach/bwv66.6
bach/bwv846 beethoven/opus18no1/movement3 beach/prayer_of_a_tired_child
demos/ComprehensiveChordSymbolsTestFile demos/chord_realization_exercise
demos/chorale_with_parallels demos/nested_tuplet_finale_test demos/nested_tuplet_finale_test2
handel/rinaldo/Lascia_chio_pianga haydn/opus1no1/movement2 haydn/opus1no1/movement3
haydn/opus1no1/movement5
johnson_j_r/lift_every_voice joplin/maple_leaf_rag leadSheet/berlinAlexandersRagtime
leadSheet/fosterBrownHair liliuokalani/aloha_oe lusitano/allor_che_ignuda monteverdi/madrigal.3.1
monteverdi/madrigal.3.2 monteverdi/madrigal.4.6 monteverdi/madrigal.5.2 monteverdi/madrigal.5.8
mozart/k155/movement2 mozart/k155/movement3
mozart/k545/movement1_exposition schoenberg/opus19/movement2 schoenberg/opus19/movement6
schubert/Lindenbaum schumann_clara/polonaise_op1n1 schumann_clara/polonaise_op1n2
schumann_clara/polonaise_op1n3 schumann_clara/polonaise_op1n4
 schumann_robert/opus48no2 theoryExercises/TriadExercise
theoryExercises/checker_demo trecento/PMFC_13_01-Kyrie-Summe-Clementissime
trecento/PMFC_13_02-Kyrie-Questa-fanciulla verdi/laDonnaEMobile webern/webern_dormi_jesu_op_16_no_2
"""


def _piece(name):
    found = [MUSIC21 / "corpus" / f"{name}{ending}" for ending in (".mxl", ".xml", ".musicxml")]
    return next((path for path in found if path.exists()), found[0])


PIECES = [_piece(name) for name in _NAMES.split()]
"""Chorales, quartets, songs, piano pieces and lead sheets from several programs."""


def label(path):
    """A short name for a file in test listings."""
    return str(path.relative_to(MUSIC21)).removeprefix("musicxml/lilypondTestSuite/")
