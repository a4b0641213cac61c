"""How pictures of labels come in: dropped on a window, pasted, or opened."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from PySide6.QtCore import QBuffer, QEvent, QIODevice, QMimeData, QObject, QTimer, Signal
from PySide6.QtGui import QDropEvent, QGuiApplication, QImage
from PySide6.QtWidgets import QFileDialog, QWidget

from sporebank.core.errors import Refusal
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context

Source = Path | bytes
"""A file, or a picture that was pasted."""

Then = Callable[[str, bool], object]
"""Is told in a sentence what came of a label, and whether it was done."""

_FOLDER = "pictures/folder"
_KINDS = "Photos and PDFs (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.bmp *.gif *.pdf);;All files (*)"


@dataclass(frozen=True)
class Use:
    """What is done with the labels of a picture, in a sentence.

    `act` does for one label what a scan of it would; None where labels are looked up. With `strangers`, labels that
    nothing here carries count as well.
    """

    sentence: str
    act: Callable[[str, Then], object] | None = None
    strangers: bool = False


@dataclass(frozen=True)
class Read:
    """What the labels in pictures say, and of each picture that cannot be read a sentence why."""

    texts: tuple[str, ...]
    failed: tuple[str, ...]


class PictureDoor(QObject):
    """Lets pictures in through a window. Signals: `given(sources)`, a list of `Source`."""

    given = Signal(object)

    def __init__(self, context: Context, window: QWidget) -> None:
        super().__init__(window)
        self._context, self._window = context, window
        window.setAcceptDrops(True)
        window.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take files and pictures that are dropped."""
        if isinstance(event, QDropEvent) and _fits(event.mimeData()):
            event.acceptProposedAction()
            if event.type() == QEvent.Type.Drop:
                sources = _sources(event.mimeData())
                QTimer.singleShot(0, self, partial(self.given.emit, sources))  # first let go of who dropped it
            return True
        return False

    def paste(self) -> None:
        """Take what lies on the clipboard."""
        mime = QGuiApplication.clipboard().mimeData()
        if _fits(mime):
            self.given.emit(_sources(mime))
        else:
            self._context.tell.error(
                Refusal("There is no picture on the clipboard. Copy a photo or a PDF file first, then paste it here.")
            )

    def open(self) -> None:
        """Ask for files."""
        folder = self._context.state.get(_FOLDER, "") or str(Path.home())
        chosen, _ = QFileDialog.getOpenFileNames(self._window, "Read labels in pictures", folder, _KINDS)
        if chosen:
            self._context.state.put(_FOLDER, str(Path(chosen[0]).parent))
            self.given.emit([Path(name) for name in chosen])


def _fits(mime: QMimeData) -> bool:
    return mime.hasImage() or any(url.isLocalFile() for url in mime.urls())


def _sources(mime: QMimeData) -> list[Source]:
    files: list[Source] = [Path(url.toLocalFile()) for url in mime.urls() if url.isLocalFile()]
    if files:
        return files
    picture, buffer = QImage(mime.imageData()), QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    picture.save(buffer, "PNG")  # type: ignore[call-overload]  # the stubs want bytes, Qt takes a word
    return [bytes(buffer.data().data())]


def read_texts(sources: Sequence[Source], report: Report, cancelled: Cancelled) -> Read:
    """Return what the labels in pictures say, picture by picture, and why some of them could not be read.

    Raises:
        Stopped: `cancelled()` held.
    """
    from sporebank.formats import symbols  # brings what opens photos

    texts: list[str] = []
    failed: list[str] = []
    for source in sources:
        try:
            data = source if isinstance(source, bytes) else _load(source, symbols.MOST_BYTES)
            texts += [symbol.text for symbol in symbols.read(data, report, cancelled)]
        except Refusal as refusal:
            failed.append(str(refusal) if isinstance(source, bytes) else f"{source.name}: {refusal}")
    return Read(tuple(texts), tuple(failed))


def _load(path: Path, most: int) -> bytes:
    """Return a file, or as much of it as shows that it is too large."""
    try:
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise Refusal(f"It cannot be opened ({error.strerror}). Copy it to this computer first.") from error
