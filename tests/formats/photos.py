"""Photos and papers of labels, made for the tests by qrcode, Pillow and ReportLab alone."""

import io
import struct
import zlib
from functools import cache

import numpy as np
import qrcode
from PIL import Image, ImageFilter
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

rl_config.useA85 = 0  # pictures as text would take most of the time
TABLE = 190  # the grey of the table on which the labels lie


@cache
def label(text, side=120):
    """Return a white label with one QR symbol on it."""
    return qrcode.make(text, box_size=6, border=4).get_image().convert("L").resize((side, side))


def photo(rows, side=120, gap=40, turned=0.0, blurred=0.0):
    """Return rows of labels on a grey table; None leaves a gap. Turned by degrees, against the clock."""
    step = side + gap
    size = (max(len(row) for row in rows) * step + gap, len(rows) * step + gap)
    picture = Image.new("L", size, TABLE)
    for down, row in enumerate(rows):
        for along, text in enumerate(row):
            if text is not None:
                picture.paste(label(text, side), (gap + along * step, gap + down * step))
    picture = picture.rotate(turned, expand=True, fillcolor=TABLE, resample=Image.Resampling.BICUBIC)
    return picture.filter(ImageFilter.GaussianBlur(blurred)) if blurred else picture


def saved(picture, kind="JPEG", **more):
    """Return a picture as the bytes of a file."""
    file = io.BytesIO()
    picture.save(file, kind, **more)
    return file.getvalue()


def pdf(pictures, encrypt=None):
    """Return a PDF with one picture a page, 72 dots an inch."""
    file = io.BytesIO()
    canvas = Canvas(file, encrypt=encrypt)
    for picture in pictures:
        canvas.setPageSize(picture.size)
        canvas.drawImage(ImageReader(picture.convert("RGB")), 0, 0)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


def bomb(side):
    """Return a small PNG file that claims to be a square of so many pixels (PNG specification, 11.2.2)."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    parts = (chunk(b"IHDR", head), chunk(b"IDAT", zlib.compress(bytes(1000))), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def noise(size=(400, 300)):
    """Return a picture of nothing."""
    return Image.fromarray(np.random.default_rng(7).integers(0, 255, size, dtype=np.uint8))
