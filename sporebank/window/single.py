"""One window: a second start raises the first one and ends."""

from __future__ import annotations

import getpass
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtNetwork import QLocalServer, QLocalSocket

WAIT_MS = 1500


class SingleWindow(QObject):
    """Listens for later starts. Signals: `raised(path)` when one asks for the window, "" or a bank's path."""

    raised = Signal(str)

    def __init__(self, name: str | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._name = name or f"sporebank-{getpass.getuser()}"
        self._server = QLocalServer(self)
        self._server.setSocketOptions(QLocalServer.SocketOption.UserAccessOption)
        self._server.newConnection.connect(self._meet)

    def is_first(self, path: Path | None = None) -> bool:
        """Return whether this is the first start; if not, the first one has been asked to come forward."""
        socket = QLocalSocket()
        socket.connectToServer(self._name)
        if not socket.waitForConnected(WAIT_MS):
            QLocalServer.removeServer(self._name)  # what a killed start left behind
            return self._server.listen(self._name)
        socket.write((str(path or "") + "\n").encode())
        socket.waitForBytesWritten(WAIT_MS)
        socket.disconnectFromServer()
        return False

    def close(self) -> None:
        """Listen no more."""
        self._server.close()

    def _meet(self) -> None:
        while (socket := self._server.nextPendingConnection()) is not None:
            if socket.canReadLine() or socket.waitForReadyRead(WAIT_MS):
                self.raised.emit(bytes(socket.readLine().data()).decode().strip())
            socket.deleteLater()
