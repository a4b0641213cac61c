"""What is read in photos and PDFs. The symbols are made by the qrcode package, not by our own drawing."""

import io

import numpy as np
import pytest
from PIL import Image

from sporebank.core import codes
from sporebank.core.errors import Refusal, Stopped
from sporebank.core.layout import Kind
from sporebank.core.sheets import cell
from sporebank.documents.labels import LabelPrint, render
from sporebank.formats import symbols
from sporebank.formats.label_layouts import layout_for
from sporebank.formats.label_sheets import sheet_by_id
from tests.documents.examples import vial
from tests.formats.photos import TABLE, bomb, noise, pdf, photo, saved

BOX = [[codes.make("V", "7K2", row * 9 + column) for column in range(1, 10)] for row in range(9)]
FEW = [[BOX[0][0], None, BOX[0][2]], [None, BOX[1][1], BOX[1][2]]]
IN_ORDER = [text for row in FEW for text in row if text]


def texts(data):
    return [one.text for one in symbols.read(data)]


@pytest.mark.parametrize("turned", [0, 90, 180, 270, 4, -7, 37])
def test_labels_are_read_in_the_order_in_which_they_stand_however_the_camera_was_held(turned):
    assert texts(saved(photo(FEW, turned=turned))) == IN_ORDER


def test_a_photo_of_a_whole_box_gives_every_label():
    assert texts(saved(photo(BOX, side=90, gap=20, blurred=1.0), quality=70)) == [text for row in BOX for text in row]


def test_small_symbols_out_of_focus_are_read():
    assert texts(saved(photo(BOX, side=90, gap=18, blurred=1.2), quality=75)) == [text for row in BOX for text in row]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF"])
def test_photos_of_every_kind_are_read(kind):
    assert texts(saved(photo(FEW), kind)) == IN_ORDER


def test_a_photo_of_fifty_million_pixels_is_made_smaller_and_read():
    large = photo(FEW).resize((8160, 6120))
    assert texts(saved(large)) == IN_ORDER


def test_what_is_seen_through_is_paper():
    grey = np.asarray(photo(FEW, gap=60))
    black = np.zeros((*grey.shape, 4), dtype=np.uint8)
    black[..., 3] = np.where(grey == 0, 255, 0)
    assert texts(saved(Image.fromarray(black), "PNG")) == IN_ORDER


def test_positions_are_where_the_labels_were_pasted():
    picture = photo(FEW, side=120, gap=40)
    found = symbols.read(saved(picture, "PNG"))
    wanted = [(100 + 160 * x, 100 + 160 * y) for y, row in enumerate(FEW) for x, text in enumerate(row) if text]
    for one, (x, y) in zip(found, wanted, strict=True):
        assert one.x * picture.width == pytest.approx(x, abs=3)
        assert one.y * picture.height == pytest.approx(y, abs=3)


def test_a_sheet_of_labels_is_read_back_from_its_own_pdf():
    sheet = sheet_by_id("a4-7x27")
    layout = layout_for(Kind.VIAL, sheet)
    labels = [vial(number) for number in range(sheet.cells + 3)]
    found = symbols.read(render(LabelPrint(labels, layout, sheet)))
    assert [one.text for one in found] == [one.code for one in labels]
    assert [one.page for one in found] == [1] * sheet.cells + [2] * 3
    for number, one in enumerate(found[: sheet.cells]):
        rect = cell(sheet, number)
        assert rect.left <= one.x * sheet.paper_width <= rect.right
        assert rect.top <= one.y * sheet.paper_height <= rect.bottom


def test_a_pdf_says_how_far_it_is_and_can_be_left():
    data = pdf([photo([[code]]) for code in BOX[0][:3]])
    told = []
    assert [one.text for one in symbols.read(data, lambda *said: told.append(said))] == BOX[0][:3]
    assert told[1] == (1, 3, "Reading page 2 of 3")
    with pytest.raises(Stopped):
        symbols.read(data, cancelled=lambda: True)


def scan(pages):
    """Return pages as one TIFF, as a scanner makes it."""
    first, *others = pages
    made = io.BytesIO()
    first.save(made, "TIFF", save_all=True, append_images=others)
    return made.getvalue()


def test_every_page_of_a_scan_is_read():
    data = scan([photo([[code]]) for code in BOX[0][:3]])
    told = []
    found = symbols.read(data, lambda *said: told.append(said))
    assert [(one.text, one.page) for one in found] == [(code, page) for page, code in enumerate(BOX[0][:3], 1)]
    assert told[1] == (1, 3, "Reading page 2 of 3")
    with pytest.raises(Stopped):
        symbols.read(data, cancelled=lambda: True)


def test_a_scan_may_have_as_many_pages_as_a_pdf():
    page = Image.new("L", (20, 20))
    assert texts(scan([page] * (symbols.MOST_PAGES - 1) + [photo([BOX[0][:1]])])) == BOX[0][:1]
    with pytest.raises(Refusal, match="more than 100 pages"):
        symbols.read(scan([page] * (symbols.MOST_PAGES + 1)))


def test_no_page_of_a_scan_is_larger_than_a_photo_may_be():
    with pytest.raises(Refusal, match="120 million pixels"):
        symbols.read(scan([photo(FEW), Image.new("1", (12_000, 12_000))]))


def test_a_picture_without_labels_has_none():
    assert texts(saved(noise())) == []
    assert texts(saved(Image.new("L", (1, 1), TABLE), "PNG")) == []
    assert texts(pdf([Image.new("L", (2000, 1))])) == []


BROKEN = saved(photo(FEW))[:3000]
LONG = pdf([Image.new("L", (20, 20))] * 500)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"Dryopteris affinis, 12 mg", "no picture"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "no picture"),
        (b"\x89PNG\r\n\x1a\n", "no picture|damaged"),
        (BROKEN, "damaged"),
        (bomb(12_000), "120 million pixels"),
        (bomb(60_000), "120 million pixels"),
        (bomb(10_000), "damaged"),
        (b"%PDF-1.7\nnothing of the kind", "damaged"),
        (pdf([photo(FEW)], encrypt="secret"), "locked with a password"),
        (LONG, "has 500 pages"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_says_why_and_what_to_do(data, says):
    with pytest.raises(Refusal, match=says) as told:
        symbols.read(data)
    assert str(told.value).count(".") >= 2


def test_a_file_too_large_is_not_even_looked_at(monkeypatch):
    monkeypatch.setattr(symbols, "MOST_BYTES", 10)
    with pytest.raises(Refusal, match="larger than"):
        symbols.read(b"%PDF-1.7 and so on")
