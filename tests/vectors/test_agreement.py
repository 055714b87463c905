"""Agreement of two readers against values from outside, and the draw against the hash tool of the system.

Kappa: 20/5/10/15 gives 0.400 and 45/15/25/15 beside 25/35/5/35 give 0.1304 and 0.2593, the usual textbook examples
(from memory), worked again here by fractions. Wilson: 81 of 263, 15 of 148, 0 of 20 and 1 of 29 are the examples of
Newcombe, Stat Med 1998;17:857, method 3 (figures from memory); and any of them against scipy, which counts them itself.
"""

from __future__ import annotations

import subprocess
from fractions import Fraction

import pytest
from loupebook.rules.agreement import LEAST, agreement, kappa, tabled, wilson
from loupebook.rules.second import DRAWN, is_drawn, turn_of
from scipy.stats import binomtest

pytestmark = [pytest.mark.repair, pytest.mark.shift]

TABLES = [
    # both, first alone, second alone, neither; raw agreement; by chance; kappa
    ((20, 5, 10, 15), Fraction(70, 100), 0.50, 0.4000),
    ((45, 15, 25, 15), Fraction(60, 100), 0.54, 0.1304),
    ((25, 35, 5, 35), Fraction(60, 100), 0.46, 0.2593),
    ((40, 9, 6, 45), Fraction(85, 100), 0.5008, 0.6995),
    ((80, 10, 5, 5), Fraction(85, 100), 0.78, 0.3182),
]


@pytest.mark.parametrize(("cells", "raw", "chance", "expected"), TABLES)
def test_kappa_is_that_of_the_textbooks(cells: tuple[int, ...], raw: Fraction, chance: float, expected: float) -> None:
    a, b, c, d = cells
    found = agreement([[a, b], [c, d]])
    assert found.share == pytest.approx(float(raw))
    n = sum(cells)
    by_chance = Fraction((a + b) * (a + c) + (c + d) * (b + d), n * n)
    assert float(by_chance) == pytest.approx(chance, abs=5e-5)
    assert found.kappa == pytest.approx(expected, abs=5e-5)
    assert found.kappa == pytest.approx(float((raw - by_chance) / (1 - by_chance)), abs=1e-12)


def test_rare_findings_give_a_low_kappa_although_nearly_all_agree() -> None:
    """Two tables with the same raw agreement of 85 %: where nearly all is of one sort, kappa is less than half."""
    even, rare = agreement([[40, 9], [6, 45]]), agreement([[80, 10], [5, 5]])
    assert even.share == rare.share == 0.85
    assert even.kappa is not None and rare.kappa is not None and rare.kappa < even.kappa / 2


@pytest.mark.parametrize(("count", "of", "low", "high"), [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718),
    (10, 10, 0.7225, 1), (0, 10, 0, 0.2775), (15, 19, 0.567, 0.915),
])  # fmt: skip
def test_wilson_is_that_of_newcombe_and_of_scipy(count: int, of: int, low: float, high: float) -> None:
    found = wilson(count, of)
    assert found == pytest.approx((low, high), abs=6e-4)
    theirs = binomtest(count, of).proportion_ci(0.95, "wilson")
    assert found == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_where_kappa_says_nothing_there_is_no_number() -> None:
    one_sort = agreement([[0, 0], [0, 40]])
    assert (one_sort.share, one_sort.kappa, one_sort.why) == (1.0, None, "undefined")
    few = agreement([[LEAST - 1, 0], [0, 0]])
    assert (few.n, few.kappa, few.why) == (LEAST - 1, None, "too_few")
    none = agreement([[0, 0], [0, 0]])
    assert (none.share, none.low, none.high, none.kappa, none.why) == (None, None, None, None, "too_few")
    # One reader who always says the same is no 0/0: nothing beyond chance.
    assert kappa([[10, 10], [0, 0]]) == 0
    # Two who never agree, half and half: the least there is.
    assert kappa([[0, 10], [10, 0]]) == -1


def test_pairs_are_counted_where_both_words_stand() -> None:
    pairs = [("minor", "minor"), ("minor", "severe"), ("severe", "minor"), ("severe", "minor")]
    assert tabled(pairs, ("minor", "moderate", "severe")) == [[1, 0, 1], [0, 0, 0], [2, 0, 0]]


def test_the_draw_is_that_of_the_first_32_bits_of_a_hash_anybody_can_make() -> None:
    for number in range(12):
        concluded = f"{number:064x}"
        said = subprocess.run(["sha256sum"], input=(DRAWN + concluded).encode(), capture_output=True, check=True)
        first_bits = int(said.stdout[:8], 16)
        for share in (0, 1, 10, 50, 99, 100):
            assert is_drawn(concluded, share) == (Fraction(first_bits, 2**32) < Fraction(share, 100))


def test_the_share_drawn_is_the_share_asked_for_and_grows_with_it() -> None:
    ends = [f"{number:064x}" for number in range(20_000)]
    drawn = {share: {each for each in ends if is_drawn(each, share)} for share in (0, 5, 10, 30, 100)}
    assert (len(drawn[0]), len(drawn[100])) == (0, len(ends))
    assert drawn[5] < drawn[10] < drawn[30]
    for share in (5, 10, 30):
        # These 20,000 are the same for ever; scipy says how likely it is to be that far from the share by chance.
        assert binomtest(len(drawn[share]), len(ends), share / 100).pvalue > 0.01


def test_the_part_asked_about_is_any_of_them() -> None:
    parts = ("lens", "tube_1", "band_tip", "ch_instrument")
    first = [min(parts, key=lambda part: turn_of(f"{number:064x}", part)) for number in range(4_000)]
    for part in parts:
        assert binomtest(first.count(part), len(first), 1 / 4).pvalue > 0.01
