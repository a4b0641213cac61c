"""A window under test: a real bank file, the real lane, and messages that are written down instead of shown."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache, partialmethod
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from PySide6.QtCore import QAbstractEventDispatcher, QDeadlineTimer, QEventLoop, QTimer
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import opening, tables
from sporebank.bank.bank import Bank
from sporebank.core import names, naming
from sporebank.core.errors import Refusal
from sporebank.window.context import Context
from sporebank.window.garbage import Garbage, collect
from sporebank.window.lane import Lane
from sporebank.window.state import WindowState
from sporebank.window.tell import Offer
from sporebank.window.theme import Theme
from tests.builders import figured

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

NOW = datetime(2026, 5, 4, 10, 30)
TODAY = NOW.date()
PATIENCE_MS = 30_000
PULSE_MS = 10

TAXA = (
    "Athyrium otophorum", "Dryopteris crispifolia", "Polystichum tsus-simense", "Adiantum venustum",
    "Osmunda regalis", "Woodwardia unigemmata", "Asplenium scolopendrium 'Crispum'", "Blechnum spicant",
    "Dryopteris × complexa", "Polypodium cambricum subsp. cambricum", "Cystopteris bulbifera",
    "Athyrium niponicum var. pictum", "Matteuccia struthiopteris",
)  # fmt: skip


@dataclass
class Told:
    """Stands in for the door of messages: writes down what is said and answers as told to."""

    infos: list[tuple[str, Offer | None]] = field(default_factory=list)
    errors: list[Refusal] = field(default_factory=list)
    bugs: list[BaseException] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    answer: str = ""

    def info(self, text: str, offer: Offer | None = None) -> None:
        self.infos.append((text, offer))

    def error(self, refusal: Refusal) -> None:
        self.errors.append(refusal)

    def bug(self, failure: BaseException) -> None:
        self.bugs.append(failure)

    def ask(
        self,
        question: str,
        choices: Sequence[str],
        *,
        details: str = "",
        careful: bool = False,
        turn_away: str = "Cancel",
    ) -> str:
        self.asked.append(question)
        return self.answer if self.answer in choices else ""


def fill(bank: Bank, vials: int) -> None:
    """Store a fictional collection: a batch of four vials a clone, in two fridges of boxes."""
    with bank.change("Store a collection") as tx:
        rooms = [
            tx.insert(
                tables.Place,
                code=tx.new_code("L"),
                kind="fridge",
                name=name,
                temperature=4.0,
                humidity=15.0,
                path=name,
                path_key=f"{number:03d}",
            )
            for number, name in enumerate(("Fridge 1", "Fridge 2"))
        ]
        boxes = [
            tx.insert(
                tables.Place,
                code=tx.new_code("L"),
                parent_id=rooms[n % 2],
                kind="box",
                name=f"Box {n + 1}",
                rows=9,
                columns=9,
                path=f"Fridge {n % 2 + 1} / Box {n + 1}",
                path_key=f"{n % 2:03d}/{n:03d}",
            )
            for n in range(vials // 81 + 1)
        ]
        taxa = [
            tx.insert(
                tables.Taxon,
                name=names.text(naming.parse(text)),
                sort_key=names.sort_key(naming.parse(text)),
                spore_class="non-green",
                verified=int(number % 5 != 0),
            )
            for number, text in enumerate(TAXA)
        ]
        for start in range(0, vials, 4):
            number = start // 4
            clone = tx.insert(
                tables.Clone,
                code=f"K-{number:03d}",
                sort_key=f"K-{number:03d}",
                taxon_id=taxa[number % len(taxa)],
                source="garden",
                permission="yes",
            )
            collected = (f"{2008 + number % 17}", f"{2008 + number % 17}-08", f"{2008 + number % 17}-08-14")
            batch = tx.insert(
                tables.Batch,
                code=tx.new_code("B"),
                clone_id=clone,
                collected=collected[number % 3],
                cleaning="tilted on paper",
                purity_basis="by eye",
                amount_basis="weighed",
                spore_class="non-green",
            )
            for offset in range(min(4, vials - start)):
                place_vial(tx, batch, boxes, start + offset)
    with bank.database.atomic():
        _figure(bank)


def place_vial(tx, batch: int, boxes: list[int], number: int) -> int:
    """Put one vial into the next slot."""
    vial = tx.insert(tables.Vial, code=tx.new_code("V"), batch_id=batch, number=number % 4 + 1)
    day = f"{2010 + number % 15}-09-02"
    tx.move_spore(vial, on_day=day, micrograms=2400 + 370 * (number % 50), reason="stored", basis="weighed")
    tx.place(vial, since=day, place_id=boxes[number // 81], slot=number % 81, temperature=4.0, humidity=15.0)
    return vial


def _figure(bank: Bank) -> None:
    """Give every vial figures of our own that show every state."""
    shares = ((0.86, 0.06, "alive"), (0.61, 0.11, "alive"), (0.44, 0.15, "fading"), (0.08, 0.06, "spent"))
    rows = bank.database.execute_sql("SELECT id FROM vial ORDER BY id").fetchall()
    for (vial_id,) in rows:
        middle, spread, state = shares[vial_id % 4]
        figured(
            bank,
            vial_id,
            surplus=vial_id % 3 == 0,
            on_day=TODAY.isoformat(),
            state=state,
            low=max(middle - spread, 0.0),
            middle=middle,
            high=min(middle + spread, 1.0),
            chance_below=0.02,
            crosses=f"{2027 + vial_id % 9}-02-11",
        )
    bank.revision += 1


@pytest.fixture(scope="session")
def theme(qapp: QApplication) -> Theme:
    return Theme(qapp, "light")


@pytest.fixture(scope="session")
def _collector(qapp: QApplication) -> Garbage:
    return Garbage(qapp)


def wait_until(_bot: QtBot, holds: Callable[[], bool], *, timeout: int = PATIENCE_MS) -> None:
    """Wait until something holds: asked for whenever all events are handled, not only every so many milliseconds."""
    deadline = QDeadlineTimer(timeout)
    loop, dispatcher = QEventLoop(), QAbstractEventDispatcher.instance()
    pulse = QTimer(interval=PULSE_MS)  # what holds may have come about without an event, as in another thread
    pulse.timeout.connect(loop.quit)
    looking = False

    def look() -> None:
        nonlocal looking
        if not looking:  # what is asked for may itself wait
            looking = True
            try:
                if holds():
                    loop.quit()
            except Exception:
                loop.quit()  # and is raised below, where it can be caught
            looking = False

    while not holds():
        if deadline.hasExpired():
            raise TimeoutError(f"What was waited for did not come about in {timeout} ms")
        asked = dispatcher.aboutToBlock.connect(look)
        pulse.start()
        loop.exec()
        pulse.stop()
        dispatcher.aboutToBlock.disconnect(asked)


@pytest.fixture(autouse=True)
def _patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait longer than usual before something counts as not happening: a busy machine is no fault."""
    monkeypatch.setattr(QtBot, "waitUntil", wait_until)
    for wait in ("waitSignal", "waitExposed"):
        patient = partialmethod(getattr(QtBot, wait), timeout=PATIENCE_MS)
        monkeypatch.setattr(QtBot, wait, patient)


