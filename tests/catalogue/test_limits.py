"""Limits of playing. Each row's source is that of the figure itself."""

import pytest

from expander.catalogue.limits import (
    breath_seconds,
    breath_source,
    limit,
    limit_tables,
    limits,
    low_interval_limits,
    low_octave_factor,
    register_strength,
    section_sizes,
    table,
    weight,
)
from expander.catalogue.loader import instrument, instruments
from expander.model.pitch import Sounding, Written

COLLECTIVES = {"winds", "woodwinds", "voices", "strings", "percussion", "tutti"}


@pytest.mark.parametrize("name", limit_tables())
def test_every_row_names_instruments_that_exist_and_where_it_comes_from(name):
    known = {one.id for one in instruments()} | COLLECTIVES
    for row in limits(name):
        assert set(row.instruments) <= known
        assert row.basis in {"published", "common practice", "memory"}
        assert row.sources
        if row.basis == "published":
            assert row.sources != ("common practice",)


# An oboist holds a note for more than twenty seconds: piano-composer-teacher-london.co.uk.
def test_the_oboe_s_breath_is_the_published_figure():
    assert breath_seconds("oboe", "mf") == 20
    assert breath_source("oboe", "mf")[0] == "published"
    assert breath_source("oboe", "f")[0] == breath_source("flute", "mf")[0] == "common practice"


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_whoever_breathes_has_figures_and_nobody_else(one):
    seconds = [breath_seconds(one.id, dynamic) for dynamic in ("pp", "mf", "ff")]
    if one.breath:
        assert seconds == sorted(seconds, reverse=True)
    else:
        assert seconds == [None, None, None]


# Flutes and tuba spend most air, the oboe least: an oboist's article (reallivemusic.blogspot.com).
@pytest.mark.parametrize("more", ["flute", "piccolo", "tuba"])
def test_flutes_and_tuba_need_more_air_than_the_oboe(more):
    assert breath_seconds(more, "mf") < breath_seconds("oboe", "mf")


def test_low_flutes_and_tuba_need_more_still_in_the_bottom_octave():
    assert (low_octave_factor("tuba"), low_octave_factor("oboe")) == (0.67, 1.0)


# sweetwater.com, Low Interval Limit (its C3 is our C4, so its pitches an octave number higher).
STORE = [
    (1, "E3"), (2, "Eb3"), (3, "C3"), (4, "B2"), (5, "A2"), (6, "B1"), (7, "C#2"), (8, "F2"),
    (9, "F2"), (10, "F2"), (11, "F2"),
]  # fmt: skip


@pytest.mark.parametrize(("semitones", "lowest"), STORE)
def test_low_interval_limits_are_the_published_table(semitones, lowest):
    assert low_interval_limits("store")[semitones].lowest == Sounding.named(lowest)


def test_the_jazz_textbook_s_minor_third_is_the_one_that_was_read():
    # Lowell and Pullig, Arranging for Large Jazz Ensemble, as quoted at filmmusictheory.com
    assert low_interval_limits("jazz")[3].lowest == Sounding.named("C3")


@pytest.mark.parametrize("semitones", sorted(low_interval_limits()))
def test_what_is_advised_is_the_more_careful_of_the_two(semitones):
    tables = [low_interval_limits(name).get(semitones) for name in ("store", "jazz")]
    highest = max(one.lowest.semitone for one in tables if one)
    assert low_interval_limits()[semitones].lowest.semitone == highest


def test_unison_and_octave_have_no_limit():
    assert not {0, 12} & set(low_interval_limits())


# The root rule, worked out anew: just ratios lower:upper, the root (1) not below A0 = 27.5 Hz.
RATIOS = [(1, 15), (2, 8), (3, 5), (4, 4), (5, 3), (7, 2), (9, 3), (14, 4)]


@pytest.mark.parametrize(("semitones", "lower"), RATIOS)
def test_the_root_column_follows_from_the_harmonic_series(semitones, lower):
    from math import log2

    lowest = low_interval_limits("root")[semitones].lowest
    calculated = 21 + 12 * log2(lower)
    assert abs(int(lowest.semitone) - calculated) <= 0.5


