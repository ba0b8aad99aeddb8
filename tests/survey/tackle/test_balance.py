"""Shot: weights, equivalences of the trade, and every way to make a weight against brute force."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.errors import ParseError
from survey.tackle.balance import balances
from survey.units.shot_sizes import LEAD_BANNED_G, MOST_SHOT, SIZES_G, read_shot, size_named, way_words, weight_g

TRADE_G = {
    "SSG": 1.6, "AAA": 0.8, "AB": 0.6, "BB": 0.4, "No 1": 0.3, "No 3": 0.25, "No 4": 0.2, "No 5": 0.15, "No 6": 0.1,
    "No 8": 0.06, "No 9": 0.05, "No 10": 0.04, "No 11": 0.03, "No 12": 0.02, "No 13": 0.01,
}  # fmt: skip


def test_shot_weighs_what_trade_tables_say():
    """Common practice: the figures on tins and in shops, of which makers' own differ."""
    assert TRADE_G == SIZES_G
    assert list(SIZES_G) == sorted(SIZES_G, key=SIZES_G.get, reverse=True)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"No 6": 2}, {"No 4": 1}), ({"No 9": 4}, {"No 4": 1}), ({"BB": 2}, {"AAA": 1}), ({"No 4": 2}, {"BB": 1}),
        ({"AAA": 2}, {"SSG": 1}), ({"No 6": 3}, {"No 1": 1}), ({"No 9": 2}, {"No 6": 1}), ({"No 12": 2}, {"No 10": 1}),
        ({"No 11": 2}, {"No 8": 1}),
    ],
)  # fmt: skip
def test_equivalences_printed_in_trade_tables_hold(one, other):
    """Common practice: printed beside the tables of weights."""
    assert weight_g(one) == weight_g(other)


def test_lead_is_banned_from_above_number_eight_to_an_ounce():
    """SI 1986/1992, regulation 4: more than 0.06 g and not more than 28.35 g may not be lead."""
    banned = [size for size, grams in SIZES_G.items() if LEAD_BANNED_G[0] < grams < LEAD_BANNED_G[1]]
    assert banned == ["SSG", "AAA", "AB", "BB", "No 1", "No 3", "No 4", "No 5", "No 6"]


@pytest.mark.parametrize(
    ("words", "size"),
    [("No 4", "No 4"), ("no.4", "No 4"), ("number 10", "No 10"), ("#8", "No 8"), ("bb", "BB"), ("swan", "SSG"),
     ("aaa", "AAA"), ("No 7", None), ("4", None), ("", None), ("lead", None)],
)  # fmt: skip
def test_sizes_are_known_by_the_names_people_write(words, size):
    assert size_named(words) == size


def test_shot_at_hand_is_read_with_and_without_counts():
    assert read_shot("10 No 4; 6BB, no.8, 2 no 4") == {"BB": 6, "No 4": 12, "No 8": None}
    with pytest.raises(ParseError, match=r'"AB2" is not a shot size\. Sizes are SSG, AAA'):
        read_shot("3 BB, AB2")
    with pytest.raises(ParseError, match=r'^"No 7" is not a shot size'):
        read_shot("3 No 7")
    with pytest.raises(ParseError, match=r'^"BBB" is not a shot size.* Did you mean BB\?'):
        read_shot("10x BBB")
    with pytest.raises(ParseError, match="names no shot"):
        read_shot("0 BB")


def brute_force(target_cg: int, stock: dict[str, int]) -> tuple[int, set[tuple[tuple[str, int], ...]]]:
    """Nearest weight that can be made, lighter first, and every way to it: by trying all there is."""
    tried: dict[int, set[tuple[tuple[str, int], ...]]] = {}
    for counts in itertools.product(*(range(n + 1) for n in stock.values())):
        if 0 < sum(counts) <= MOST_SHOT:
            way = tuple((size, n) for size, n in zip(stock, counts, strict=True) if n)
            tried.setdefault(sum(round(SIZES_G[s] * 100) * n for s, n in way), set()).add(way)
    best = min(tried, key=lambda cg: (abs(cg - target_cg), cg))
    return best, tried[best]


stocks = st.dictionaries(st.sampled_from(list(SIZES_G)), st.integers(1, 4), min_size=1, max_size=6)


@given(stocks, st.integers(1, 700))
def test_every_way_is_found_and_none_twice(stock, target_cg):
    found = balances(target_cg / 100, stock)
    ordered = {size: stock[size] for size in SIZES_G if size in stock}
    made, ways = brute_force(target_cg, ordered)
    got = [tuple(way.items()) for way in found.ways()]
    assert round(found.made_g * 100) == made
    assert len(got) == len(set(got))
    assert set(got) == ways
    assert found.difference_g == pytest.approx((made - target_cg) / 100)
    pieces = [sum(n for _, n in way) for way in got]
    assert pieces == sorted(pieces)


@given(stocks, st.floats(0.005, 20))
def test_ways_weigh_what_is_said_and_use_no_more_than_there_is(stock, target):
    found = balances(target, stock)
    for way in found.first(50):
        assert weight_g(way) == pytest.approx(found.made_g)
        assert all(n <= stock[size] for size, n in way.items())


def test_in_plenty_a_small_float_has_its_exact_ways_at_once():
    ways = balances(0.6, read_shot("No 4, No 6, BB")).first(10)
    assert ways[0] == {"BB": 1, "No 4": 1}
    assert {"No 6": 6} in ways
    assert [way_words(way) for way in ways[:2]] == ["1 BB + 1 No 4", "1 BB + 2 No 6"]


def test_one_heavy_shot_is_the_nearest_to_a_small_balance():
    found = balances(0.1, {"SSG": None})
    assert (found.made_g, list(found.ways())) == (1.6, [{"SSG": 1}])


@pytest.mark.parametrize("target", [0.0, -1.0, 31.0, float("nan")])
def test_a_weight_no_float_takes_is_refused(target):
    with pytest.raises(ParseError, match="cannot be made up with shot"):
        balances(target, {"BB": None})
