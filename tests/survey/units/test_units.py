"""Lengths, angles and the clock face, both ways."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import ParseError
from survey.units import (
    FOOT_M,
    INCH_M,
    YARD_M,
    Sizes,
    UndeclaredSizeError,
    clock_text,
    feet_inches,
    format_metres,
    normalised,
    read_angle,
    read_bearing,
    read_clock,
    read_length,
    read_number,
)

# International yard and pound agreement, 1959: the inch is 25.4 mm exactly.
FIVE_FOOT_TWO = 62 * 0.0254


@pytest.mark.parametrize(
    "text",
    [
        *("5'2\"", "5 ft 2", "5ft2in", "5′2″", "5’2”", "5' 2''", "5 feet 2 inches", "5 ft. 2 in.", "5 FT 2 INS"),
        *("62 in", '62"', "5 foot and 2 inches", "1 yd 2 ft 2 in", "5\u00a0ft\u00a02", "+5'2"),
    ],
)
def test_every_spelling_of_five_foot_two_is_one_length(text):
    assert read_length(text).metres == pytest.approx(FIVE_FOOT_TWO, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("1.58 m", None, 1.58),
        ("158 cm", None, 1.58),
        ("1580mm", None, 1.58),
        ("1 m 58 cm", None, 1.58),
        ("1,58", "m", 1.58),
        ("1.58", "m", 1.58),
        ("6", "ft", 1.8288),
        ("5' 2 1/2\"", None, 62.5 * 0.0254),
        ("5 ft 2½ in", "m", 62.5 * 0.0254),
        ("½ in", None, 0.0127),
        ("25 yd", None, 22.86),
        ("−4½ in", None, -0.1143),
        ("0", None, 0.0),
        ("180cm", "ft", 1.8),
        ("1 m 10", None, 1.10),
        ("1 m 99", None, 1.99),
    ],
)
def test_a_length_is_read(text, unit, expected):
    assert read_length(text, unit).metres == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("1.58", None, "has no unit"),
        ("1 m 9", None, "has no unit"),
        ("1 m 100", None, "has no unit"),
        ("5 2", "ft", "is not a length"),
        ("1.234,5", "m", "is not a length"),
        ("5 ft 14", None, "14 in cannot follow 5 ft"),
        ("5.5 ft 2", None, "2 in cannot follow 5.5 ft"),
        ("2 in 5 ft", None, "cannot follow"),
        ("5-6 ft", None, "is not a length"),
        ("about 5 ft", None, "is not a length"),
        ("3 pints", None, '"pints" is not a unit of length'),
        ("", "m", "is not a length"),
        ("9" * 400, "m", "is not a length"),
        ("1/0 m", None, "is not a length"),
    ],
)
def test_what_is_no_length_is_refused(text, unit, words):
    with pytest.raises(ParseError, match=words):
        read_length(text, unit)


def test_the_banks_own_units_are_worth_what_the_venue_says():
    sizes = Sizes(wrap_m=12 * FOOT_M, rod_m=13 * FOOT_M, section_m=1.5)
    # Common practice: sticks 12 ft apart, 25 wraps are 100 yards.
    assert read_length("25 wraps", None, sizes).metres == pytest.approx(100 * YARD_M)
    assert read_length("25w", None, sizes) == read_length("25", "wrap", sizes)
    assert read_length("3 rod lengths", None, sizes).metres == pytest.approx(39 * FOOT_M)
    assert read_length("4 pole sections", None, sizes).metres == pytest.approx(6.0)
    assert read_length("4 sections", None, sizes).unit == "section"


@pytest.mark.parametrize(("text", "unit", "words"), [
    ("20 wraps", "wrap", "a wrap has no length of its own"),
    ("2 rods", "rod", "a rod length has no length"),
    ("2 sections", "section", "a pole section has no length"),
])  # fmt: skip
def test_a_unit_of_undeclared_size_is_refused(text, unit, words):
    with pytest.raises(UndeclaredSizeError, match=words) as raised:
        read_length(text)
    assert raised.value.unit == unit


steps = st.sampled_from([0.25, 0.5, 1.0])


@given(quarters=st.integers(-40_000, 40_000), step=steps)
def test_feet_and_inches_read_back_what_they_show(quarters, step):
    length = quarters * step * INCH_M
    assert read_length(feet_inches(length, step)).metres == pytest.approx(length, abs=1e-9)


@given(length=st.floats(-300, 300), step=steps)
def test_showing_in_feet_moves_a_length_by_half_a_step_at_most(length, step):
    assert abs(read_length(feet_inches(length, step)).metres - length) <= step * INCH_M / 2 + 1e-9


@given(length=st.floats(-300, 300))
def test_metres_read_back_to_the_place_shown(length):
    assert read_length(format_metres(length)).metres == pytest.approx(length, abs=0.005 + 1e-9)


@given(feet=st.integers(1, 100), quarters=st.integers(0, 47))
def test_any_spelling_of_one_length_is_equal(feet, quarters):
    inches = quarters / 4
    expected = feet * FOOT_M + inches * INCH_M
    whole, rest = divmod(quarters, 4)
    fraction = f"{whole} {rest}/4" if rest else f"{whole}"
    comma = f"{inches:.2f}".replace(".", ",")
    for text in (f"{feet}'{inches}\"", f"{feet} ft {inches}", f"{feet}ft{comma}in", f"{feet}′ {fraction}″"):
        assert read_length(text).metres == pytest.approx(expected, abs=1e-9), text
    assert read_length(f"{expected:.6f} m").metres == pytest.approx(expected, abs=1e-6)


@given(text=st.text(max_size=12))
def test_anything_typed_is_read_or_refused_with_words(text):
    for reader in (read_length, read_number, read_angle, read_bearing, read_clock):
        try:
            reader(text)
        except ParseError as refused:
            assert str(refused)  # noqa: PT017 - the other outcome is that it was read


@pytest.mark.parametrize(
    ("text", "angle"),
    [
        ("12", 0), ("1", 30), ("11", -30), ("6", 180), ("9", -90), ("12:30", 15), ("12:30:00", 15), ("0:30", 15),
        ("1 o'clock", 30), ("Twelve O’Clock", 0), ("half twelve", 15), ("half past 11", -15), ("quarter to 12", -7.5),
        ("11.5", -15), ("11,5", -15), ("1.25", 37.5),
    ],
)  # fmt: skip
def test_a_clock_face_is_an_angle(text, angle):
    assert read_clock(text).angle_deg == pytest.approx(angle)


@pytest.mark.parametrize("text", ["13", "11.30", "12:75", "noon", "-1", ""])
def test_what_is_not_on_a_clock_face_is_refused(text):
    with pytest.raises(ParseError, match="is not on a clock face"):
        read_clock(text)


def test_the_clock_says_how_finely_it_was_written():
    assert read_clock("1 o'clock").on_hour
    assert not read_clock("12:30").on_hour
    assert read_clock("half one").half_word
    assert not read_clock("half past one").half_word


@given(five_minutes=st.integers(0, 143))
def test_clock_and_angle_are_one_thing(five_minutes):
    angle = five_minutes * 2.5
    assert math.remainder(read_clock(clock_text(angle)).angle_deg - angle, 360) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("text", "angle"), [
    ("90", 90), ("92,5°", 92.5), ("-30 deg", -30), ("−30", -30), ("30 left", -30), ("30L", -30), ("30 R", 30),
])  # fmt: skip
def test_an_angle_is_positive_to_the_right(text, angle):
    assert read_angle(text) == angle


@pytest.mark.parametrize("text", ["-30 L", "400", "left", "90 m"])
def test_what_is_no_angle_is_refused(text):
    with pytest.raises(ParseError, match="is not an angle"):
        read_angle(text)


@pytest.mark.parametrize(("text", "expected"), [
    ("093°", (93, None)), ("93T", (93, "true")), ("95 M", (95, "magnetic")), ("360", (0, None)), ("12,5", (12.5, None)),
])  # fmt: skip
def test_a_bearing_may_carry_its_north(text, expected):
    assert read_bearing(text) == expected


@pytest.mark.parametrize("text", ["-5", "361", "north"])
def test_what_is_no_bearing_is_refused(text):
    with pytest.raises(ParseError, match="is not a bearing"):
        read_bearing(text)


def test_look_alike_signs_are_made_one():
    assert normalised("−1 – ‐2\u00a0º ˚ ’ ′ ” ″ ''") == '-1 - -2 ° ° \' \' " " "'


@pytest.mark.parametrize(
    ("text", "number"),
    [("\uff11\uff12.\uff15", 12.5), ("\u0661\u0662,\u0665", 12.5), ("\u0967\u0968", 12), ("−\u06f3", -3)],
    ids=["full width", "Arabic", "Devanagari", "Persian"],
)
def test_figures_of_other_scripts_are_figures(text, number):
    assert read_number(text) == number


def test_a_thousands_mark_is_refused_not_dropped():
    with pytest.raises(ParseError, match="no thousands mark"):
        read_number("1.234,5")
    assert read_number("2,05") == 2.05


@pytest.mark.parametrize("text", ["-0.6941200000000001", "0.1000000000000000055", "54.04475400000000093"])
def test_numbers_as_programs_print_them_have_many_decimals(text):
    assert read_number(text) == float(text)
