"""Hostile rule files and line-up files: the text or bytes of each, and the verdict (see `scores`).

They are run with the short score of two staves and four bars in `SKETCH`.
"""

from __future__ import annotations

from tests.musicxml import broken as b

SKETCH = (
    '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Tune</part-name>'
    '</score-part><score-part id="P2"><part-name>Bass</part-name></score-part></part-list>'
    + "".join(
        f'<part id="{part}">'
        + "".join(b.bar(b.NOTE, str(n), b.OPENING if n == 1 else "") for n in range(1, 5))
        + "</part>"
        for part in ("P1", "P2")
    )
    + "</score-partwise>"
).encode()

HEAD = "ensemble: string-quartet\nstrands:\n  tune: {staff: 1}\n  bass: {staff: 2}\n"
PLAN = "plan:\n  all:\n    - {play: tune, by: violin 1}\n    - {play: bass, by: cello}\n"
GOOD = HEAD + PLAN


def plan(*entries, section="all"):
    return HEAD + f"plan:\n  {section}:\n" + "".join(f"    - {entry}\n" for entry in entries)


def bomb(levels=9, wide=9):
    lines = ["a0: &a0 [x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * wide)}]" for n in range(1, levels)]
    return "\n".join(lines) + "\n"


RULES = {
    # -- YAML attacks
    "aliases that multiply": (bomb(), "no:The file holds more than 50000 values,"),
    "aliases that multiply inside the plan": (
        HEAD + "plan:\n  all: &a [{play: tune, by: &b [" + "violin 1, " * 2000 + "cello]}]\n",
        'no:"violin 1" stands twice in this list\\. Delete',
    ),
    "an alias of itself": ("plan: &a\n  all: *a\n", 'no:"\\*a" stands inside what it'),
    "an alias of nothing": ("plan: *nobody\n", 'no:"\\*nobody" repeats nothing: no "\\&nobody"'),
    "a Python object": (
        "ensemble: !!python/object/apply:os.system ['touch /tmp/owned']\n",
        'no:"!!python/object/apply:os\\.system" is not',
    ),
    "a tag of its own": (
        "ensemble: !secret septet\n",
        'no:"!secret" is not used in rule files\\. Put the',
    ),
    "a merge key": (
        "base: &b {staff: 1}\nstrands:\n  tune: {<<: *b}\n",
        'no:"base" is not known here; expected ensemble,',
    ),
    "lists a thousand deep": (
        "plan: " + "[" * 1000 + "]" * 1000,
        "no:Lists and groups stand more than 12 deep in",
    ),
    "lists a hundred thousand deep": (
        "plan: " + "[" * 100_000,
        "no:Lists and groups stand more than 12 deep in",
    ),
    "groups a thousand deep": (
        "plan: " + "{a: " * 1000 + "1" + "}" * 1000,
        "no:Lists and groups stand more than 12 deep in",
    ),
    "a key of a megabyte": (
        "k" * 400_000 + ": 1\n",
        "no:A colon stands where none was expected\\.",
    ),
    "a file of two megabytes": ("# " + "x" * 2_000_000, "no:larger"),
    "a hundred thousand keys": (
        "".join(f"k{n}: 1\n" for n in range(40_000)),
        "no:The file holds more than 50000 values,",
    ),
    "a list as a key": ("? [a, b]\n: 1\n", "no:A list or group stands where a name was"),
    "two documents": (
        GOOD + "---\n" + GOOD,
        'no:A second document begins here \\("\\-\\-\\-"\\)\\. Use',
    ),
    "a document that ends and goes on": (
        GOOD + "...\nmore: 1\n",
        "no:The indentation does not match the lines",
    ),
    "a directive": ("%YAML 9.9\n---\n" + GOOD, "no:This is not YAML: found incompatible YAML"),
    # -- bytes
    "nothing": ("", "no:empty"),
    "blanks only": ("  \n\n# a remark\n", "no:empty"),
    "NUL bytes": ("ensemble: sep\x00tet\n", "no:A control character \\(code 0\\) stands in the"),
    "a control character": ("ensemble: sep\x07tet\n", "no:control character"),
    "Latin-1": ("arranger: Zoë\n".encode("latin-1"), "no:UTF-8"),
    "UTF-16": (GOOD.encode("utf-16"), "no:The file is not UTF\\-8 text \\(byte 0xff here\\)\\."),
    "UTF-8 with a mark": (GOOD.encode("utf-8-sig"), "yes:"),
    "Windows line ends": (GOOD.replace("\n", "\r\n"), "yes:"),
    "old Macintosh line ends": (GOOD.replace("\n", "\r"), "yes:"),
    "a picture": (
        b"\x89PNG\r\n\x1a\n" + bytes(40),
        "no:The file is not UTF\\-8 text \\(byte 0x89 here\\)\\.",
    ),
    "the score itself": (SKETCH, 'no:The file holds "<score\\-partwise'),
    "JSON with the same rules": (
        '{"ensemble": "string-quartet", "strands": {"tune": {"staff": 1}, "bass": {"staff": 2}},'
        ' "plan": {"all": [{"play": "tune", "by": "violin 1"}, {"play": "bass", "by": "cello"}]}}',
        "yes:",
    ),
    # -- layout
    "a tab": (GOOD.replace("    -", "\t-"), "no:tab"),
    "indentation that wavers": (
        GOOD.replace("  bass", "   bass"),
        "no:The indentation does not match the lines",
    ),
    "a brace never closed": (
        GOOD.replace("1}\n", "1\n", 1),
        'no:The group opened here with "\\{" is not',
    ),
    "a quotation mark never closed": (
        HEAD + 'arranger: "Juno\n' + PLAN,
        "no:The quotation mark that opens here is never",
    ),
    "a list where names belong": (
        "- ensemble\n- plan\n",
        "no:The file holds a list; expected names with a",
    ),
    "a word": ("septet\n", 'no:The file holds "septet"; expected names with'),
    # -- names
    "a key twice": (GOOD + "pitch: concert\npitch: transposed\n", "no:pitch"),
    "a key that nobody knows": (GOOD + "colour: blue\n", "no:colour"),
    "an ensemble that nobody knows": (
        GOOD.replace("string-quartet", "string-quintet"),
        "no:there is no ensemble 'string\\-quintet'\\. Did",
    ),
    "an ensemble out of the folder": (
        GOOD.replace("string-quartet", "../../../../etc/passwd"),
        "no:'\\.\\./\\.\\./\\.\\./\\.\\./etc/passwd' is no ensemble",
    ),
    "an ensemble that is a device": (
        GOOD.replace("string-quartet", "/dev/zero"),
        "no:'/dev/zero' is no ensemble file: its name",
    ),
    "an ensemble that is this file": (GOOD.replace("string-quartet", "song.yaml"), "no:'title' is"),
    "an ensemble with a NUL": (
        GOOD.replace("string-quartet", '"a\\0b.yaml"'),
        "no:there is no ensemble file 'a\\\\x00b\\.yaml'\\. It",
    ),
    "an ensemble with a very long name": (
        GOOD.replace("string-quartet", "a" * 5000 + ".yaml"),
        "no:there is no ensemble file",
    ),
    "a strand that nobody knows": (plan("{play: tuna, by: violin 1}"), "no:tuna"),
    "a player that nobody knows": (plan("{play: tune, by: kazoo}"), "no:kazoo"),
    "a mark that the sketch has not": (GOOD + "form:\n  verse: {mark: Z}\n", "no:Z"),
    "bars that the sketch has not": (GOOD + "form:\n  verse: {bars: 90-99}\n", "no:90"),
    "bars in thousand millions": (
        GOOD + "form:\n  verse: {bars: 1-999999999999}\n",
        "no:bars: the sketch has no bar 999999999999;",
    ),
    "a staff that the sketch has not": (GOOD.replace("staff: 2", "staff: 9"), "no:9"),
    "a staff of nothing": (
        GOOD.replace("staff: 2", "staff: 0"),
        'no:staff: "0" is too small; expected 1 or',
    ),
    "a layer that the sketch has not": (
        GOOD.replace("{staff: 2}", "{staff: 2, layer: 7}"),
        "no:layer: staff 2 has no layer 7; expected",
    ),
    "a number beyond all numbers": (GOOD.replace("staff: 2", "staff: " + "9" * 5000), "no:staff:"),
    "a section that has no form": (
        HEAD + "plan:\n  bridge:\n    - {play: tune, by: violin 1}\n",
        "no:bridge",
    ),
    "a technique that nobody knows": (
        plan("{play: tune, by: violin 1, as: yodelling}"),
        "no:yodelling",
    ),
    "a mute for a singer": (
        plan("{play: tune, by: violin 1, mute: harmon}"),
        'no:mute: "harmon" is for brass, not for violin',
    ),
    "a dynamic that nobody knows": (plan("{play: tune, by: violin 1, dynamic: loud}"), "no:loud"),
    "ninety octaves up": (plan("{play: tune, by: violin 1, octave: 90}"), "no:90"),
    "four octaves up": (plan("{play: tune, by: violin 1, octave: 4}"), "yes:"),
    "a name that turns the reading direction": (plan("{play: tune, by: '\u202eviolin 1'}"), "yes:"),
    "a name of a megabyte": (plan("{play: tune, by: " + "v" * 300_000 + "}"), "no:by:"),
    "an arranger of 300 kB": ("arranger: " + "A" * 300_000 + "\n" + GOOD, "yes:"),
    "an arranger with XML in it": ('arranger: "<b>&amp;"\n' + GOOD, "yes:"),
    # -- contradictions
    "a block under itself": (
        HEAD.replace("bass: {staff: 2}", "bass: {under: bass, voicing: close, voices: 4}") + PLAN,
        'no:under: "bass" goes round in a circle: bass',
    ),
    "two blocks under each other": (
        HEAD + "  one: {under: two, voicing: close, voices: 4}\n"
        "  two: {under: one, voicing: close, voices: 4}\n" + PLAN,
        'no:under: "two" goes round in a circle: one \\->',
    ),
    "a rhythm of itself": (
        HEAD + "  pad: {chords: symbols, voicing: close, voices: 4, rhythm: pad}\n" + PLAN,
        'no:rhythm: "pad" goes round in a circle: pad \\->',
    ),
    "chords where there are no symbols": (
        HEAD + "  pad: {chords: symbols, voicing: close, voices: 4}\n"
        "plan:\n  all:\n    - {play: pad, by: violin 1}\n",
        'no:"pad" is built from chord symbols, but the',
    ),
    "a figure longer than the piece": (
        HEAD + "  pulse: {staff: 2, bars: 1-4, repeat: true}\n" + PLAN,
        "yes:",
    ),
    "a figure to repeat without bars": (
        HEAD + "  pulse: {staff: 2, repeat: true}\n" + PLAN,
        'no:"pulse" is to be repeated but does not say',
    ),
    "one player, two lines at once": (
        plan("{play: tune, by: violin 1}", "{play: bass, by: violin 1}"),
        "yes:",
    ),
    "one player, the same line twice": (
        plan("{play: tune, by: violin 1}", "{play: tune, by: violin 1}"),
        "yes:",
    ),
    "a player given a line and themselves": (
        plan("{play: tune, by: [violin 1, violin 1]}"),
        "no:twice",
    ),
    "sections that overlap": (
        GOOD + "  verse:\n    - {play: tune, by: viola}\n  chorus:\n    - {play: bass, by: viola}\n"
        "form:\n  verse: {bars: 1-3}\n  chorus: {bars: 2-4}\n",
        'no:Sections "verse" and "chorus" share bars 2',
    ),
    "strands and no plan": (HEAD, "yes:"),
    "a plan and no strands": ("ensemble: string-quartet\n" + PLAN, "no:tune"),
    "a plan for nobody": (plan("{play: tune, by: []}"), "no:empty"),
    "an empty plan": (HEAD + "plan: {}\n", "yes:"),
    "no ensemble at all": (GOOD.replace("ensemble: string-quartet\n", ""), "no:line-up"),
    "words where numbers belong": (GOOD.replace("staff: 2", "staff: two"), "no:two"),
    "nothing after every colon": (
        "ensemble:\nstrands:\nplan:\n",
        "no:no line\\-up is named\\. Name one with",
    ),
}

