"""What a camera sees, beside the window: every label held before it is a scan.

It imports QtMultimedia, which the extra `camera` brings; `window.camera.CameraDoor` opens it only where that is there.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtMultimedia import QCamera, QCameraDevice, QMediaCaptureSession, QMediaDevices, QVideoFrame
from PySide6.QtMultimediaWidgets import QVideoWidget
from PySide6.QtWidgets import QDialog, QVBoxLayout, QWidget

from sporebank.core import codes
from sporebank.window.camera import FrameReader
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.simple import label

_KEPT = "camera/chosen"


class CameraDialog(QDialog):
    """Shows the live picture; `take` takes each scan, in the mode of the page or in the dialog that is open."""

    def __init__(self, context: Context, parent: QWidget, take: Callable[[str], object]) -> None:
        super().__init__(parent)
        self._context, self._take = context, take
        self._camera: QCamera | None = None
        self.setWindowTitle("Scan with the camera")
        self.cameras: Choice[QCameraDevice] = Choice()
        self.cameras.setAccessibleName("Camera")
        self.cameras.offer([(one.description(), one) for one in QMediaDevices.videoInputs()])
        self.view = QVideoWidget()
        self.view.setMinimumSize(320, 240)
        self.said = label("Hold a label before the camera until it is read.", "mute", wrap=True)
        layout = QVBoxLayout(self)
        layout.addWidget(self.cameras)
        layout.addWidget(self.view, 1)
        layout.addWidget(self.said)
        resize_within(self, 420, 400)
        self.reader = FrameReader(context, self)
        self.reader.scanned.connect(self._scanned)
        self._session = QMediaCaptureSession(self)
        self._session.setVideoOutput(self.view)
        self.view.videoSink().videoFrameChanged.connect(self._see)
        self.cameras.edited.connect(self._start)
        kept = self.cameras.findText(context.state.get(_KEPT, ""))
        self.cameras.setCurrentIndex(max(kept, 0))
        self._start()

    def _start(self) -> None:
        if self._camera is not None:
            self._camera.stop()
        if not self.cameras.count():
            self.said.setText("The camera is gone. Plug it in and open this again.")
            return
        self._context.state.put(_KEPT, self.cameras.currentText())
        self._camera = QCamera(self.cameras.value(), self)
        self._camera.errorOccurred.connect(lambda _, text: self.said.setText(f"The camera cannot be used: {text}"))
        self._session.setCamera(self._camera)
        self._camera.start()

    def _see(self, frame: QVideoFrame) -> None:
        if self.reader.ready():
            self.reader.offer(frame.toImage())

    def _scanned(self, text: str) -> None:
        self.said.setText(f"Read: {codes.grouped(text) if len(text) == codes.LENGTH else text}")
        self._take(text)

    def done(self, result: int) -> None:
        """Let go of the camera."""
        if self._camera is not None:
            self._camera.stop()
        self.reader.shut()
        super().done(result)
        self.deleteLater()
