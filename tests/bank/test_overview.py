"""The bank in one look, against the same worked out by hand over every vial."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.bank import queries, tables
from sporebank.bank.queries import overview as asked
from sporebank.bank.sql import rows
from sporebank.core import overview
from sporebank.core.advice import Lines
from sporebank.core.dates import PartDate
from sporebank.core.overview import Held, Urgency
from sporebank.core.records import State
from sporebank.jobs import culling, undo
from tests.builders import TODAY, clone, figured, fridge, new_bank, stored

LINES = Lines(alive=0.5, spent=0.2)
SOON = TODAY + timedelta(days=overview.SOON_DAYS)
PACKET = 2_000
NAMES = ("Dryopteris affinis", "Adiantum pedatum", "Dryopteris × complexa", "Osmunda regalis")
SHARES = st.sampled_from([None, 0.0, 0.1, 0.1999, 0.2, 0.35, 0.4999, 0.5, 0.75, 1.0]) | st.floats(0, 1)
DAYS = st.none() | st.integers(-900, 1_500).map(lambda days: TODAY + timedelta(days=days))


@dataclass(frozen=True)
class Vial:
    """What is drawn for a vial; `figured` says whether it has figures at all."""

    left: int
    middle: float | None
    crosses: date | None
    out: str  # "", "culled" or "void"
    figured: bool

    @property
    def state(self) -> str:
        if self.middle is None:
            return "unknown"
        return "alive" if self.middle >= 0.5 else "fading" if self.middle >= 0.2 else "spent"


VIALS = st.builds(
    Vial,
    st.sampled_from([0, 0, 1, 1_999, 2_000, 50_000]),
    SHARES,
    DAYS,
    st.sampled_from(["", "", "", "", "culled", "void"]),
    st.sampled_from([True, True, True, False]),
)


@pytest.fixture(scope="module")
def bank(tmp_path_factory):
    """A bank of eight clones, two of each taxon, with one to three batches of one to three vials."""
    made = new_bank(tmp_path_factory.mktemp("look"))
    fridge(made)
    for number in range(8):
        wanted = clone(f"K-{number + 3}")
        for batch in range(1 + number % 3):
            kept = stored(
                made,
                NAMES[number // 2],
                clone=wanted,
                collected=(PartDate(2019), PartDate(2022, 8), PartDate(2025, 8, 14))[(number + batch) % 3],
                vials=1 + (number + batch) % 3,
            )
            wanted = queries.batch(made, kept.batch_id).clone.id
    yield made
    made.close()


def everywhere(bank):
    """Return for each vial its clone, taxon, year and batch."""
    found = rows(
        bank,
        """SELECT vial.id, clone.id, clone.taxon_id, CAST(substr(batch.collected, 1, 4) AS INTEGER)
           FROM vial JOIN batch ON batch.id = vial.batch_id JOIN clone ON clone.id = batch.clone_id ORDER BY vial.id""",
    )
    return {vial_id: tuple(rest) for vial_id, *rest in found}


def write(bank, drawn):
    """Let the vials of the bank be what was drawn."""
    tables.Figure.delete().execute(bank.database)
    tables.Outlook.delete().execute(bank.database)
    for vial_id, vial in drawn.items():
        bank.database.execute_sql(
            "UPDATE vial SET left = ?, culled_on = ?, void = ? WHERE id = ?",
            (vial.left, "2026-01-01" if vial.out == "culled" else None, vial.out == "void", vial_id),
        )
        if vial.figured:
            figured(
                bank,
                vial_id,
                state=vial.state,
                low=vial.middle,
                middle=vial.middle,
                high=vial.middle,
                crosses=(vial.middle is not None and vial.crosses and vial.crosses.isoformat()) or None,
            )


def share(vial):
    return vial.middle if vial.figured else None


def grouped(where, drawn, part):
    """Return the vials that hold spore and are in the bank, by a part of where they belong."""
    found = defaultdict(list)
    for vial_id, vial in drawn.items():
        if vial.left and not vial.out:
            found[part(where[vial_id])].append((vial_id, vial))
    return found


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_each_question_is_answered_as_by_hand(bank, data):
    where = everywhere(bank)
    drawn = dict(zip(where, data.draw(st.lists(VIALS, min_size=len(where), max_size=len(where))), strict=True))
    write(bank, drawn)
    check_totals(bank, where, drawn)
    check_shares(bank, where, drawn)
    check_renewals(bank, where, drawn)
    check_last(bank, where, drawn)


def check_totals(bank, where, drawn):
    found = queries.totals(bank)
    kept = {vial_id: vial for vials in grouped(where, drawn, lambda at: 0).values() for vial_id, vial in vials}
    assert found.vials == len(kept)
    assert found.clones == len({where[vial_id][0] for vial_id in kept})
    assert found.taxa == len({where[vial_id][1] for vial_id in kept})
    states = [vial.state if vial.figured else "unknown" for vial in kept.values()]
    assert found.states() == {state: states.count(state.value) for state in State}


def check_shares(bank, where, drawn):
    cells = grouped(where, drawn, lambda at: at[1:])
    found = queries.taxon_shares(bank)
    assert {(row.taxon_id, year) for row in found for year in row.years} == set(cells)
    for row in found:
        for year, held in row.years.items():
            vials = [vial for _, vial in cells[row.taxon_id, year]]
            known = [vial for vial in vials if share(vial) is not None]
            alive = sum(vial.left * vial.middle for vial in known)
            modelled = sum(vial.left for vial in known)
            left = sum(vial.left for vial in vials)
            assert held == Held(
                year, len(vials), left, modelled, pytest.approx(alive, rel=1e-12), len(vials) - len(known)
            )
        assert row.whole == overview.together(row.years.values())


def check_renewals(bank, where, drawn):
    found, total = queries.renewals(bank, TODAY, SOON, LINES)
    wanted = {}
    for clone_id, vials in grouped(where, drawn, lambda at: at[0]).items():
        known = [vial for _, vial in vials if share(vial) is not None]
        days = [vial.crosses for vial in known]
        last = None if None in days or not days else max(days)
        if known and (max(vial.middle for vial in known) < LINES.alive or (last and last <= SOON)):
            wanted[clone_id] = (
                len(vials), len(vials) - len(known), sum(vial.left for _, vial in vials),
                max(vial.middle for vial in known), last,
            )  # fmt: skip
    assert {one.clone_id: (one.vials, one.unmodelled, one.left, one.best, one.day) for one in found} == wanted
    assert total == len(wanted)
    assert found == sorted(found, key=overview.turn)
    for one in found:
        past = one.best < LINES.spent if one.day is None else one.day <= TODAY
        soon = one.day is not None and one.day <= SOON
        assert one.urgency == (Urgency.PAST if past else Urgency.SOON if soon else Urgency.LATER)


def check_last(bank, where, drawn):
    found, total = queries.last_vials(bank, PACKET)
    alone = [vials[0] for vials in grouped(where, drawn, lambda at: at[0]).values() if len(vials) == 1]
    weak = {
        vial_id: (vial.left, share(vial))
        for vial_id, vial in alone
        if (vial.figured and vial.state in ("fading", "spent")) or vial.left < PACKET
    }
    assert {one.vial_id: (one.left, one.share and one.share.middle) for one in found} == weak
    assert total == len(weak)
    shares = [2.0 if one.share is None else one.share.middle for one in found]
    assert shares == sorted(shares)


def test_long_lists_are_cut_and_say_how_many_there_are(bank, monkeypatch):
    write(bank, dict.fromkeys(everywhere(bank), Vial(5_000, 0.3, TODAY + timedelta(days=30), "", True)))
    whole, total = queries.renewals(bank, TODAY, SOON, LINES)
    assert len(whole) == total == 8
    monkeypatch.setattr(asked, "MOST", 3)
    assert queries.renewals(bank, TODAY, SOON, LINES) == (whole[:3], 8)


def test_names_come_in_the_order_of_botany(bank):
    write(bank, dict.fromkeys(everywhere(bank), Vial(5_000, 0.3, None, "", True)))
    assert [row.name.epithet for row in queries.taxon_shares(bank)] == ["pedatum", "affinis", "complexa", "regalis"]


def test_an_empty_bank_has_nothing_to_show(tmp_path):
    empty = new_bank(tmp_path)
    assert queries.totals(empty).vials == 0
    assert queries.taxon_shares(empty) == []
    assert queries.renewals(empty, TODAY, SOON, LINES) == ([], 0)
    assert queries.last_vials(empty, PACKET) == ([], 0)
    empty.close()


def test_what_is_culled_is_no_longer_counted_and_comes_back_with_undo(tmp_path):
    made = new_bank(tmp_path)
    fridge(made)
    batch = stored(made, vials=2)
    culling.cull(made, batch.vial_ids[:1], TODAY)
    assert queries.totals(made).vials == 1
    assert queries.taxon_shares(made)[0].years[2025].vials == 1
    undo.undo(made)
    assert queries.totals(made).vials == 2
    assert queries.last_vials(made, 1_000_000)[1] == 0
    made.close()


@pytest.mark.parametrize("question", ["totals", "taxon_shares", "renewals", "last_vials"])
def test_every_question_reads_the_vials_once(bank, question, monkeypatch):
    """One pass over the vials, by the index of their batches; all else is looked up by its key."""
    plans: list[str] = []

    def explain(bank, sql, *values):
        plans.extend(row[3] for row in rows(bank, f"EXPLAIN QUERY PLAN {sql}", *values))
        return rows(bank, sql, *values)

    monkeypatch.setattr(asked, "rows", explain)
    monkeypatch.setattr(asked, "one", lambda *args: explain(*args)[0])
    arguments = {"renewals": (TODAY, SOON, LINES), "last_vials": (PACKET,)}
    getattr(queries, question)(bank, *arguments.get(question, ()))
    scans = [plan for plan in plans if plan.startswith("SCAN") and not plan.startswith(("SCAN held", "SCAN kept"))]
    assert [plan for plan in scans if "vial" in plan] == ["SCAN vial USING INDEX vial_batch"]
    assert all(plan.split()[1] not in ("batch", "figure", "outlook", "movement", "stay") for plan in scans)