# Rimsky-Korsakov, Principles of Orchestration, ch. 1: a trumpet = two horns = four woodwinds at f.
@pytest.mark.parametrize(
    ("one", "many", "other"),
    [
        ("trumpet-bb", 2, "horn"),
        ("tenor-trombone", 2, "horn"),
        ("tuba", 2, "horn"),
        ("horn", 2, "flute"),
        ("horn", 2, "oboe"),
        ("horn", 2, "clarinet-bb"),
        ("trumpet-bb", 4, "bassoon"),
    ],
)
def test_brass_outweighs_woodwind_at_forte_as_published(one, many, other):
    assert weight(instrument(one), "f") == many * weight(instrument(other), "f")
    assert weight(instrument(one), "p") == weight(instrument(other), "p")


def test_a_medium_string_section_weighs_two_woodwinds_at_forte_and_one_at_piano():
    violins = section_sizes("medium")["violins 1"]
    assert weight(instrument("violin"), "f", violins) == 2 * weight(instrument("oboe"), "f")
    assert weight(instrument("violin"), "p", violins) == weight(instrument("oboe"), "p")


def test_strings_grow_with_the_square_root_of_their_number():
    six, twelve = (weight(instrument("violin"), "f", size) for size in (6, 12))
    assert six / twelve == pytest.approx(0.5**0.5)


# K. W. Gehrkens, Essentials in Conducting (1919), p. 97.
def test_a_large_orchestra_s_strings_are_the_published_ones():
    sizes = section_sizes("large")
    assert [sizes[name] for name in ("violins 1", "violins 2", "violas")] == [18, 16, 14]
    assert [sizes[name] for name in ("cellos", "double basses")] == [12, 10]


# Trends in words: Rimsky-Korsakov ch. 1 (flute dull low, brilliant high; oboe strong low).
@pytest.mark.parametrize(("ident", "rises"), [("flute", True), ("oboe", False), ("bassoon", False)])
def test_flutes_gain_and_reeds_lose_strength_upwards(ident, rises):
    one = instrument(ident)
    low = register_strength(one, one.professional.low)
    high = register_strength(one, one.professional.high)
    assert (low < high) == rises


def test_others_have_no_register_strength():
    assert register_strength(instrument("trumpet-bb"), Written.named("C4")) == 1.0


@pytest.mark.parametrize("ident", ["violin", "viola", "cello", "double-bass"])
def test_the_table_s_open_strings_are_the_instrument_s(ident):
    one = instrument(ident)
    assert limit("stops", "open strings", one).sounding() == one.strings


# The harmonic series: partial n of a string sounds 12 log2 n semitones above it.
@pytest.mark.parametrize("partial", [2, 3, 4, 5, 6])
def test_natural_harmonics_follow_the_harmonic_series(partial):
    from math import log2

    found = limit("stops", f"partial {partial}", instrument("cello")).value
    assert abs(found - 12 * log2(partial)) < 0.15


# J. J. Papastefan: pair F2-F3, 20-inch drum to C4; A. R. Hancock: drums of about a fifth.
@pytest.mark.parametrize(("inches", "span"), [(32, 7), (29, 7), (26, 7), (23, 7), (20, 7)])
def test_each_timpani_drum_covers_a_fifth(inches, span):
    low, high = limit("timpani", f"drum of {inches} inches", instrument("timpani")).sounding()
    assert high.semitone - low.semitone == span


# Positions 1 to 7 of a slide lower a partial by six semitones; partials of B flat 1.
@pytest.mark.parametrize("partial", [2, 3, 4, 5, 6, 8])
def test_trombone_glissandi_are_the_seven_positions_of_a_partial(partial):
    from math import log2

    one = instrument("tenor-trombone")
    low, high = limit("trombone", f"glissando on partial {partial}", one).sounding()
    assert high.semitone - low.semitone == 6
    assert abs(int(high.semitone) - (34 + 12 * log2(partial))) < 0.5


def test_a_bassoonist_needs_longer_to_change_than_a_flautist():
    slow = limit("changes", "instrument change, safe", instrument("bassoon"))
    quick = limit("changes", "instrument change, safe", instrument("flute"))
    assert (slow.value, quick.value) == (15, 10)


def test_an_unknown_table_is_refused():
    with pytest.raises(KeyError):
        table("nonsense")
