import pytest
from reportlab.pdfgen.canvas import Canvas

from sporebank.documents.picture import page_sizes, pictures


@pytest.fixture
def pdf(tmp_path):
    canvas = Canvas(str(tmp_path / "two.pdf"), pagesize=(144, 72), invariant=1)
    canvas.setFillColorRGB(1, 0, 0)
    canvas.rect(0, 0, 72, 72, stroke=0, fill=1)
    canvas.showPage()
    canvas.showPage()
    canvas.save()
    return (tmp_path / "two.pdf").read_bytes()


def test_pages_have_their_size_in_millimetres(pdf):
    for size in page_sizes(pdf):
        assert size == pytest.approx((50.8, 25.4))


def test_a_page_is_drawn_in_its_colours(pdf):
    first, second = pictures(pdf, dpi=72)
    assert (first.width, first.height) == (144, 72)

    def pixel(picture, x, y):
        start = y * picture.stride + 3 * x
        return tuple(picture.rgb[start : start + 3])

    assert pixel(first, 10, 10) == (255, 0, 0)
    assert pixel(first, 100, 10) == pixel(second, 10, 10) == (255, 255, 255)


def test_one_page_alone_can_be_drawn(pdf):
    assert len(list(pictures(pdf, dpi=36, first=1, count=1))) == 1
    assert len(list(pictures(pdf, dpi=36, first=1, count=9))) == 1
