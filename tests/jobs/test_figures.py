"""The figures of every vial follow every deed, undo among them, and are known to be stale when they missed one."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest

from sporebank.bank import queries
from sporebank.bank.figures import worn_out
from sporebank.bank.opening import create
from sporebank.bank.sql import rows
from sporebank.core.dates import PartDate
from sporebank.core.records import Advice, MishapKind, Permission, Reason, Replicate, SporeClass, State, VialFilter
from sporebank.core.settings import Settings
from sporebank.jobs import clones, culling, figures, mishaps, sharing, undo, vials
from sporebank.jobs.cards import vial_card
from sporebank.jobs.figures import forecast_vial
from sporebank.jobs.places import PlaceForm, PlaceKind, add_place, move_place, set_conditions
from sporebank.jobs.settings import change_settings
from sporebank.jobs.sharing import Wish
from sporebank.jobs.testing import TestForm, record_test
from tests.builders import EVERY_FIGURE, TODAY, asked, caught_up, clone, counted, fridge, stored


def kept(bank):
    """The figures of every vial in the bank."""
    ids = ", ".join(map(str, queries.vial_ids(bank, VialFilter(), "code", False))) or "0"
    return rows(bank, f"{EVERY_FIGURE} WHERE vial_id IN ({ids}) ORDER BY vial_id")


def fresh(bank):
    """What keeping a bank fresh has left is what computing all of it anew would give."""
    before = kept(bank)
    assert not figures.stale(bank)
    figures.refresh_all(bank)
    assert kept(bank) == before


def test_figures_follow_every_deed_and_its_undo(bank):
    box, other = fridge(bank, boxes=2)
    figures.refresh_all(bank)
    batch = stored(bank)
    first, second, third = batch.vial_ids
    cold = queries.place(bank, box)[0].parent_id
    deeds = (
        lambda: stored(bank, clone=clone("C-02")),
        lambda: stored(bank, clone=queries.batch(bank, batch.batch_id).clone.id, each=2_000),
        lambda: counted(bank, batch.batch_id, 60),
        lambda: vials.take(bank, vials.TakeForm(first, 10_000, Reason.LOSS, TODAY)),
        lambda: vials.move(bank, [vials.Move(second, other, 0)], TODAY),
        lambda: set_conditions(bank, cold, 14.0, None, date(2025, 12, 1)),
        lambda: move_place(bank, other, None, TODAY),
        lambda: add_place(bank, PlaceForm(PlaceKind.ROOM, "Attic")),
        lambda: vials.note(bank, [third], "clumped"),
        lambda: culling.cull(bank, [third], TODAY),
    )
    for deed in deeds:
        before = kept(bank)
        deed()
        fresh(bank)
        after = kept(bank)
        undo.undo(bank)
        assert kept(bank) == before
        fresh(bank)
        undo.redo(bank)
        assert kept(bank) == after
        fresh(bank)


def test_what_touches_every_vial_leaves_the_figures_stale_for_the_background(bank):
    """No deed waits for the whole bank; a deed in between leaves them stale, so that nothing is overlooked."""
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank)
    before = kept(bank)
    for deed in (lambda: change_settings(bank, Settings(alive_line=0.97, reserve_ug=1)), lambda: undo.undo(bank)):
        deed()
        assert figures.stale(bank)
        vials.note(bank, [batch.vial_ids[0]], "clumped")
        assert figures.stale(bank)
        undo.undo(bank)
        caught_up(bank)
        fresh(bank)
    assert kept(bank) == before


def test_the_last_good_vial_of_a_clone_is_known_from_day_to_day(bank, clock):
    """While its sister lives it is one of two; when the sister is spent, or has spore again, its advice follows."""
    fridge(bank)
    figures.refresh_all(bank)
    good = stored(bank, vials=1)
    owner = queries.batch(bank, good.batch_id).clone.id
    bad = stored(bank, clone=owner, vials=1, collected=PartDate(2019, 7), stored_on=date(2019, 8, 2))
    counted(bank, good.batch_id, 95)
    counted(bank, bad.batch_id, 30)

    def held():
        return dict(rows(bank, "SELECT vial_id, clone_good FROM figure"))

    both = dict.fromkeys((*good.vial_ids, *bad.vial_ids), 20_000)
    assert held() == both
    counted(bank, bad.batch_id, 0, 400)
    assert held() == dict.fromkeys(both, 10_000)
    fresh(bank)
    undo.undo(bank)
    assert held() == both
    for _ in range(60):
        clock.day += timedelta(days=40)
        caught_up(bank)
        if held() != both:
            break
    assert held() == dict.fromkeys(both, 10_000)
    fresh(bank)
    vials.take(bank, vials.TakeForm(good.vial_ids[0], 10_000, Reason.LOSS, clock.day))
    assert held() == dict.fromkeys(both, 0)


def test_dead_spore_is_no_reserve(bank):
    """A clone is not given away to its last living grain, however much dead spore lies beside it."""
    fridge(bank)
    figures.refresh_all(bank)
    good = stored(bank, vials=1, each=4_000)
    assert not queries.vial_row(bank, good.vial_ids[0]).surplus
    owner = queries.batch(bank, good.batch_id).clone.id
    dead = stored(bank, clone=owner, vials=2, each=50_000, collected=PartDate(2015, 7), stored_on=date(2015, 8, 2))
    assert queries.vial_row(bank, good.vial_ids[0]).surplus, "nobody knows yet that the others are dead"
    counted(bank, dead.batch_id, 0, 400, on=TODAY)
    assert not queries.vial_row(bank, good.vial_ids[0]).surplus
    request = asked(bank, Wish(1, 2_000, clone_id=owner))
    (filled,) = sharing.propose(bank, request).values()
    assert filled.vials == ()
    assert "beyond the reserve 0 mg can go" in filled.unmet


def test_vials_read_together_lay_where_each_of_them_did(bank):
    """But for their places and the air there, which no forecast asks for; a move taken back counts for none."""
    box, other = fridge(bank, boxes=2)
    cold = queries.place(bank, box)[0].parent_id
    batch = stored(bank, vials=4)
    first, second, third, fourth = batch.vial_ids
    set_conditions(bank, cold, 14.0, 50.0, date(2025, 12, 1))
    vials.move(bank, [vials.Move(second, other, 0)], TODAY)
    mishaps.record(bank, [third], MishapKind.HOT, date(2026, 1, 5))
    vials.move(bank, [vials.Move(first, other, 1)], TODAY)
    undo.undo(bank)
    together = queries.cases(bank, [batch.batch_id])
    assert [[vial.vial_id for vial in each.vials] for each in together] == [[first, fourth], [second], [third]]
    for each in together:
        for vial in each.vials:
            alone = queries.case(bank, vial.vial_id)
            stays = tuple(replace(stay, humidity=None, place="") for stay in alone.stays)
            assert each._replace(vials=(vial,)) == alone._replace(stays=stays)


def test_what_befell_a_vial_counts_with_its_sisters(bank):
    """A vial whose test no longer speaks for sound spore lends nothing."""
    fridge(bank)
    figures.refresh_all(bank)
    tested, other = stored(bank, vials=2), stored(bank, clone=clone("C-02"), vials=1)
    record_test(bank, TestForm(tested.batch_id, tested.vial_ids[0], TODAY, TODAY, (Replicate(400, 20),)))
    lent = queries.vial_row(bank, other.vial_ids[0]).share
    mishaps.record(bank, [tested.vial_ids[0]], MishapKind.HOT, date(2026, 1, 5))
    assert queries.vial_row(bank, other.vial_ids[0]).share.middle > lent.middle + 0.1
    fresh(bank)
    undo.undo(bank)
    assert queries.vial_row(bank, other.vial_ids[0]).share == lent
    fresh(bank)


def test_a_test_whose_vial_lay_elsewhere_tells_its_sisters_something_else(bank):
    cold, _ = fridge(bank, boxes=2)
    figures.refresh_all(bank)
    tested, other = stored(bank, vials=1), stored(bank, clone=clone("C-02"), vials=1)
    counted(bank, tested.batch_id, 50, on=TODAY)
    before = queries.vial_row(bank, other.vial_ids[0]).share
    set_conditions(bank, queries.place(bank, cold)[0].parent_id, 20.0, None, date(2025, 9, 1))
    assert queries.vial_row(bank, other.vial_ids[0]).share != before
    fresh(bank)


def test_a_name_joined_to_another_and_parted_again_leaves_nothing_behind(bank):
    fridge(bank)
    figures.refresh_all(bank)
    wrong, right = stored(bank, "Dryopteris afinis"), stored(bank, clone=clone("C-02"))
    counted(bank, wrong.batch_id, 2, 400, on=TODAY)
    before = kept(bank)
    taxon = queries.batch(bank, wrong.batch_id).clone.taxon
    clones.change_taxon(bank, taxon.id, clones.TaxonForm("Dryopteris affinis", taxon.spore_class))
    assert kept(bank) != before
    fresh(bank)
    undo.undo(bank)
    assert kept(bank) == before
    fresh(bank)
    assert queries.vial_row(bank, right.vial_ids[0]).share.low > 0.5


def test_a_deed_on_much_of_the_bank_leaves_its_figures_for_later_and_no_other_deed_is_lost(bank, monkeypatch):
    monkeypatch.setattr(figures, "MOST_AT_ONCE", 1)
    fridge(bank)
    figures.refresh_all(bank)
    batches = [stored(bank, clone=clone(f"C-{number}"), vials=1) for number in range(3)]
    caught_up(bank)
    every = [vial_id for batch in batches for vial_id in batch.vial_ids]
    before = kept(bank)
    vials.note(bank, every, "clumped")
    assert kept(bank) == before, "a note touches no figure"
    mishaps.record(bank, every, MishapKind.WET, date(2026, 1, 5))
    assert figures.stale(bank)
    pieces = list(figures.chunks(bank))
    pieces.pop(0)(bank)
    vials.take(bank, vials.TakeForm(every[0], 1_000, Reason.LOSS, TODAY))
    mishaps.record(bank, every, MishapKind.HOT, date(2026, 1, 6))
    for piece in pieces:
        piece(bank)
    assert figures.stale(bank), "the last mishap came while the figures were worked out"
    caught_up(bank)
    fresh(bank)


def test_what_is_not_modelled_is_fresh_after_a_day_too(bank, clock):
    fridge(bank)
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
    batch = stored(bank)
    vials.move(bank, [vials.Move(batch.vial_ids[0], deep)], TODAY)
    caught_up(bank)
    clock.day += timedelta(days=1)
    assert figures.stale(bank)
    caught_up(bank)
    fresh(bank)


def test_two_dead_vials_of_a_clone_are_not_both_to_be_culled(bank):
    """Whichever went first, the other would be the last."""
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank, vials=2, collected=PartDate(2015, 7), stored_on=date(2015, 8, 2))
    counted(bank, batch.batch_id, 0, 400, on=TODAY)
    found = [vial_card(bank, vial_id).advice for vial_id in batch.vial_ids]
    assert [what for what, _ in found] == [Advice.COLLECT] * 2
    assert all("No vial of its clone is better" in why for _, why in found)


def test_the_figure_of_a_vial_is_its_forecast(bank):
    fridge(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 60)
    for vial_id in batch.vial_ids:
        row, forecast = queries.vial_row(bank, vial_id), forecast_vial(bank, vial_id, TODAY)
        assert (row.share, row.crosses) == (forecast.share, forecast.crossing.likely)


def test_a_state_is_a_word_for_the_middle_of_the_band(bank):
    fridge(bank)
    states = {}
    for germinated in (290, 100, 2):
        batch = stored(bank, clone=clone(f"C-{germinated}"))
        counted(bank, batch.batch_id, germinated, 300, on=TODAY)
        states[germinated] = queries.vial_row(bank, batch.vial_ids[0]).state
    assert states == {290: State.ALIVE, 100: State.FADING, 2: State.SPENT}
    change_settings(bank, Settings(cull_line=0.05, alive_line=0.25))
    caught_up(bank)
    counts = queries.vial_counts(bank, VialFilter())
    assert (counts.vials, counts.fading, counts.spent) == (9, 0, 3)


def test_surplus_is_what_is_allowed_alive_and_beyond_the_reserve_of_the_clone(bank):
    fridge(bank)
    allowed = stored(bank, vials=2, each=3_000)
    stored(bank, clone=clone("C-02", permission=Permission.ASK))
    little = stored(bank, clone=clone("C-03"), vials=1, each=5_000)
    faded = stored(bank, clone=clone("C-04"))
    counted(bank, faded.batch_id, 90, 300)
    assert queries.vial_ids(bank, VialFilter(surplus=True), "code", False) == list(allowed.vial_ids)
    vials.take(bank, vials.TakeForm(allowed.vial_ids[0], 1_000, Reason.LOSS, TODAY))
    assert not queries.vial_row(bank, allowed.vial_ids[1]).surplus
    stored(bank, clone=queries.batch(bank, little.batch_id).clone.id, vials=1)
    assert queries.vial_row(bank, little.vial_ids[0]).surplus


def test_spore_below_minus_sixty_is_not_given_a_figure(bank):
    fridge(bank)
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
    batch = stored(bank)
    vials.move(bank, [vials.Move(batch.vial_ids[0], deep)], TODAY)
    row = queries.vial_row(bank, batch.vial_ids[0])
    assert (row.state, row.share, row.crosses, row.surplus) == (State.UNKNOWN, None, None, False)
    assert forecast_vial(bank, row.id, TODAY).cautions


def test_figures_of_yesterday_are_stale(bank, clock):
    fridge(bank)
    stored(bank)
    figures.refresh_all(bank)
    assert not figures.stale(bank)
    clock.day = TODAY + timedelta(days=1)
    assert figures.stale(bank)
    figures.refresh_all(bank)
    assert not figures.stale(bank)


def test_a_deed_that_the_figures_missed_is_noticed_even_after_later_deeds(tmp_path, clock):
    """As after a kill between the commit of a deed and its figures."""
    unwatched = create(tmp_path / "fernery.sporebank", "Fernery", clock)
    fridge(unwatched)
    batch = stored(unwatched)
    figures.refresh_all(unwatched)
    counted(unwatched, batch.batch_id, 2, 300)
    assert figures.stale(unwatched)
    figures.keep_fresh(unwatched)
    vials.note(unwatched, batch.vial_ids[:1], "looked at")
    assert figures.stale(unwatched)
    figures.refresh_all(unwatched)
    assert queries.vial_row(unwatched, batch.vial_ids[2]).state is State.SPENT
    fresh(unwatched)
    unwatched.close()


def test_bit_by_bit_gives_what_all_at_once_gives_and_notes_it_last(bank, monkeypatch):
    fridge(bank, boxes=2)
    for number in range(5):
        stored(bank, clone=clone(f"K-{number}"), vials=2)
    figures.refresh_all(bank)
    whole = kept(bank)
    bank.database.execute_sql("DELETE FROM figure")
    bank.database.execute_sql("DELETE FROM meta WHERE key LIKE 'figures%'")
    monkeypatch.setattr(figures, "CHUNK", 2)
    work = list(figures.chunks(bank))
    assert len(work) == 6, "wear out, three times two batches, go on, note it"
    for chunk in work:
        assert figures.stale(bank)
        chunk(bank)
    assert not figures.stale(bank)
    assert kept(bank) == whole


def test_from_day_to_day_figures_go_on_as_if_forecast_anew(bank, clock):
    """Shares to half a percentage point, over two years of openings on odd days."""
    fridge(bank)
    for number, kind in enumerate((SporeClass.GREEN, SporeClass.NON_GREEN, SporeClass.UNKNOWN)):
        batch = stored(bank, clone=clone(f"D-{number}"), spore_class=kind)
        counted(bank, batch.batch_id, 70 + 5 * number)
    stored(bank, clone=clone("D-9"), collected=PartDate(2025))
    figures.refresh_all(bank)
    anew = 0
    for days in (1, 1, 3, 7, 20, 45, 60, 90, 150, 300):
        clock.day += timedelta(days=days)
        assert figures.stale(bank)
        anew += len(worn_out(bank, clock.day))
        for piece in figures.chunks(bank):
            piece(bank)
        assert not figures.stale(bank)
        for vial_id, on_day, *shown in rows(bank, SHOWN):
            found = forecast_vial(bank, vial_id, clock.day)
            assert on_day == clock.day.isoformat()
            expected = [found.share.low, found.share.middle, found.share.high, found.chance_below]
            assert shown == pytest.approx(expected, abs=0.006)
    assert 4 <= anew < 10 * 4


def test_what_is_brought_on_together_is_none_other(bank, clock):
    """Vials of successive ids are brought on as one where they are alike, the culled and the empty among them not."""
    fridge(bank)
    made = stored(bank, vials=7)
    counted(bank, made.batch_id, 80)
    emptied, culled = made.vial_ids[1], made.vial_ids[4]
    vials.take(bank, vials.TakeForm(emptied, queries.vials_by_id(bank, [emptied])[0].left, Reason.LOSS, TODAY))
    culling.cull(bank, [culled], TODAY, {culled: "Broken"})
    figures.refresh_all(bank)
    before = {row[0]: row[1:] for row in rows(bank, ADVISED)}
    clock.day += timedelta(days=1)
    caught_up(bank)
    after = {row[0]: row[1:] for row in rows(bank, ADVISED)}
    assert after.pop(culled) == before[culled]
    assert {day for day, *_ in after.values()} == {clock.day.isoformat()}
    assert {vial_id: advice for vial_id, (_, advice, *_) in after.items() if advice != "keep"} == {emptied: "cull"}
    assert len({each[2:] for each in after.values()}) == 1


def test_figures_and_what_follows_for_their_clones_are_kept_together_or_not_at_all(bank, clock, monkeypatch):
    """Else a power cut in between would leave vials misjudged, which nobody looks at again."""
    fridge(bank)
    counted(bank, stored(bank).batch_id, 30)
    figures.refresh_all(bank)
    before = rows(bank, EVERY_FIGURE)

    def cut(*_):
        raise InterruptedError

    monkeypatch.setattr(figures, "_judge", cut)
    clock.day += timedelta(days=300)
    with pytest.raises(InterruptedError):
        figures.refresh_batches(bank, [1])
    clock.day = TODAY + timedelta(days=1)
    turns = count()
    monkeypatch.setattr(figures, "_good", lambda *_: next(turns) % 2)
    with pytest.raises(InterruptedError):
        figures._go_on(bank, (1, 9))
    assert rows(bank, EVERY_FIGURE) == before


def test_what_left_the_bank_keeps_what_was_foreseen_whoever_led_it(tmp_path, clock):
    """Also where it left before anybody looked, and the first of those it was alike to is by then like others."""
    unwatched = create(tmp_path / "unwatched.sporebank", "Unwatched", clock)
    fridge(unwatched)
    first, second, third, fourth = stored(unwatched, vials=4).vial_ids
    for one in (second, third):
        mishaps.record(unwatched, [one], MishapKind.HOT, date(2026, 1, 5))
    figures.refresh_all(unwatched)
    for gone in (third, second, first):
        before = _foreseen(unwatched)[gone]
        culling.cull(unwatched, [gone], TODAY, {gone: "Broken"})
        if gone == third:
            mishaps.record(unwatched, [first], MishapKind.HOT, date(2026, 1, 5))
        clock.day += timedelta(days=1)
        figures.refresh_all(unwatched)
        assert _foreseen(unwatched)[gone] == before
    assert {row[0] for row in rows(unwatched, f"SELECT outlook_id FROM {FIGURES}")} == {first, second, third, fourth}
    unwatched.close()


def _foreseen(bank):
    """What is foreseen of each vial."""
    return {vial_id: tuple(rest) for vial_id, *rest in rows(bank, SHOWN)}


def test_a_test_is_due_again_once_the_one_that_settled_the_matter_has_grown_old(bank, clock):
    """From day to day as if forecast anew, also where the figures would have gone on over that day."""
    fridge(bank)
    spent = stored(bank, collected=PartDate(2019))
    counted(bank, spent.batch_id, 0, on=TODAY - timedelta(days=350))
    figures.refresh_all(bank)
    age, waits = bank.settings.test_age_days, []
    for day in range(25):
        clock.day = TODAY + timedelta(days=day)
        caught_up(bank)
        (due,) = {row[0] for row in rows(bank, "SELECT next_test FROM outlook")}
        found = forecast_vial(bank, spent.vial_ids[0], clock.day).next_test
        assert due == (found and found.isoformat())
        waits.append(due is None)
    assert waits == [350 + day <= age for day in range(25)]


FIGURES = "figure JOIN outlook ON outlook.id = outlook_id"
ADVISED = f"SELECT vial_id, on_day, advice, low, middle, high, chance_below FROM {FIGURES} ORDER BY vial_id"
SHOWN = f"SELECT vial_id, on_day, low, middle, high, chance_below FROM {FIGURES} ORDER BY vial_id"


def test_a_missed_deed_makes_everything_be_computed_anew(tmp_path, clock):
    missing = create(tmp_path / "missing.sporebank", "Missing", clock)
    fridge(missing)
    batch = stored(missing)
    figures.refresh_all(missing)
    before = rows(missing, SHOWN)
    counted(missing, batch.batch_id, 5)  # nobody keeps its figures fresh
    clock.day += timedelta(days=1)
    for piece in figures.chunks(missing):
        piece(missing)
    assert rows(missing, SHOWN)[0][3] < before[0][3] - 0.3
    missing.close()


def test_settings_that_figures_do_not_go_by_compute_nothing(bank, monkeypatch):
    fridge(bank)
    stored(bank)
    figures.refresh_all(bank)
    asked = []
    monkeypatch.setattr(figures, "_work_out", lambda _, batch_ids: asked.append(list(batch_ids)))
    change_settings(bank, replace(bank.settings, appearance="dark", keeper="Odile"))
    assert asked == []
    assert not figures.stale(bank)
    change_settings(bank, replace(bank.settings, packet_ug=9_000))
    assert asked == []
    assert figures.stale(bank)
    caught_up(bank)
    assert asked == [[1]]
