"""A chart as a file of its own: drawn anew on white in the light colours, so that it can be printed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QApplication

from sporebank.core import chart as charts
from sporebank.core import codes, names
from sporebank.core.chart import Chart
from sporebank.window.theme import palettes
from sporebank.window.widgets.decline import DeclinePlot, Stretch
from sporebank.window.widgets.names import draw_runs

SIZE = QSize(1000, 620)
FINER = 2
"""Dots of a picture for each pixel of the screen."""

_EDGE, _HEAD, _FOOT = 24, 62, 44


def png(chart: Chart, stretch: Stretch | None = None) -> bytes:
    """Return the chart, or a stretch of it, as a PNG picture."""
    image = QImage(SIZE * FINER, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(FINER)
    with QPainter(image) as painter:
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
        _draw(chart, stretch, painter, FINER)
    return _written(lambda buffer: image.save(buffer, "PNG"))  # type: ignore[call-overload]  # stubs know no device


def svg(chart: Chart, stretch: Stretch | None = None) -> bytes:
    """Return the chart, or a stretch of it, as an SVG drawing."""

    def write(buffer: QBuffer) -> None:
        made = QSvgGenerator(QSvgGenerator.SvgVersion.Svg11)
        made.setOutputDevice(buffer)
        made.setTitle(charts.title(chart))
        made.setDescription(charts.words(chart))
        made.setSize(SIZE)
        made.setViewBox(QRect(0, 0, SIZE.width(), SIZE.height()))
        made.setResolution(96)
        with QPainter(made) as painter:
            _draw(chart, stretch, painter, 1)

    return _written(write)


def _written(write: Callable[[QBuffer], object]) -> bytes:
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    write(buffer)
    buffer.close()
    return bytes(data.data())


def _draw(chart: Chart, stretch: Stretch | None, painter: QPainter, finer: int) -> None:
    whole = QRectF(0, 0, SIZE.width(), SIZE.height())
    painter.fillRect(whole, palettes()["light"].colour("sheet"))
    _draw_words(chart, painter, whole.adjusted(_EDGE, _EDGE / 2, -_EDGE, -_EDGE / 2))
    middle = whole.adjusted(_EDGE, _HEAD + _EDGE / 2, -_EDGE, -_FOOT - _EDGE / 2)
    plot = DeclinePlot(palettes()["light"], finer=finer)
    plot.resize(middle.size().toSize())
    plot.show_chart(chart, stretch)
    plot.draw(painter, middle)
    plot.close()


def _draw_words(chart: Chart, painter: QPainter, room: QRectF) -> None:
    colours, font = palettes()["light"], QApplication.font()
    large = QFont(font)
    large.setPointSizeF(font.pointSizeF() * 1.5)
    painter.setPen(colours.colour("ink"))
    draw_runs(painter, QRectF(room.left(), room.top(), room.width(), 34), names.runs(chart.name), large)
    painter.setFont(font)
    painter.setPen(colours.colour("mute"))
    below = f"{codes.grouped(chart.code)} · clone {chart.clone} · {charts.collected_label(chart)}"
    painter.drawText(QRectF(room.left(), room.top() + 34, room.width(), 22), Qt.AlignmentFlag.AlignVCenter, below)
    height = QFontMetrics(font).lineSpacing() * 2
    foot = QRectF(room.left(), room.bottom() - height, room.width(), height)
    painter.drawText(foot, int(Qt.AlignmentFlag.AlignBottom) | int(Qt.TextFlag.TextWordWrap), charts.key(chart))
