import pytest
import qrcode
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import codes
from sporebank.documents import qr

# Signs that versions 1 to 5 hold at L, M, Q, H: numeric, alphanumeric, byte (ISO/IEC 18004, table of symbol
# capacities, as handbooks print it).
CAPACITIES = {
    1: ((41, 25, 17), (34, 20, 14), (27, 16, 11), (17, 10, 7)),
    2: ((77, 47, 32), (63, 38, 26), (48, 29, 20), (34, 20, 14)),
    3: ((127, 77, 53), (101, 61, 42), (77, 47, 32), (58, 35, 24)),
    4: ((187, 114, 78), (149, 90, 62), (111, 67, 46), (82, 50, 34)),
    5: ((255, 154, 106), (202, 122, 84), (144, 87, 60), (106, 64, 44)),
}
LEVELS = (
    qrcode.constants.ERROR_CORRECT_L,
    qrcode.constants.ERROR_CORRECT_M,
    qrcode.constants.ERROR_CORRECT_Q,
    qrcode.constants.ERROR_CORRECT_H,
)


def version_of(text, level):
    code = qrcode.QRCode(error_correction=level)
    code.add_data(text, optimize=0)
    return code.best_fit(start=1)


@pytest.mark.parametrize("version", CAPACITIES)
@pytest.mark.parametrize("sign", ["1", "A", "a"])
def test_capacities_are_those_of_the_standard(version, sign):
    for level, held in zip(LEVELS, CAPACITIES[version], strict=True):
        most = held["1Aa".index(sign)]
        assert version_of(sign * most, level) == version
        assert version_of(sign * (most + 1), level) == version + 1


@given(st.sampled_from("VBPLR"), st.integers(0, 32**5 - 1))
def test_a_code_of_ten_characters_is_version_1_at_the_highest_correction(kind, serial):
    symbol = qr.plan(codes.make(kind, "K7F", serial), 10)
    assert (symbol.version, symbol.correction) == (1, "H")
    assert len(symbol.dark) == 21  # ISO/IEC 18004: 4 × version + 17 modules a side


def test_correction_gives_way_before_the_module_gets_too_small():
    text = "A" * 20  # version 1 at M, 2 at Q and H
    assert qr.plan(text, 33 * 0.25 + 0.001).correction == "H"
    assert qr.plan(text, 32 * 0.25).correction == "M"
    assert qr.plan(text, 29 * 0.25 - 0.01) is None


def test_a_symbol_never_outgrows_its_room():
    small, large = qr.plan("VK7F00001J", 10), qr.plan("VK7F00001J", 40)
    assert small.side == pytest.approx(10)
    assert large.module == qr.LARGEST_MODULE


def test_bars_cover_exactly_the_dark_modules_inside_the_quiet_zone():
    symbol = qr.plan("VK7F00001J", 14.5)
    bars = symbol.bars(100, 200)
    dark = sum(map(sum, symbol.dark))
    assert sum(bar.width * bar.height for bar in bars) == pytest.approx(dark * symbol.module**2)
    quiet = 4 * symbol.module  # ISO/IEC 18004: four modules on each side
    assert min(bar.left for bar in bars) == pytest.approx(100 + quiet)
    assert min(bar.top for bar in bars) == pytest.approx(200 + quiet)
    assert max(bar.right for bar in bars) == pytest.approx(100 + symbol.side - quiet)
    assert max(bar.bottom for bar in bars) == pytest.approx(200 + symbol.side - quiet)
