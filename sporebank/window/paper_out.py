"""A paper's ways out: into a file, to the system's own viewer, to a printer."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from PySide6.QtCore import QRectF, QSizeF, QUrl
from PySide6.QtGui import QDesktopServices, QImage, QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QWidget

from sporebank.core.errors import Refusal, Stopped
from sporebank.documents.picture import page_sizes, pictures
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.where import ask_where, remember

#: A page is drawn for the printer at no more than this, which is finer than any label symbol needs.
FINEST_DPI = 600
_FOLDER = "papers/folder"
#: Papers that differ by less, in mm, are one.
SAME_PAPER = 1.0
WARNING = "In the window that opens now, choose 100 % or “actual size”, and not “fit to page”."
WHY = (
    "With “fit to page” or “shrink to margins” each label drifts further off its place than the one before. "
    "This is said once for each printer."
)


def save(context: Context, parent: QWidget, data: bytes, file_name: str) -> Path | None:
    """Ask where a file goes, write it whole or not at all, and return where it lies, or None when turned away."""
    ending = Path(file_name).suffix
    target = ask_where(context, parent, "Save as", file_name, f"{ending[1:].upper()} (*{ending})", _FOLDER)
    if target is not None:
        write_whole(target, data)
        remember(context, _FOLDER, target)
    return target


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
    try:
        folder = Path(tempfile.mkdtemp(prefix="sporebank-"))
    except OSError as error:
        raise Refusal(f"There is no place for what is only looked at ({error.strerror}). Save it instead.") from error
    write_whole(folder / file_name, data)
    if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder / file_name))):
        raise Refusal("The system has no program to open this with. Save it, and open it where there is one.")


def print_out(
    context: Context, parent: QWidget, pdf: bytes, title: str, sent: Callable[[], object], *, exact_on: str = ""
) -> None:
    """Print a PDF through the system's own dialog, at its true size.

    Args:
        context: the open bank.
        parent: the dialog that asks.
        pdf: what is printed.
        title: what it is called in the queue of the printer.
        sent: called once the printer has it.
        exact_on: the keeper's name of the printer where the size must be exact; the first time, what to choose is said.
    """

    def done() -> None:
        context.tell.info(f"{title}: sent to the printer.")
        sent()

    if exact_on and not _warned(context, exact_on):
        return
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(title)
    if _chosen(context, parent, printer, page_sizes(pdf)[0]):
        context.work(
            f"Printing {title}",
            lambda report, cancelled: paint(printer, pdf, report, cancelled),
            lambda _: done(),
            at_closing=f"“{title}” is being printed.",
        )


def _warned(context: Context, name: str) -> bool:
    """Say, the first time for each printer, what keeps the true size; return False when the keeper turned away."""
    nothing: list[str] = []
    told = context.state.get("printing/warned", nothing)
    if name not in told:
        if not context.tell.ask(WARNING, ["Go on"], details=WHY):
            return False
        context.state.put("printing/warned", [*told, name])
    return True


def _chosen(context: Context, parent: QWidget, printer: QPrinter, size: tuple[float, float]) -> bool:
    """Let the keeper choose a printer until its paper is that of the page, or another is meant."""
    again, go_on = "Choose again", "Print all the same"
    while True:
        printer.setPageSize(QPageSize(QSizeF(*size), QPageSize.Unit.Millimeter))
        printer.setPageOrientation(QPageLayout.Orientation.Portrait)
        printer.setFullPage(True)
        if not QPrintDialog(printer, parent).exec():
            return False
        printer.setFullPage(True)
        wrong = other_paper(printer, size)
        answer = context.tell.ask(wrong, [again, go_on]) if wrong else go_on
        if answer != again:
            return answer == go_on


def other_paper(printer: QPrinter, size: tuple[float, float]) -> str:
    """Return a sentence when a printer is set for another paper than a page of `size` mm has, else nothing."""
    paper = printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter)
    (width, height), got = size, (paper.width(), paper.height())
    if all(abs(one - other) <= SAME_PAPER for one, other in zip(got, size, strict=True)):
        return ""
    return (
        f"The printer is set for paper of {got[0]:.0f} × {got[1]:.0f} mm, the page is {width:.0f} × {height:.0f} mm: "
        "what does not fit is cut off, or everything is shrunk and drifts."
    )


def paint(printer: QPrinter, pdf: bytes, report: Report, cancelled: Cancelled) -> None:
    """Draw every page at its true size; stopping leaves the pages already sent.

    Raises:
        Refusal: the printer does not take the work, or what it was to write into a file is not whole.
        Stopped: `cancelled()` held.
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
                raise Stopped
            report(number, len(sizes), f"Page {number + 1} of {len(sizes)}")
            if number and not printer.newPage():
                raise Refusal(
                    f"The printer took no more after page {number}. Look what it says, and print the rest again."
                )
            dots = [length / 25.4 * printer.resolution() for length in sizes[number]]
            shown = QImage(picture.rgb, picture.width, picture.height, picture.stride, QImage.Format.Format_RGB888)
            painter.drawImage(QRectF(0, 0, *dots), shown)
    finally:
        painter.end()
    if printer.outputFormat() is QPrinter.OutputFormat.PdfFormat:
        _look_at_file(Path(printer.outputFileName()))


def _look_at_file(target: Path) -> None:
    """Refuse what was printed into a PDF without its last line (ISO 32000-1, 7.5.5): Qt itself says nothing.

    Raises:
        Refusal: the file is not whole; it is then gone.
    """
    if target.is_file() and target.read_bytes().rstrip().endswith(b"%%EOF"):
        return
    target.unlink(missing_ok=True)
    raise Refusal(f"{target.name} could not be written whole. Make room on its disk, or choose another folder.")
