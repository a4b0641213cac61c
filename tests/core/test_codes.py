"""Codes: their alphabet, their check character, and what is said of a wrong one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from sporebank.core import codes
from sporebank.core.errors import Refusal

TAGS = st.text("0123456789ABCDEFGHJKMNPQRSTVWXYZ", min_size=3, max_size=3)
SERIALS = st.integers(0, 32**5 - 1)
KINDS = st.sampled_from(sorted(codes.KINDS))
BASE36 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@pytest.mark.parametrize(
    ("text", "check"),
    [
        ("A12425GABC1234002", "M"),  # the example of the Global Release Identifier standard
        ("00000000D07A0090", "Q"),  # both check characters of an ISAN, 0000-0000-D07A-0090-Q-0000-0000-X
        ("00000000D07A009000000000", "X"),
        ("12345", "Y"),
        ("0001", "E"),
        ("FERN0001", "3"),
    ],
)
def test_check_characters_of_iso_7064(text, check):
    """Vectors of ISO/IEC 7064 MOD 37,36 as python-stdnum 2.2 prints or computes them."""
    assert codes.check_character(text) == check == mod_37_36.calc_check_digit(text)


@given(st.text(BASE36, max_size=20))
def test_check_character_agrees_with_python_stdnum(text):
    """Reference: stdnum.iso7064.mod_37_36."""
    assert codes.check_character(text) == mod_37_36.calc_check_digit(text)


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0, "0"),
        (31, "Z"),
        (32, "10"),
        (1234, "16J"),
        (519571, "FVCK"),
        (3838385658376483, "3D2ZQ6TVC93"),
        (1000000000, "XSNJG0"),
        (2**64 - 1, "FZZZZZZZZZZZZ"),
    ],
)
def test_crockford_vectors(number, text):
    """1000000000 -> XSNJG0 is printed in the documentation of base32_crockford (Hex); the rest computed."""
    assert codes.crockford(number, len(text)) == text
    assert codes.crockford(number, len(text) + 2) == "00" + text


@pytest.mark.parametrize("number", [-1, 32**3])
def test_crockford_refuses_what_does_not_fit(number):
    """A number is never cut off in silence."""
    with pytest.raises(ValueError, match="does not fit"):
        codes.crockford(number, 3)


@given(KINDS, TAGS, SERIALS)
def test_round_trip(kind, tag, serial):
    """What is made can be read, and ten upper-case characters are all it takes."""
    text = codes.make(kind, tag, serial)
    assert len(text) == 10
    assert codes.parse(text, tag) == codes.Code(kind, tag, serial, text)
    assert codes.parse(codes.grouped(text).lower(), tag).text == text
    assert codes.parse(f"  {text[:4]} {text[4:]} ", tag).text == text


@given(KINDS, TAGS, SERIALS)
def test_lookalikes_are_read_as_digits_inside_only(kind, tag, serial):
    """Crockford: O is 0, I and L are 1. The kind L and the check characters O, I, L stay letters."""
    text = codes.make(kind, tag, serial)
    for zero, one in (("O", "I"), ("o", "l")):
        typed = text[0] + text[1:-1].replace("0", zero).replace("1", one) + text[-1]
        assert codes.parse(typed, tag).text == text


def test_every_check_character_can_be_read_as_itself():
    """Check characters that are letters O, I, L or U occur and are not turned into digits."""
    made = [codes.make("V", "ABC", serial) for serial in range(400)]
    assert set("OILU") < {code[-1] for code in made}
    for code in made:
        assert codes.parse(code, "ABC").text == code
    zero = next(code for code in made if code[-1] == "O")
    with pytest.raises(Refusal, match="mistake"):
        codes.parse(zero[:-1] + "0", "ABC")


@given(KINDS, TAGS, SERIALS, st.integers(0, 9), st.sampled_from(BASE36))
def test_every_single_wrong_character_is_caught(kind, tag, serial, place, wrong):
    """ISO/IEC 7064: all single substitutions are detected; O for 0 inside is no error but the same code."""
    text = codes.make(kind, tag, serial)
    typed = text[:place] + wrong + text[place + 1 :]
    try:
        assert codes.parse(typed, tag).text == text
    except Refusal:
        assert typed != text


@given(KINDS, TAGS, SERIALS, st.integers(0, 8))
def test_adjacent_swaps_are_caught_as_the_standard_promises(kind, tag, serial, place):
    """A swap passes only where python-stdnum's MOD 37,36 lets it pass too."""
    text = codes.make(kind, tag, serial)
    typed = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
    plain = typed[0] + typed[1:-1].translate(str.maketrans("OIL", "011")) + typed[-1]
    try:
        codes.parse(typed, typed[1:4])
    except Refusal:
        assert not mod_37_36.is_valid(plain) or plain[0] not in codes.KINDS or "U" in plain[1:-1]
    else:
        assert mod_37_36.is_valid(plain)


