"""Line-ups: the shipped ones, files of one's own, and every mistake with its place."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import fields

from expander.catalogue import ensemblefile, entries
from expander.catalogue.ensemblefile import ensemble_schema, mistakes_in
from expander.catalogue.ensembles import load_ensemble, shipped_ensembles, without_silent
from expander.catalogue.entries import line_up
from expander.catalogue.loader import instrument_ids
from expander.catalogue.seating import known_names, seats
from expander.catalogue.yamlfile import Places
from expander.errors import BadRules, Spot

SHIPPED = (
    "big-band", "brass-quintet", "chamber-orchestra", "jazz-orchestra", "satb-choir",
    "saxophone-quartet", "septet", "string-orchestra", "string-quartet", "symphony-orchestra",
    "wind-band", "woodwind-quintet",
)  # fmt: skip


def test_twelve_line_ups_are_shipped():
    assert shipped_ensembles() == SHIPPED


# Players and staves. Sizes of the standard groups are trade knowledge; the orchestra's brass and
# woodwind in threes: Rimsky-Korsakov, Principles of Orchestration, table of wind (p. 13).
COUNTS = [
    ("string-quartet", 4, 4),
    ("string-orchestra", 5, 5),
    ("woodwind-quintet", 5, 5),
    ("brass-quintet", 5, 5),
    ("saxophone-quartet", 4, 4),
    ("satb-choir", 4, 4),
    ("septet", 7, 7),
    ("big-band", 17, 17),
    ("jazz-orchestra", 27, 26),
    ("chamber-orchestra", 21, 15),
    ("symphony-orchestra", 35, 27),
    ("wind-band", 34, 27),
]


@pytest.mark.parametrize(("name", "players", "staves"), COUNTS)
def test_a_shipped_line_up_has_its_players_and_staves(name, players, staves):
    ensemble = load_ensemble(name)
    assert (len(ensemble.players), len(ensemble.staves)) == (players, staves)
    assert ensemble.id == name and ensemble.title and ensemble.description


# Orders from the top: strings, woodwind quintet, brass quintet, saxophones, choir common practice;
# big band by family (T. Davies' and taming-the-saxophone layouts) and section.
ORDERS = [
    ("string-quartet", "violin violin viola cello"),
    ("string-orchestra", "violin violin viola cello double-bass"),
    ("woodwind-quintet", "flute oboe clarinet-bb horn bassoon"),
    ("brass-quintet", "trumpet-bb trumpet-bb horn tenor-trombone tuba"),
    ("saxophone-quartet", "soprano-sax alto-sax tenor-sax baritone-sax"),
    ("satb-choir", "soprano alto tenor bass"),
    (
        "big-band",
        "alto-sax alto-sax tenor-sax tenor-sax baritone-sax "
        "trumpet-bb trumpet-bb trumpet-bb trumpet-bb "
        "tenor-trombone tenor-trombone tenor-trombone bass-trombone "
        "electric-guitar piano double-bass drum-set",
    ),
    (
        "chamber-orchestra",
        "flute oboe clarinet-bb bassoon horn trumpet-bb timpani snare-drum harp mezzo-soprano "
        "violin violin viola cello double-bass",
    ),
]


@pytest.mark.parametrize(("name", "order"), ORDERS)
def test_staves_stand_in_the_usual_order(name, order):
    ensemble = load_ensemble(name)
    first = [ensemble.players[stave.players[0]].instrument.id for stave in ensemble.staves]
    assert first == order.split()


@pytest.mark.parametrize("name", ["chamber-orchestra", "symphony-orchestra"])
def test_an_orchestra_stands_in_the_catalogue_s_score_order_but_for_percussion_parts(name):
    ensemble = load_ensemble(name)
    orders = [
        player.instrument.order
        for player in ensemble.players
        if "percussion" not in player.instrument.family
    ]
    assert orders == sorted(orders)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_player_stands_on_exactly_one_staff(name):
    ensemble = load_ensemble(name)
    standing = [player for stave in ensemble.staves for player in stave.players]
    assert standing == list(range(len(ensemble.players)))


@pytest.mark.parametrize("name", SHIPPED)
def test_players_of_a_staff_start_on_one_instrument(name):
    ensemble = load_ensemble(name)
    for stave in ensemble.staves:
        assert len({ensemble.players[i].instrument.id for i in stave.players}) == 1


@pytest.mark.parametrize("name", SHIPPED)
def test_labels_are_different(name):
    staves = load_ensemble(name).staves
    assert len({stave.label for stave in staves}) == len({s.short for s in staves}) == len(staves)


def properly_nested(brackets):
    return all(
        b.last < a.first or a.last < b.first
        or (a.first <= b.first and b.last <= a.last)
        or (b.first <= a.first and a.last <= b.last)
        for a, b in combinations(brackets, 2)
    )  # fmt: skip


@pytest.mark.parametrize("name", SHIPPED)
def test_brackets_are_nested_and_hold_more_than_one_staff(name):
    ensemble = load_ensemble(name)
    assert properly_nested(ensemble.brackets)
    for bracket in ensemble.brackets:
        assert 0 <= bracket.first < bracket.last < len(ensemble.staves)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_group_name_resolves(name):
    ensemble = load_ensemble(name)
    for group, players in ensemble.groups.items():
        found = seats(ensemble, group)
        assert [seat.player for seat in found] == sorted(players) == list(players)
        assert all(seat.instrument == ensemble.players[seat.player].instrument for seat in found)
    for group, doubling in ensemble.doubling.items():
        assert seats(ensemble, group) == doubling
        for seat in doubling:
            assert seat.instrument in ensemble.players[seat.player].instruments


@pytest.mark.parametrize("name", SHIPPED)
def test_every_player_and_instrument_can_be_called(name):
    ensemble = load_ensemble(name)
    for index, player in enumerate(ensemble.players):
        assert [seat.player for seat in seats(ensemble, player.name)] == [index]
        for one in player.instruments:
            key = f" in {one.key}" if one.key else ""
            assert seats(ensemble, one.name + key)


# Brackets: family brackets are published (taming-the-saxophone, A. Balcomb), the thinner one for
# flutes with piccolo, first with second violins and horns too (Music Theory Online, lesson 26).
BRACKETS = [
    ("string-quartet", [(0, 3, "bracket")]),
    ("string-orchestra", [(0, 4, "bracket"), (0, 1, "square")]),
    ("satb-choir", [(0, 3, "bracket")]),
    (
        "symphony-orchestra",
        [
            (0, 7, "bracket"), (0, 1, "square"), (2, 3, "square"), (4, 5, "square"),
            (6, 7, "square"), (8, 14, "bracket"), (8, 9, "square"), (10, 11, "square"),
            (12, 13, "square"), (15, 18, "bracket"), (22, 26, "bracket"), (22, 23, "square"),
        ],
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "brackets"), BRACKETS)
def test_families_and_like_instruments_are_bracketed(name, brackets):
    found = load_ensemble(name).brackets
    assert [(one.first, one.last, one.symbol) for one in found] == brackets


def test_barlines_do_not_run_through_the_words_of_a_choir():
    assert not load_ensemble("satb-choir").brackets[0].barlines


# Tempo above the top staff and again above the first violins: MOLA guidelines.
@pytest.mark.parametrize(
    ("name", "labels"),
    [
        ("symphony-orchestra", ["Piccolo", "Violin I"]),
        ("chamber-orchestra", ["Flutes 1. 2.", "Violin I"]),
        ("jazz-orchestra", ["Alto Saxophone in E♭ 1", "Violin I"]),
        ("string-quartet", ["Violin I"]),
        ("wind-band", ["Piccolo"]),
        ("septet", ["Flute"]),
    ],
)
def test_tempo_stands_on_top_and_above_an_orchestra_s_violins(name, labels):
    ensemble = load_ensemble(name)
    assert [ensemble.staves[index].label for index in ensemble.top_staves] == labels


LABELS = [
    ("chamber-orchestra", "Clarinets in B♭ 1. 2.", "Cl. 1. 2."),
    ("symphony-orchestra", "Horns in F 3. 4.", "Hn. 3. 4."),
    ("symphony-orchestra", "Trumpet in B♭ 3", "Tpt. 3"),
    ("symphony-orchestra", "Violin II", "Vln. II"),
    ("symphony-orchestra", "Violoncello", "Vc."),
    ("wind-band", "Clarinet in B♭ 1", "Cl. 1"),
    ("wind-band", "Clarinet in E♭", "E♭ Cl."),
    ("wind-band", "Alto Saxophones in E♭ 1. 2.", "A. Sax. 1. 2."),
    ("septet", "Voice", "Vo."),
    ("big-band", "Bass Trombone", "B. Tbn."),
]


@pytest.mark.parametrize(("name", "label", "short"), LABELS)
def test_labels_name_key_and_number(name, label, short):
    assert (label, short) in [(stave.label, stave.short) for stave in load_ensemble(name).staves]


@pytest.mark.parametrize("name", ["jazz-orchestra", "chamber-orchestra", "symphony-orchestra"])
def test_the_singer_of_an_orchestra_is_optional(name):
    ensemble = load_ensemble(name)
    (seat,) = seats(ensemble, "voice")
    assert ensemble.players[seat.player].optional
    assert seat.instrument.id == "mezzo-soprano"


def test_an_optional_staff_without_music_is_left_out_and_the_rest_moves_up():
    ensemble = load_ensemble("chamber-orchestra")
    voice = ensemble.groups["voice"][0]
    less = without_silent(ensemble, set(range(len(ensemble.players))) - {voice})
    assert [stave.label for stave in less.staves if stave.label == "Voice"] == []
    assert len(less.staves) == len(ensemble.staves) - 1
    assert [less.staves[index].label for index in less.top_staves] == ["Flutes 1. 2.", "Violin I"]
    for bracket in less.brackets:
        assert bracket.last < len(less.staves)
    assert less.players == ensemble.players


def test_a_bracket_left_with_one_staff_goes():
    ensemble = load_ensemble("chamber-orchestra")
    less = without_silent(ensemble, set())
    tops = [less.staves[one.first].label for one in less.brackets]
    assert "Timpani" not in tops


def test_nothing_is_left_out_while_everybody_plays():
    ensemble = load_ensemble("jazz-orchestra")
    assert without_silent(ensemble, range(len(ensemble.players))) == ensemble


OWN = """\
title: Duo
players:
  - Clarinet in A
  - {name: lead violin, plays: Geige, label: Leader, short: Ldr.}
