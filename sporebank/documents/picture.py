"""Pictures of a PDF's pages, for looking at a paper before it is printed, and for printing it.

What is shown is made from the very bytes that are saved, so nothing can differ.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

POINTS_PER_INCH = 72.0


@dataclass(frozen=True)
class Picture:
    """One page as rows of RGB bytes, `stride` bytes a row."""

    width: int
    height: int
    stride: int
    rgb: bytes


def page_sizes(pdf: bytes) -> tuple[tuple[float, float], ...]:
    """Return width and height of every page in millimetres."""
    import pypdfium2

    with pypdfium2.PdfDocument(pdf) as document:
        sizes = [document.get_page_size(number) for number in range(len(document))]
    return tuple((width * 25.4 / POINTS_PER_INCH, height * 25.4 / POINTS_PER_INCH) for width, height in sizes)


def pictures(pdf: bytes, dpi: float, first: int = 0, count: int | None = None) -> Iterator[Picture]:
    """Yield pages as pictures at a resolution, one at a time so that a long paper needs little memory.

    Args:
        pdf: the whole PDF.
        dpi: pixels per inch.
        first: the first page wanted, from 0.
        count: how many; all that follow when left out.
    """
    import pypdfium2

    with pypdfium2.PdfDocument(pdf) as document:
        last = len(document) if count is None else min(first + count, len(document))
        for number in range(first, last):
            bitmap = document[number].render(scale=dpi / POINTS_PER_INCH, rev_byteorder=True, no_smoothtext=False)
            assert bitmap.n_channels == 3
            yield Picture(bitmap.width, bitmap.height, bitmap.stride, bytes(bitmap.buffer))
