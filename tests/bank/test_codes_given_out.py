"""Ten thousand codes that a bank really gave out: no slip of one hand makes another right code of the same bank."""

from __future__ import annotations

import numpy as np
import pytest
from stdnum.iso7064 import mod_37_36

from sporebank.core import codes
from sporebank.core.errors import Refusal
from tests.core.test_codes import BASE36, valid

EACH = 1_250


def test_every_wrong_character_and_every_swap_of_neighbours_is_caught(bank):
    """ISO/IEC 7064 detects all single errors; swaps that MOD 37,36 lets pass are of codes that are passed over."""
    with bank.change("Give out codes") as tx:
        given = [tx.new_code(kind) for kind in sorted(codes.KINDS) for _ in range(EACH)]
    assert len(set(given)) == len(codes.KINDS) * EACH >= 10_000
    assert all(mod_37_36.is_valid(code) for code in given)  # reference: python-stdnum 2.2
    rows = np.array([[BASE36.index(sign) for sign in code] for code in given])
    for place in range(codes.LENGTH):
        for step in range(1, 36):
            wrong = rows.copy()
            wrong[:, place] = (wrong[:, place] + step) % 36
            assert not valid(wrong).any()
    passing = []
    for place in range(codes.LENGTH - 1):
        swapped = rows.copy()
        swapped[:, [place, place + 1]] = rows[:, [place + 1, place]]
        right = valid(swapped) & (swapped[:, place] != rows[:, place])
        passing += ["".join(BASE36[value] for value in row) for row in swapped[right]]
    for text in passing:  # by its check character it could be right: then it is no code, or another bank's
        with pytest.raises(Refusal, match="not a code|of another bank|of a kind"):
            codes.parse(text, bank.tag)
