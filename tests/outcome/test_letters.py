"""Columns of text against Python's own formatting."""

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from evenhand.outcome.letters import Letters, join, thousandths, up_to_thousandths, whole, words


def _lines(column: Letters) -> list[str]:
    return join([column]).decode("ascii").split("\n")[:-1]


@given(st.lists(st.integers(-(2**53), 2**53), max_size=20))
def test_whole_numbers(values: list[int]) -> None:
    assert _lines(whole(np.array(values, np.int64))) == [f"{one}" for one in values]


# Whole thousandths up to 30 years: between two of them Python goes by the binary value and NumPy
# by the product.
SIZES = st.integers(-(10**15), 10**15).map(lambda number: number / 1000)


@given(st.lists(st.one_of(SIZES, st.just(math.nan)), max_size=20))
def test_thousandths(values: list[float]) -> None:
    plain = ["" if math.isnan(one) else f"{one:.3f}" for one in values]
    assert _lines(thousandths(np.array(values))) == plain
    short = [text.rstrip("0").rstrip(".") if text else "" for text in plain]
    assert _lines(up_to_thousandths(np.array(values))) == short


def test_rounding() -> None:
    column = np.array([-0.0004, 0.0006, 12.9996, 100.0, 2 / 3, -18.75])
    assert _lines(thousandths(column)) == [
        "0.000", "0.001", "13.000", "100.000", "0.667", "-18.750",
    ]  # fmt: skip
    assert _lines(up_to_thousandths(column)) == ["0", "0.001", "13", "100", "0.667", "-18.75"]


@given(st.lists(st.text(st.characters(min_codepoint=33, max_codepoint=126)), max_size=9))
def test_words(values: list[str]) -> None:
    assert _lines(words(np.array(values, np.str_))) == values


def test_rows() -> None:
    table = [
        whole(np.array([1, 20])),
        words(np.array(["kick", ""])),
        thousandths(np.array([0.5, -1])),
    ]
    assert join(table) == b"1,kick,0.500\n20,,-1.000\n"
