"""Reading the labels in a photo or a PDF: what their symbols say, in the order in which people read them."""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sporebank.core.errors import Refusal, Stopped

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    import pypdfium2
    import zxingcpp
    from PIL.Image import Image

    Grey = npt.NDArray[np.uint8]

Report = Callable[[int, int, str], object]
"""Is told how much is done, of how much, and what is being done."""

MOST_BYTES = 200_000_000
MOST_PIXELS = 120_000_000
MOST_PAGES = 100
LONGEST_SIDE = 4000  # pixels; ten of them to a module of 0.33 mm where a photo shows a whole box
FINEST_DPI = 300
_KINDS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")
_WHAT_CAN = "Take a photo as JPEG, PNG, WebP or TIFF, or a PDF."


@dataclass(frozen=True)
class Symbol:
    """What a symbol says; `x` and `y` are its middle in shares of the width and height of the picture as stored."""

    text: str
    page: int
    x: float
    y: float


def read(data: bytes, report: Report = lambda *_: None, cancelled: Callable[[], bool] = lambda: False) -> list[Symbol]:
    """Return the symbols in a photo, or in the pages of a scan or a PDF.

    Raises:
        Refusal: it is no picture or PDF, is damaged, locked or too large; the sentence says what to do.
        Stopped: `cancelled()` held between two pages.
    """
    if not data:
        raise Refusal(f"The file is empty. {_WHAT_CAN}")
    if len(data) > MOST_BYTES:
        raise Refusal(f"The file is larger than {MOST_BYTES // 1_000_000} MB. {_WHAT_CAN}")
    if b"%PDF-" in data[:1024]:
        return _read_pdf(data, report, cancelled)
    return _read_photo(data, report, cancelled)


def read_grey(picture: Grey, page: int = 1) -> list[Symbol]:
    """Return the symbols in rows of grey values, however the labels are turned."""
    import zxingcpp

    only_qr = zxingcpp.BarcodeFormat.QRCode
    found = zxingcpp.read_barcodes(picture, formats=only_qr)  # type: ignore[arg-type]  # one format is taken as well
    height, width = picture.shape
    met = [_Met(one.text, _corners(one.position)) for one in found]
    return [Symbol(one.text, page, one.x / width, one.y / height) for one in _in_reading_order(met)]


def _corners(at: zxingcpp.Position) -> list[tuple[float, float]]:
    return [(corner.x, corner.y) for corner in (at.top_left, at.top_right, at.bottom_right, at.bottom_left)]


# -- photos


def _read_photo(data: bytes, report: Report, cancelled: Callable[[], bool]) -> list[Symbol]:
    found: list[Symbol] = []
    for number, (count, grey) in enumerate(_greys(data), 1):
        if cancelled():
            raise Stopped
        if count > 1:
            report(number - 1, count, f"Reading page {number} of {count}")
        found += read_grey(grey, number)
    return found


def _greys(data: bytes) -> Iterator[tuple[int, Grey]]:
    """Yield the grey values of a photo, or of each page of a scan, with the number of pages."""
    import numpy as np
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the bound below is our own
            picture: Image.Image = Image.open(io.BytesIO(data), formats=_KINDS)
        count = _page_count(picture)
        for page in range(count):
            picture.seek(page)
            if picture.width * picture.height > MOST_PIXELS:
                raise Image.DecompressionBombError
            yield count, np.asarray(_scaled(picture))
    except UnidentifiedImageError:
        raise Refusal(f"This is no picture that can be read here. {_WHAT_CAN}") from None
    except Image.DecompressionBombError:
        raise Refusal(
            f"This picture has more than {MOST_PIXELS // 1_000_000} million pixels. Save it smaller, or cut out a part."
        ) from None
    except (OSError, SyntaxError, ValueError, EOFError):  # Pillow raises any of these within a broken file
        raise Refusal("This picture is damaged and cannot be read whole. Copy it anew, or take another.") from None


