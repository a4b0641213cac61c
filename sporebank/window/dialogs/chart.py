"""The decline of a vial, large: zoomed, with its sister batches, saved as a picture or into the batch report."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QDialog, QDialogButtonBox, QHBoxLayout, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import chart as charts
from sporebank.core import codes
from sporebank.core.chart import Chart
from sporebank.core.errors import Refusal
from sporebank.window import paper_out, printing
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.widgets.chart import DeclineChart
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.simple import label

KEYS = "Wheel or + and − zoom, drag or the arrows move, 0 shows the whole."


class ChartDialog(QDialog):
    """The chart of one vial."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, vial_id: int) -> None:
        super().__init__(parent)
        self.context, self._vial_id, self._batch_id = context, vial_id, 0
        self._alone: Chart | None = None
        self.setWindowTitle("Decline")
        resize_within(self, 1040, 680)
        self.name, self.about = NameLabel(), label(role="mute")
        self.chart = DeclineChart(large=True)
        self.key, self.keys = label(role="small", wrap=True), label(KEYS, role="small", wrap=True)
        self.sisters = QCheckBox("Sister &batches")
        self.sisters.toggled.connect(self._toggle)
        self.how_many = label(role="mute")
        self.message = label(wrap=True)
        self.message.hide()
        row = QHBoxLayout()
        row.addWidget(self.sisters)
        row.addWidget(self.how_many, 1)
        layout = QVBoxLayout(self)
        for widget, stretch in (
            (self.name, 0), (self.about, 0), (self.chart, 1), (self.key, 0), (self.keys, 0),
        ):  # fmt: skip
            layout.addWidget(widget, stretch)
        layout.addLayout(row)
        layout.addWidget(self.message)
        layout.addWidget(self._foot())
        context.read(lambda bank: _read(bank, vial_id), lambda found: self._show(*found))

    def _foot(self) -> QDialogButtonBox:
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.rejected.connect(self.reject)
        ways: tuple[tuple[str, Callable[[], object]], ...] = (
            ("Save as &PNG…", lambda: self._save("png")),
            ("Save as &SVG…", lambda: self._save("svg")),
            ("Batch &report…", self._report),
        )
        self.ways = [foot.addButton(text, QDialogButtonBox.ButtonRole.ActionRole) for text, _ in ways]
        for button, (_, do) in zip(self.ways, ways, strict=True):
            button.setEnabled(False)
            button.clicked.connect(lambda _=False, do=do: do())
        return foot

    def _show(self, chart: Chart, batch_id: int) -> None:
        self._alone, self._batch_id = chart, batch_id
        self.setWindowTitle(charts.title(chart))
        self.name.set_name(chart.name)
        self.about.setText(f"{codes.grouped(chart.code)} · clone {chart.clone} · {charts.collected_label(chart)}")
        for button in self.ways:
            button.setEnabled(True)
        self._draw(chart)
        self.chart.setFocus()

    def _draw(self, chart: Chart) -> None:
        self.chart.show_chart(chart)
        self.key.setText(charts.key(chart))
        self.key.setVisible(bool(self.key.text()))
        self.how_many.setText(charts.sisters_sentence(chart) if self.sisters.isChecked() else "")

    def _toggle(self, wanted: bool) -> None:
        alone, vial_id = self._alone, self._vial_id
        if alone is None:
            return
        if not wanted:
            self._draw(alone)
            return

        def read(bank: Bank) -> Chart:
            from sporebank.jobs.chart import with_sisters

            return with_sisters(bank, vial_id, alone)

        self.context.read(read, lambda chart: self._draw(chart if self.sisters.isChecked() else alone))

    def _save(self, kind: str) -> None:
        from sporebank.window import chart_file  # brings pyqtgraph

        chart, plot = self.chart.record, self.chart.plot
        assert chart is not None
        assert plot is not None
        write = chart_file.png if kind == "png" else chart_file.svg
        try:
            saved = paper_out.save(self.context, self, write(chart, plot.in_sight()), f"{chart.code}.{kind}")
        except Refusal as refusal:
            self._say("warn", str(refusal))
            return
        if isinstance(saved, Path):
            self._say("strong", f"Saved as {saved}.")

    def _say(self, role: str, text: str) -> None:
        self.message.setProperty("role", role)
        self.message.style().polish(self.message)
        self.message.setText(text)
        self.message.show()

    def _report(self) -> None:
        self.accept()
        printing.batch_report(self.context, self._batch_id, self._vial_id)


def _read(bank: Bank, vial_id: int) -> tuple[Chart, int]:
    from sporebank.jobs.chart import vial_chart  # brings numpy, which the first paint need not wait for

    return vial_chart(bank, vial_id), queries.vial_row(bank, vial_id).batch_id