groups:
  everybody here: [clarinet, lead violin]
"""


@pytest.fixture
def own(tmp_path):
    def write(text):
        (tmp_path / "own.yaml").write_text(text, encoding="utf-8")
        return tmp_path

    return write


def test_one_s_own_line_up_is_read_from_beside_the_rule_file(own):
    folder = own(OWN)
    for base in (folder, folder / "own.yaml"):
        ensemble = load_ensemble("own.yaml", base)
        assert [player.label for player in ensemble.players] == ["Clarinet in A", "Leader"]
        assert ensemble.groups["everybody here"] == (0, 1)


MISTAKES = [
    ("title: x\nplayer: [a]\nplayers: [oboe]\n", 2, "'player' is not known here. Did you mean"),
    ("players: [oboe]\n", 1, "'title' is missing."),
    ("title: x\nplayers: [obo]\n", 2, "no instrument 'obo' in the catalogue. Did you mean 'oboe'?"),
    ("title: x\nplayers:\n  - {name: a, plays: [oboe, flut]}\n", 3, "Did you mean 'flute'?"),
    ("title: x\nplayers: []\n", 2, "the list is empty or too short."),
    ("title: x\nplayers: oboe\n", 2, "'oboe' where a list was expected."),
    ("title: x\nplayers: [oboe, oboe]\n", 2, "there are two players 'oboe'."),
    ("title: x\nplayers:\n  - {plays: violin, size: 0}\n", 3, "too small; the least is 1"),
    ("title: x\nplayers:\n  - {plays: violin, size: many}\n", 3, "where a whole number"),
    ("title: x\nplayers:\n  - {plays: violin, siz: 2}\n", 3, "Did you mean 'size'?"),
    ("title: x\nplayers:\n  - {name: violin}\n", 3, "'plays' is missing."),
    ("title: x\nplayers: [oboe, flute]\nstaves:\n  - [oboe, flute]\n", 4, "different instruments"),
    ("title: x\nplayers: [oboe]\nstaves:\n  - [obo]\n", 4, "no player 'obo' in this line-up."),
    (
        "title: x\nplayers:\n  - {name: oboe 1, plays: oboe}\n  - flute\n"
        "  - {name: oboe 2, plays: oboe}\nstaves:\n  - [oboe 1, oboe 2]\n",
        7,
        "not neighbours",
    ),
    (
        "title: x\nplayers:\n  - {name: a, plays: oboe}\n  - {name: b, plays: oboe}\n"
        "  - {name: c, plays: oboe}\nstaves:\n  - [a, b]\n  - [b, c]\n",
        8,
        "'b' stands on two staves.",
    ),
    (
        "title: x\nplayers:\n  - {name: a, plays: harp}\n  - {name: b, plays: harp}\n"
        "staves:\n  - [a, b]\n",
        6,
        "the instrument needs more than one",
    ),
    ("title: x\nplayers: [oboe]\ngroups:\n  reeds: [obo]\n", 4, "no player or group 'obo'"),
    ("title: x\nplayers: [oboe]\ngroups:\n  reeds: []\n", 4, "has nobody in it"),
    ("title: x\nplayers: [oboe]\ngroups:\n  oboe: [oboe]\n", 4, "called like a player"),
    (
        "title: x\nplayers: [oboe, flute, horn]\nbrackets:\n  - {over: [oboe, horn]}\n",
        4,
        "their staves are apart",
    ),
    (
        "title: x\nplayers: [oboe, flute, horn]\nbrackets:\n  - {over: [oboe, flute]}\n"
        "  - {over: [flute, horn]}\n",
        4,
        "two brackets cross",
    ),
    ("title: x\nplayers: [oboe]\ntempo above: [horn]\n", 3, "no player or group 'horn'"),
    ("title: x\ntitle: y\nplayers: [oboe]\n", 2, "'title' stands twice"),
]


@pytest.mark.parametrize(("text", "line", "words"), MISTAKES)
def test_a_mistake_in_a_line_up_is_told_with_its_line(own, text, line, words):
    with pytest.raises(BadRules) as caught:
        load_ensemble("own.yaml", own(text))
    (mistake,) = caught.value.mistakes
    assert mistake.at.file.endswith("own.yaml")
    assert mistake.at.line == line
    assert words in mistake.message


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(own):
    text = (
        "title: x\nplayers:\n  - obo\n  - {name: b, plays: fluit}\n  - horn\n"
        "staves:\n  - [b, horm]\ngroups:\n  low: [horn, tubas]\n"
    )
    with pytest.raises(BadRules) as caught:
        load_ensemble("own.yaml", own(text))
    assert [one.at.line for one in caught.value.mistakes] == [3, 4, 7, 9]


def test_an_unknown_line_up_is_answered_with_the_nearest_and_its_place():
    with pytest.raises(BadRules) as caught:
        load_ensemble("String Quartett", at=Spot("r.yaml", 1, 11))
    assert caught.value.message.startswith("r.yaml:1:11: there is no ensemble 'String Quartett'.")
    assert "Did you mean 'string-quartet'?" in caught.value.message


def test_a_missing_file_says_where_it_was_looked_for(tmp_path):
    with pytest.raises(BadRules, match=f"looked for at {tmp_path}/none.yaml"):
        load_ensemble("none.yaml", tmp_path)


def test_the_schema_accepts_what_is_shipped_and_names_every_key():
    schema = ensemble_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    keys = {"title", "description", "players", "staves", "groups", "brackets"}
    assert set(schema["properties"]) == keys | {"inner brackets", "tempo above"}
    assert schema["additionalProperties"] is False
    for entry in schema["properties"].values():
        assert entry["description"]


@settings(max_examples=60, deadline=None)
@given(chosen=st.lists(st.sampled_from(instrument_ids()), min_size=1, max_size=14, unique=True))
def test_any_line_up_has_names_that_resolve_and_nested_brackets(chosen, tmp_path_factory):
    folder = tmp_path_factory.mktemp("line-up")
    rows = [f"  - {{name: player {index}, plays: {one}}}" for index, one in enumerate(chosen, 1)]
    text = "\n".join(["title: x", "players:", *rows])
    (folder / "any.yaml").write_text(text, encoding="utf-8")
    ensemble = load_ensemble("any.yaml", folder)
    assert properly_nested(ensemble.brackets)
    for name in known_names(ensemble):
        assert seats(ensemble, name)
    for player in ensemble.players:
        assert seats(ensemble, player.instrument.plural)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_files_fit_their_json_schema(name):
    jsonschema = pytest.importorskip("jsonschema")
    from expander.catalogue.ensembles import shipped_folder
    from expander.catalogue.yamlfile import load_file

    data, _ = load_file(shipped_folder() / f"{name}.yaml")
    jsonschema.validate(data, ensemble_schema())


_WORDS = st.sampled_from(["flute", "Flute 1", "", "x" * 81, "strings"])
_ODD = st.one_of(st.none(), st.booleans(), st.integers(-1, 61), st.floats(0, 2), _WORDS)
_ENTRY = st.one_of(
    _WORDS,
    _ODD,
    st.lists(_WORDS, max_size=4),
    st.dictionaries(
        st.sampled_from(["plays", "players", "over", "name", "size", "optional", "barlines", "no"]),
        st.one_of(_ODD, st.lists(_WORDS, max_size=4)),
        max_size=3,
    ),
)
_KEYS = ["title", "players", "staves", "groups", "brackets", "inner brackets", "tempo above", "no"]


@given(st.dictionaries(st.sampled_from(_KEYS), st.one_of(_ODD, st.lists(_ENTRY, max_size=3))))
@settings(max_examples=200)
def test_what_is_refused_has_a_mistake_to_tell_and_nothing_else_has(data):
    whole = {"title": "Two", "players": ["flute", "oboe"], **data}
    assert (line_up(whole) is None) == bool(mistakes_in(whole, Places("", {}, {})))


@pytest.mark.parametrize(
    ("value", "model"),
    [
        (entries.PlayerEntry, ensemblefile.PlayerEntry),
        (entries.StaveEntry, ensemblefile.StaveEntry),
        (entries.BracketEntry, ensemblefile.BracketEntry),
        (entries.LineUpEntry, ensemblefile.EnsembleFile),
    ],
)
def test_the_explained_file_has_the_fields_of_its_values(value, model):
    explained = {f.alias or name: f for name, f in model.model_fields.items()}
    assert {f.encode_name for f in fields(value)} == set(explained)
    for field in fields(value):
        twin = explained[field.encode_name]
        assert field.required == twin.is_required()
        if not field.required and twin.default not in ([], {}):
            assert field.default == twin.default
