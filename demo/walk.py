"""Walk the four main jobs on the demo bank and leave their papers and a picture of every page in a folder.

Called by start.py inside the environment; needs no display.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from datetime import date
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from demo import exchange_walk, gallery, photographs, scene
from demo.story import build, heed_all
from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.opening import open_bank
from sporebank.core.dates import PartDate
from sporebank.core.layout import Kind
from sporebank.core.records import Advice, Basis, Cleaning, Permission, RequestState, Source, VialFilter
from sporebank.documents import cull, manifest, packing
from sporebank.documents.labels import LabelPrint, preflight, render
from sporebank.formats import manifest_csv, manifest_json
from sporebank.formats.label_layouts import layout_for
from sporebank.formats.label_sheets import sheet_by_id
from sporebank.jobs import culling, figures, label_records, labels, papers, sharing, sowing, store
from sporebank.jobs.label_stock import stock


def walk(out: Path) -> None:
    """Build the bank anew and leave everything in `out`."""
    out.mkdir(parents=True, exist_ok=True)
    path = out / "demo.sporebank"
    for old in out.glob("demo.sporebank*"):
        old.unlink()
    print("Building the demo bank (about ten seconds) ...", flush=True)
    build(path)
    photographs.take(path, out)
    gallery.hang(out)
    bank = open_bank(path)
    figures.keep_fresh(bank)
    try:
        _store_and_label(bank, out)
        _sow(bank, out)
        _give(bank, out)
        _cull(bank, out)
        exchange_walk.walk_round(bank, out)
    finally:
        bank.close()
    print(f"Papers and pictures lie in {out}:")
    for file in sorted(out.glob("*.*")):
        print(f"  {file.name}")


def _keep(out: Path, name: str, data: bytes) -> None:
    (out / name).write_bytes(data)


def _print(bank: Bank, kind: Kind, ids: Sequence[int], sheet_id: str) -> bytes:
    """Return the labels of things from the first free one of a sheet on, and put them on record."""
    sheet, first = sheet_by_id(sheet_id), stock(bank).next_cells.get(sheet_id, 0)
    layout = layout_for(kind, sheet)
    wish = LabelPrint(label_records.gather(bank, kind, ids), layout, sheet, first_cell=first)
    for problem in preflight(wish):
        print(f"  {problem.called}: {problem.sentence}")
    labels.put_on_record(bank, labels.Run(kind, tuple(ids), layout.id, sheet, first))
    return render(wish, f"Labels of {bank.name}")


def _store_and_label(bank: Bank, out: Path) -> None:
    """Store a batch of a kind new to the bank and print labels for it and its neighbours."""
    found = store.look_up(bank, "Polystichum setiferum 'Plumosum Bevis'")
    box = next(place.id for place, path, _ in queries.places(bank) if path.endswith("Fridge 1 / Box 2"))
    spots = store.propose_places(bank, 4, box)
    done = store.store_batch(
        bank,
        store.StoreForm(
            taxon=found.text,
            clone=store.NewClone(
                "G-99", Source.GARDEN, "Wrenfold, north wall", PartDate(2019), permission=Permission.YES
            ),
            collected=PartDate(2026, 5),
            portions=tuple(store.Portion(6_500, *spot) for spot in spots),
            stored_on=scene.TODAY,
            spore_class=found.spore_class,
            fronds=12,
            cleaned_on=date(2026, 5, 16),
            cleaning=Cleaning.BOTH,
            screen_um=106,
            minutes=25,
            purity=95,
            amount_basis=Basis.WEIGHED,
            amount_said="26 mg",
        ),
    )
    neighbours = queries.vial_ids(bank, VialFilter(place_id=spots[0][0]), "place", descending=False)
    ids = list(dict.fromkeys([*done.vial_ids, *neighbours]))
    _keep(out, "vial-labels.pdf", _print(bank, Kind.VIAL, ids, bank.settings.vial_sheet))
    print(f"Stored {done.batch} in {len(done.vial_ids)} vials; {len(ids)} vial labels.")


def _sow(bank: Bank, out: Path) -> None:
    """Sow eight pots and print their labels."""
    fresh = queries.vial_ids(bank, VialFilter(text="Plumosum Bevis"), "code", descending=False)[0]
    micrograms = sowing.dose(bank, fresh, 8) or 0
    sowing_id = sowing.sow(bank, sowing.SowForm(fresh, "Propagation house", scene.TODAY, 8, micrograms))
    pots = labels.pots_of(bank, sowing_id)
    _keep(out, "pot-labels.pdf", _print(bank, Kind.POT_ALONG, pots, bank.settings.pot_sheet))
    print("Sown in 8 pots.")


def _give(bank: Bank, out: Path) -> None:
    """Fill and dispatch the open request that can be filled best."""
    proposals = {request.id: sharing.propose(bank, request.id) for request in queries.requests(bank, RequestState.OPEN)}
    best = max(proposals, key=lambda request_id: sum(len(one.vials) for one in proposals[request_id].values()))
    sharing.keep_fill(bank, best, proposals[best])
    packets = labels.packets_of(bank, best)
    _keep(out, "packing-list.pdf", packing.render(papers.packing_list(bank, best, scene.TODAY)))
    _keep(out, "packet-labels.pdf", _print(bank, Kind.PACKET, packets, bank.settings.packet_sheet))
    heed_all(bank, best)
    record = papers.manifest(bank, best, scene.TODAY)
    _keep(out, "manifest.pdf", manifest.render(record))
    _keep(out, "manifest.csv", manifest_csv.write_manifest(record))
    _keep(out, "manifest.json", manifest_json.write_manifest(record))
    sharing.dispatch(bank, best, scene.TODAY)
    print(f"Parcel {record.parcel} with {len(packets)} packets dispatched.")


def _cull(bank: Bank, out: Path) -> None:
    """Cull what may go, the last of a clone kept, and print the sheet."""
    held = queries.reserved(bank)
    found = [one for one in culling.candidates(bank) if one.advice == Advice.CULL and not one.last_of_clone]
    chosen = [one for one in found if one.vial.id not in held]
    _keep(out, "cull-sheet.pdf", cull.render(culling.sheet(bank, chosen, scene.TODAY)))
    reasons = {one.vial.id: one.reason for one in chosen}
    culling.cull(bank, [one.vial.id for one in chosen], scene.TODAY, reasons)
    print(f"{len(chosen)} vials culled.")


if __name__ == "__main__":
    walk(Path(sys.argv[1]))