def ten_thousand():
    """Return codes of every kind, from the first serials and from all over, as rows of values 0 to 35."""
    serials = [*range(1, 5001), *range(7, 32**5, 32**5 // 4990)][:10_000]
    kinds = sorted(codes.KINDS)
    texts = [codes.make(kinds[number % len(kinds)], "K7Q", serial) for number, serial in enumerate(serials)]
    return np.array([[BASE36.index(sign) for sign in text] for text in texts])


def valid(rows):
    """Return which rows of values are right by ISO/IEC 7064 MOD 37,36, all at once."""
    product = np.full(len(rows), 36)
    for column in rows[:, :-1].T:
        product = (product + column) % 36
        product = np.where(product == 0, 36, product) * 2 % 37
    return (product + rows[:, -1]) % 36 == 1


def test_every_single_wrong_character_of_ten_thousand_codes_is_caught():
    """ISO/IEC 7064: all single substitutions are detected; 3,500,000 of them here."""
    rows = ten_thousand()
    assert valid(rows).all()
    for place in range(10):
        for step in range(1, 36):
            wrong = rows.copy()
            wrong[:, place] = (wrong[:, place] + step) % 36
            assert not valid(wrong).any()


def test_every_swap_of_neighbours_in_ten_thousand_codes_given_out_is_caught():
    """MOD 37,36 alone lets about seven swaps in ten thousand pass (computed); no code that allows one is given out."""
    rows = ten_thousand()
    passing = np.zeros(len(rows), dtype=bool)
    for place in range(9):
        swapped = rows.copy()
        swapped[:, [place, place + 1]] = rows[:, [place + 1, place]]
        passing |= (swapped[:, place] != rows[:, place]) & valid(swapped)
    texts = ["".join(BASE36[value] for value in row) for row in rows]
    given_out = np.array([codes.steady(text) for text in texts])
    assert given_out.mean() > 0.99
    assert not passing[given_out].any()
    assert 0 < passing.sum() < 0.01 * len(rows)


@pytest.mark.parametrize(
    "text", ["", "V", "V-ABC-0001", "V-ABC-00001-XX", "V-AB!-00001-X", "5-ABC-00001-X", "V-AUC-00001-X"]
)
def test_a_wrong_shape_is_said(text):
    """Too short, too long, a sign, a digit for the kind, a U that base32 leaves out."""
    with pytest.raises(Refusal, match="is not a code"):
        codes.parse(text, "ABC")


def test_an_unknown_kind_is_said():
    """A later version may have kinds that this one has not."""
    body = "ZABC00001"
    with pytest.raises(Refusal, match="kind this version does not know"):
        codes.parse(body + codes.check_character(body), "ABC")


def test_another_banks_code_is_said():
    """The tag tells a label of another bank from a wrong one."""
    with pytest.raises(Refusal, match="a vial of another bank: its tag is XYZ, not ABC"):
        codes.parse(codes.make("V", "XYZ", 7), "ABC")


def test_no_code_without_kind_tag_or_serial():
    """Mistakes of the program raise; running out of serials is told to the keeper."""
    for kind, tag in (("Q", "ABC"), ("V", "AB"), ("V", "ABU")):
        with pytest.raises(ValueError, match="makes no code"):
            codes.make(kind, tag, 1)
    with pytest.raises(Refusal, match="used all"):
        codes.make("V", "ABC", 32**5)


@given(st.text(max_size=20))
def test_a_tag_is_settled_by_its_text(seed_text):
    """Deterministic, and fit for a code."""
    tag = codes.tag_from(seed_text)
    assert tag == codes.tag_from(seed_text)
    assert codes.parse(codes.make("V", tag, 1), tag).tag == tag


def test_tags_of_different_texts_differ():
    """Two banks rarely share a tag."""
    assert len({codes.tag_from(f"bank {n}") for n in range(100)}) > 95
