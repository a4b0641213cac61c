"""How sure a plan of counting is, shown on demand on the Test page."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication, QLabel

from sporebank.core.operating import meaning, operating
from sporebank.core.sequential import Chances, Plan, chances, own
from sporebank.formats.tables import load_sequential
from sporebank.window.germination_plan import PlanChart
from sporebank.window.theme import Theme
from sporebank.window.widgets.surety import SuretyPlot
from tests.window.keys import choose, doubled_letters, press, write
from tests.window.test_test_page import Bench, Make, Settle, Show, bench  # noqa: F401 - a fixture

SHOW, HIDE = "Show how sure this plan is", "Hide how sure this plan is"


def drawn(plot: SuretyPlot) -> dict[str, tuple[list[float], list[float]]]:
    """Return the two curves as they were given to the plots."""
    found = {}
    for part in (plot.passing, plot.counted):
        for item in part.plotItem.items:
            if getattr(item, "name", None) and item.name():
                x, y = item.getData()
                found[item.name()] = (x.tolist(), y.tolist())
    return found


@pytest.mark.parametrize("plan", [load_sequential(), own(0.5), own(0.15)])
def test_the_curves_drawn_are_the_exact_chances(theme: Theme, show: Show, plan: Plan) -> None:
    chart = PlanChart()
    chart.show_plan(plan)
    show(chart)
    assert chart.plot is not None
    curves = drawn(chart.plot)
    for number in (0, 17, 50, 85, 90, 100):
        exact: Chances = chances(plan, number / 100)
        assert curves["passing"][1][number] == exact.alive
        assert curves["counted"][1][number] == exact.tested
    assert chart.accessibleDescription() == meaning(operating(plan))


def test_it_is_shown_and_hidden_and_follows_the_plan_by_keyboard(bench: Bench) -> None:  # noqa: F811 - the fixture
    part = bench.page.plan
    assert not part.chart.isVisible()
    assert part.chart.plot is None, "nothing is drawn before it is asked for"
    press(bench.qtbot, bench.window, SHOW)
    bench.settle()
    assert part.chart.isVisible()
    assert part.meaning.text().startswith("Of 100 batches that are 85 % alive, 8 would pass wrongly")
    assert "s&ure" in part.sure.text()
    assert doubled_letters(bench.page) == []
    choose(bench.qtbot, bench.window, "Stop or go on by", "A mark of my own")
    write(bench.qtbot, bench.window, "My mark (%)", "20")
    bench.settle()
    assert part.meaning.text() == meaning(operating(own(0.2)))
    assert "20 %" in part.chart.accessibleDescription()
    write(bench.qtbot, bench.window, "My mark (%)", "120")
    bench.settle()
    assert not part.chart.isVisible(), "a mark that cannot be has no curve"
    choose(bench.qtbot, bench.window, "Stop or go on by", "No plan")
    bench.settle()
    assert not part.sure.isVisible()
    choose(bench.qtbot, bench.window, "Stop or go on by", "The 85 %")
    press(bench.qtbot, bench.window, HIDE)
    assert not part.chart.isVisible()
    assert part.meaning.text() == ""


def test_it_follows_the_palette(theme: Theme, show: Show) -> None:
    chart = PlanChart()
    chart.show_plan(own(0.5))
    show(chart)
    before = chart.plot
    try:
        theme.choose("dark")
        QApplication.processEvents()
        assert chart.plot is not None
        assert chart.plot is not before
        assert len(chart.plot.findChildren(QLabel)) == 2
    finally:
        theme.choose("light")
        QApplication.processEvents()