def _page_count(picture: Image) -> int:
    """Return how many pages a TIFF of a scanner has; of other pictures the first frame is all.

    No more of them are looked at than may be read.
    """
    if picture.format != "TIFF":
        return 1
    for page in range(1, MOST_PAGES + 1):
        try:
            picture.seek(page)
        except EOFError:
            return page
    raise Refusal(
        f"This picture has more than {MOST_PAGES} pages; at most {MOST_PAGES} are read at once. "
        "Save the pages that matter by themselves."
    )


def _scaled(picture: Image) -> Image:
    """Return a picture in grey, no larger than needed and no smaller than helps; what is seen through is white.

    Enlarged twice, small symbols out of focus are read far more often: of a box of 81, each 65 pixels wide, all and not
    a third.
    """
    from PIL import Image

    room = (LONGEST_SIDE, LONGEST_SIDE)
    picture.draft("L", room)  # a JPEG is made smaller while it is read
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
        picture.thumbnail(room)
        picture = Image.alpha_composite(Image.new("RGBA", picture.size, "white"), picture)
    grey = picture.convert("L")
    grey.thumbnail(room)
    if 2 * max(grey.size) <= LONGEST_SIDE:
        grey = grey.resize((2 * grey.width, 2 * grey.height), Image.Resampling.BICUBIC)
    return grey


# -- PDFs


def _read_pdf(data: bytes, report: Report, cancelled: Callable[[], bool]) -> list[Symbol]:
    import pypdfium2

    try:
        with pypdfium2.PdfDocument(data) as document:
            count = len(document)
            if count > MOST_PAGES:
                raise Refusal(
                    f"This PDF has {count:,} pages; at most {MOST_PAGES} are read at once. "
                    "Print the pages that matter into a PDF of their own."
                )
            found: list[Symbol] = []
            for number in range(count):
                if cancelled():
                    raise Stopped
                report(number, count, f"Reading page {number + 1} of {count}")
                found += read_grey(_drawn(document[number]), number + 1)
            return found
    except pypdfium2.PdfiumError as error:
        if "password" in str(error).lower():
            raise Refusal("This PDF is locked with a password. Save it without one and read that.") from None
        raise Refusal("This PDF is damaged and cannot be read. Copy it anew, or take another.") from None


def _drawn(page: pypdfium2.PdfPage) -> Grey:
    """Return a page of a PDF as grey values, fine enough for the smallest symbol that is printed."""
    width, height = page.get_size()
    scale = min(FINEST_DPI / 72, LONGEST_SIDE / max(width, height, 1))
    bitmap = page.render(scale=scale, grayscale=True)
    drawn: Grey = bitmap.to_numpy().reshape(bitmap.height, bitmap.width).copy()
    return drawn


# -- order


@dataclass(frozen=True)
class _Met:
    """A symbol with its corners in pixels: top left, top right, bottom right, bottom left, as the label stands."""

    text: str
    corners: Sequence[tuple[float, float]]

    @property
    def x(self) -> float:
        return sum(x for x, _ in self.corners) / 4

    @property
    def y(self) -> float:
        return sum(y for _, y in self.corners) / 4

    @property
    def right(self) -> tuple[float, float]:
        """Where the label has its right, in pixels along its upper edge."""
        (left, top), (right, down) = self.corners[:2]
        return right - left, down - top


def _in_reading_order(met: Sequence[_Met]) -> list[_Met]:
    """Return the symbols row by row as the labels themselves stand, however the camera was held."""
    if not met:
        return []
    across, along = sum(one.right[0] for one in met), sum(one.right[1] for one in met)
    length = math.hypot(across, along)
    across, along = (across / length, along / length) if length else (1.0, 0.0)  # they stand every way: as it comes

    def down(one: _Met) -> float:
        return one.y * across - one.x * along

    rows: list[list[_Met]] = []
    for one in sorted(met, key=down):
        if rows and down(one) - down(rows[-1][-1]) < math.hypot(*one.right) / 2:
            rows[-1].append(one)
        else:
            rows.append([one])
    return [one for row in rows for one in sorted(row, key=lambda one: one.x * across + one.y * along)]
