"""Real input: pieces of music21's corpus (songs, lead sheets, piano, chorales, choirs, quartets).

The corpus comes with music21, a test dependency; nothing of it is kept here.
"""

from __future__ import annotations

from pathlib import Path

import music21

CORPUS = Path(music21.__file__).parent / "corpus"
SUITE = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"

SONGS = (
    "johnson_j_r/lift_every_voice.mxl",
    "liliuokalani/aloha_oe.mxl",
    "handel/rinaldo/Lascia_chio_pianga.mxl",
    "verdi/laDonnaEMobile.mxl",
    "schumann_robert/opus48no2.mxl",
    "beach/prayer_of_a_tired_child.musicxml",
    "schubert/Lindenbaum.xml",
    "demos/multiple-verses.xml",
    "webern/webern_dormi_jesu_op_16_no_2.mxl",
)
LEAD_SHEETS = (
    "leadSheet/berlinAlexandersRagtime.mxl",
    "leadSheet/fosterBrownHair.mxl",
    "demos/ComprehensiveChordSymbolsTestFile.mxl",
)
PIANO = (
    "joplin/maple_leaf_rag.mxl",
    "schoenberg/opus19/movement2.mxl",
    "schoenberg/opus19/movement6.mxl",
    "schumann_clara/polonaise_op1n1.mxl",
    "schumann_clara/polonaise_op1n2.mxl",
    "schumann_clara/polonaise_op1n3.mxl",
    "schumann_clara/polonaise_op1n4.mxl",
    "mozart/k545/movement1_exposition.mxl",
    "cpebach/h186.mxl",
)
QUARTETS = (
    "haydn/opus1no1/movement2.mxl",
    "haydn/opus1no1/movement4.mxl",
    "haydn/opus1no1/movement5.mxl",
    "haydn/opus74no1/movement3.mxl",
    "mozart/k80/movement3.mxl",
    "mozart/k80/movement4.mxl",
    "mozart/k156/movement3.mxl",
    "mozart/k156/movement4.mxl",
    "mozart/k458/movement2.mxl",
    "beethoven/opus18no1/movement3.mxl",
    "schumann_robert/opus41no1/movement2.mxl",
)
CHOIRS = (
    "ciconia/quod_jactatur.xml",
    "lusitano/allor_che_ignuda.mxl",
    "monteverdi/madrigal.3.9.mxl",
    "monteverdi/madrigal.3.14.mxl",
    "monteverdi/madrigal.4.9.mxl",
    "monteverdi/madrigal.4.18.mxl",
    "trecento/PMFC_13_01-Kyrie-Summe-Clementissime.mxl",
    "trecento/PMFC_13_02-Kyrie-Questa-fanciulla.mxl",
)
OTHERS = (
    "corelli/opus3no1/1grave.xml",
    "weber/concertino_clarinet.mxl",
    "demos/nested_tuplet_finale_test.xml",
    "demos/incorrect_time_signature_pv.mxl",
    "demos/chorale_with_parallels.mxl",
    "theoryExercises/checker_demo.mxl",
)
CHORALES = tuple(
    f"bach/{name}.mxl"
    for name in [
        "bwv66.6",
        "bwv165.6",
        "bwv125.6",
        "bwv145-a",
        "bwv244.10",
        "bwv248.23-s",
        "bwv5.7",
        "bwv7.7",
        "bwv10.7",
        "bwv20.7",
        "bwv26.6",
        "bwv33.6",
        "bwv40.8",
        "bwv48.3",
        "bwv57.8",
        "bwv64.8",
        "bwv85.6",
        "bwv99.6",
        "bwv108.6",
        "bwv151.5",
    ]
)

PIECES = (*SONGS, *LEAD_SHEETS, *PIANO, *QUARTETS, *CHOIRS, *OTHERS, *CHORALES)