@pytest.fixture(autouse=True)
def _clean(_collector: Garbage) -> Iterator[None]:
    """Collect garbage in this thread alone, as the program does; between two tests no event loop runs that would."""
    yield
    collect()


@pytest.fixture
def told() -> Told:
    return Told()


@pytest.fixture
def state(tmp_path: Path) -> WindowState:
    return WindowState(tmp_path / "window.ini")


@pytest.fixture
def lane(told: Told) -> Iterator[Lane]:
    made = Lane(told.bug)
    yield made
    assert made.shut(), "the lane did not end"


@cache
def _prepared(vials: int, stock: Callable[[Bank], object] | None) -> bytes:
    """Return the file of a bank, which is made once and then copied: making it takes longer than many a test."""
    with TemporaryDirectory() as folder:
        bank = opening.create(Path(folder) / "prepared.sporebank", "Fern House", lambda: NOW)
        if vials:
            fill(bank, vials)
        if stock is not None:
            stock(bank)
        bank.close()
        return bank.path.read_bytes()


@pytest.fixture
def make_context(
    qtbot: QtBot, tmp_path: Path, told: Told, state: WindowState, theme: Theme
) -> Iterator[Callable[..., Context]]:
    """Return a maker of a context over a real bank with so many vials, and with what `stock` puts into it."""
    made: list[Context] = []

    def make(vials: int = 0, on: date = TODAY, stock: Callable[[Bank], object] | None = None) -> Context:
        lane = Lane(told.bug)
        opened: list[Bank] = []

        def create() -> Bank:
            path = tmp_path / f"bank {len(made)}.sporebank"
            path.write_bytes(_prepared(vials, stock))
            return opening.open_bank(path, lambda: NOW)

        lane.submit(create, then=opened.append)
        qtbot.waitUntil(lambda: bool(opened or told.bugs), timeout=20_000)
        assert not told.bugs, told.bugs
        context = Context(opened[0], lane, told, lambda: on, state)
        made.append(context)
        return context

    yield make
    for context in made:
        assert context.shut(), "a lane did not end"


@pytest.fixture
def show(qtbot: QtBot) -> Callable[[QWidget], QWidget]:
    """Return a function that shows a widget and waits until it is there."""

    def shown(widget: QWidget) -> QWidget:
        qtbot.addWidget(widget)
        with qtbot.waitExposed(widget):
            widget.show()
        return widget

    return shown


@pytest.fixture
def settle(qtbot: QtBot) -> Callable[[Context], None]:
    """Return a function that waits until everything asked of the lane so far has been answered."""

    def wait(context: Context) -> None:
        for _ in range(3):  # an answer may ask on
            answers: list[int] = []
            context.read(lambda bank: bank.revision, answers.append, background=True)
            qtbot.waitUntil(lambda answers=answers: bool(answers), timeout=20_000)

    return wait


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let pass what the offscreen platform says it cannot do: tell a least size, come to the front, grab the keys."""
    cannot = r"This plugin does not support (propagateSizeHints\(\)|raise\(\)|grabbing the keyboard)"
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.qt_log_ignore(cannot))