LINE_UP = "title: Duo\nplayers:\n  - {name: high, plays: flute}\n  - {name: low, plays: cello}\n"

LINE_UPS = {
    "nothing": ("", "no:'title' is"),
    "no players": ("title: Nobody\nplayers: []\n", "no:'players': the list is empty or too"),
    "no title": ("players: [flute]\n", "no:title"),
    "an instrument that nobody knows": (LINE_UP.replace("cello", "kazoo"), "no:kazoo"),
    "a player twice": (LINE_UP.replace("name: low", "name: high"), "no:high"),
    "five thousand flutes": (
        "title: Many\nplayers:\n" + "".join("  - flute\n" for _ in range(5000)),
        "no:there are two players 'flute'\\. Number them:",
    ),
    "a staff for nobody": (LINE_UP + "staves:\n  - [high, nobody]\n", "no:nobody"),
    "a staff for the same player twice": (
        LINE_UP + "staves:\n  - [high, high]\n",
        "no:'high' stands on two",
    ),
    "unlike players on a staff": (
        LINE_UP + "staves:\n  - [high, low]\n",
        "no:'high', 'low' cannot share a staff: they",
    ),
    "a bracket over nobody": (LINE_UP + "brackets:\n  - nobody\n", "no:nobody"),
    "brackets that cross": (
        LINE_UP.replace("players:", "players:\n  - {name: mid, plays: viola}")
        + "brackets:\n  - {over: [mid, high]}\n  - {over: [high, low]}\n",
        "no:two brackets cross; one must lie inside the",
    ),
    "a group of itself": (
        LINE_UP + "groups:\n  all: [all]\n",
        "no:there is no player or group 'all' in this",
    ),
    "a section of sixty thousand": (LINE_UP.replace("cello", "cello, size: 60000"), "no:60000"),
    "a key that nobody knows": (LINE_UP + "colour: blue\n", "no:colour"),
    "aliases that multiply": (bomb() + LINE_UP, "no:too much inside one another\\. Write repeated"),
    "a tab": (LINE_UP.replace("  -", "\t-"), "no:tab"),
    "a picture": (
        b"\x89PNG\r\n\x1a\n" + bytes(40),
        "no:the file is not UTF\\-8 text\\. Save it as",
    ),
    "Latin-1": ("title: Zoë\n".encode("latin-1") + LINE_UP.encode(), "no:UTF-8"),
    "a name of a megabyte": (LINE_UP.replace("Duo", "D" * 1_000_000), "yes:"),
    "a good one": (LINE_UP, "yes:"),
}
