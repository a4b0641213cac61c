import numpy as np
import pytest
import qrcode
from hypothesis import given
from hypothesis import strategies as st
from qrcode import util

from sporebank.core import codes
from sporebank.core.sheets import PrinterFit
from sporebank.documents import masks, qr

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


def test_room_to_spare_goes_into_a_larger_version_before_larger_modules():
    two = 33 * 4 * 25.4 / 300  # version 2 with four dots at 300 dpi, 0.339 mm
    symbol = qr.plan("VK7F00001J", two)
    assert (symbol.version, symbol.correction, len(symbol.dark)) == (2, "H", 25)
    assert symbol.module >= qr.STURDY_MODULE
    assert qr.plan("VK7F00001J", two - 0.01).version == 1


def test_correction_gives_way_before_the_module_gets_too_small():
    text, three_dots = "A" * 20, 3 * 25.4 / 300  # version 1 at M, 2 at Q and H
    assert (qr.plan(text, 33 * three_dots).correction, qr.plan(text, 33 * three_dots).version) == ("H", 2)
    assert qr.plan(text, 33 * three_dots - 0.01).correction == "M"
    assert qr.plan(text, 29 * three_dots - 0.01) is None


@pytest.mark.parametrize(("dpi", "dots"), [(203, 2), (300, 4), (600, 8)])
def test_a_symbol_is_whole_dots_and_never_outgrows_its_room(dpi, dots):
    symbol = qr.plan("VK7F00001J", 10, PrinterFit(dpi=dpi))
    assert symbol.module == pytest.approx(dots * 25.4 / dpi)
    assert symbol.side == pytest.approx(29 * symbol.module)
    assert symbol.side <= 10


@given(st.floats(7.4, 40), st.sampled_from([203, 300, 600]))
def test_the_largest_module_that_fits_is_taken(side, dpi):
    symbol = qr.plan("VK7F00001J", side, PrinterFit(dpi=dpi))
    wide = len(symbol.dark) + 8
    assert symbol.side <= side + 1e-4 < symbol.side + wide * 25.4 / dpi + 1e-3


def test_blocks_cover_exactly_the_dark_modules_inside_the_quiet_zone():
    symbol = qr.plan("VK7F00001J", 10)
    painted = np.zeros((29, 29), dtype=int)
    for x, y, width, height in qr.blocks(symbol.dark):
        painted[y : y + height, x : x + width] += 1
    quiet = 4  # ISO/IEC 18004: four modules on each side
    assert (painted[quiet:-quiet, quiet:-quiet] == symbol.dark).all()
    assert painted.sum() == symbol.dark.sum()
    assert len(qr.blocks(symbol.dark)) < 0.5 * symbol.dark.sum()


def test_bars_are_the_blocks_in_millimetres():
    symbol = qr.plan("VK7F00001J", 14.5)
    bars = symbol.bars(100, 200)
    assert sum(bar.width * bar.height for bar in bars) == pytest.approx(symbol.dark.sum() * symbol.module**2)
    quiet = 4 * symbol.module
    assert min(bar.left for bar in bars) == pytest.approx(100 + quiet)
    assert min(bar.top for bar in bars) == pytest.approx(200 + quiet)
    assert max(bar.right for bar in bars) == pytest.approx(100 + symbol.side - quiet)
    assert max(bar.bottom for bar in bars) == pytest.approx(200 + symbol.side - quiet)


@given(st.text("ABCDEFGHJKMNPQRSTVWXYZ0123456789", min_size=1, max_size=40))
def test_the_mask_has_the_lowest_penalty_of_all_eight(text):
    """Penalties of ISO/IEC 18004 as the library qrcode computes them, one symbol after the other."""
    symbol = qr.plan(text, 60)
    all_eight = []
    for mask in range(8):
        code = qrcode.QRCode(
            symbol.version, error_correction=qrcode.constants.ERROR_CORRECT_H, border=0, mask_pattern=mask
        )
        code.add_data(text)
        code.make(fit=False)
        all_eight.append(code.get_matrix())
    theirs = [util.lost_point(one) for one in all_eight]
    assert list(masks.penalties(np.array(all_eight, dtype=bool))) == theirs
    assert symbol.dark.tolist() == all_eight[theirs.index(min(theirs))]
