"""A paper's ways out: into a file, to the system's own viewer, to a printer."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QRectF, QSizeF, QUrl
from PySide6.QtGui import QDesktopServices, QImage, QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QFileDialog, QWidget

from sporebank.core.errors import Refusal
from sporebank.documents.picture import page_sizes, pictures
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context

#: A page is drawn for the printer at no more than this, which is finer than any label symbol needs.
FINEST_DPI = 600


def save(context: Context, parent: QWidget, data: bytes, file_name: str) -> Path | None:
    """Ask where a file goes, write it whole or not at all, and return where it lies, or None when turned away."""
    folder = Path(context.state.get("papers/folder", "") or Path.home())
    ending = Path(file_name).suffix
    kinds = f"{ending[1:].upper()} (*{ending})"
    chosen, _ = QFileDialog.getSaveFileName(parent, "Save as", str(folder / file_name), kinds)
    if not chosen:
        return None
    target = Path(chosen if chosen.lower().endswith(ending) else chosen + ending)
    if str(target) != chosen and target.exists() and not _may_replace(context, target):
        return None
    write_whole(target, data)
    context.state.put("papers/folder", str(target.parent))
    return target


def _may_replace(context: Context, target: Path) -> bool:
    """Ask about a file that the system's dialog did not ask about, since its ending was added here."""
    return bool(context.tell.ask(f"{target.name} is there already. Write over it?", ["Write over it"]))


def write_whole(target: Path, data: bytes) -> None:
    """Write a file beside its place and then put it there, so that half a file is never left.

    Raises:
        Refusal: it cannot be written there.
    """
    partial = target.with_name(target.name + ".partial")
    try:
        partial.write_bytes(data)
        partial.replace(target)
    except OSError as error:
        with suppress(OSError):
            partial.unlink()
        raise Refusal(f"{target.name} could not be written ({error.strerror}). Choose another folder.") from error


def open_outside(data: bytes, file_name: str) -> None:
    """Open a file with the program the system has for it."""
    folder = Path(tempfile.mkdtemp(prefix="sporebank-"))
    write_whole(folder / file_name, data)
    if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder / file_name))):
        raise Refusal("The system has no program to open this with. Save it, and open it where there is one.")


def print_out(context: Context, parent: QWidget, pdf: bytes, title: str, sent: Callable[[], object]) -> None:
    """Print a PDF through the system's own dialog, at its true size; `sent` is called once the printer has it."""

    def done() -> None:
        context.tell.info(f"{title}: sent to the printer.")
        sent()

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    width, height = page_sizes(pdf)[0]
    printer.setPageSize(QPageSize(QSizeF(width, height), QPageSize.Unit.Millimeter))
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)
    printer.setDocName(title)
    if QPrintDialog(printer, parent).exec():
        context.work(
            f"Printing {title}",
            lambda report, cancelled: paint(printer, pdf, report, cancelled),
            lambda _: done(),
        )


def paint(printer: QPrinter, pdf: bytes, report: Report, cancelled: Cancelled) -> None:
    """Draw every page at its true size; stopping leaves the pages already sent.

    Raises:
        Refusal: the printer does not take the work.
    """
    sizes = page_sizes(pdf)
    dpi = min(printer.resolution(), FINEST_DPI)
    painter = QPainter()
    if not painter.begin(printer):
        raise Refusal("The printer does not take the work. Look whether it is switched on, or save the PDF instead.")
    try:
        for number, picture in enumerate(pictures(pdf, dpi)):
            if cancelled():
                printer.abort()
                return
            report(number, len(sizes), f"Page {number + 1} of {len(sizes)}")
            if number:
                printer.newPage()
            dots = [length / 25.4 * printer.resolution() for length in sizes[number]]
            shown = QImage(picture.rgb, picture.width, picture.height, picture.stride, QImage.Format.Format_RGB888)
            painter.drawImage(QRectF(0, 0, *dots), shown)
    finally:
        painter.end()
