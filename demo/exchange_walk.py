"""The exchange of the demo, walked: the list goes out, the round is shared out, packets are held back."""

from __future__ import annotations

import tempfile
from pathlib import Path

from demo import scene
from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.opening import create
from sporebank.core import codes, names
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape
from sporebank.documents import offer_list as offer_list_document
from sporebank.documents import order_form, pick_list
from sporebank.documents import packing as packing_list
from sporebank.documents import thanks as thanks_document
from sporebank.formats import darwin_core, manifest_json, offer_csv, order_form_xlsx
from sporebank.jobs import (
    allotting,
    donations,
    order_paper,
    packing,
    papers,
    parcel_checks,
    picking,
    receiving,
    sharing,
    sharing_round,
)
from sporebank.jobs.offer_list import offer_list
from sporebank.jobs.sharing_round import Shared


def walk_round(bank: Bank, out: Path) -> None:
    """Print what goes out, share out, hold packets back, and say why one wish is not met."""
    one = next(one for one in queries.exchanges(bank) if one.shape is Shape.ROUND)
    _send_out(bank, one, out)
    shared = sharing_round.work_out(sharing_round.gather(bank, one.id), lambda *_: None, lambda: False)
    sharing_round.keep(bank, shared)
    print(_outcome(bank, one, shared))
    held = [piece(bank) for piece in allotting.pieces(bank, one.id)]
    print(f"{sum(each.packets for each in held)} packets held back in their vials.")
    _keep(out, "pick-list.pdf", pick_list.render(picking.pick_list(bank, one.id)))
    packed = [each for each in queries.placed(bank, one.id) if queries.request(bank, each.request_id).packets]
    first = next(each.request_id for each in packed if each.order.abroad)
    second = next(each.request_id for each in packed if each.request_id != first)
    _keep(out, "exchange-packing-list.pdf", packing_list.render(papers.packing_list(bank, first, scene.TODAY)))
    _pack(bank, first, second)
    _send(bank, first, out)


def _pack(bank: Bank, request_id: int, other_id: int) -> None:
    """Scan a packet of another parcel, which is refused, then every packet of this one, and close it."""
    strange = queries.request(bank, other_id).packets[0]
    try:
        packing.scan_in(bank, request_id, codes.parse(strange.code, bank.tag))
    except Refusal as refusal:
        print(f"A wrong packet: {refusal}")
    for packet in queries.request(bank, request_id).packets:
        packing.scan_in(bank, request_id, codes.parse(packet.code, bank.tag))
    packing.close(bank, request_id)


def _send(bank: Bank, request_id: int, out: Path) -> None:
    """Answer what is to be heeded, send the parcel, and take it in at a second bank from its manifest."""
    request = queries.request(bank, request_id)
    for check in parcel_checks.checks(bank, request):
        parcel_checks.answer(bank, request_id, check.caution.key, "asked, and told it may go")
    sharing.dispatch(bank, request_id, scene.TODAY)
    record = papers.manifest(bank, request_id, scene.TODAY)
    data = manifest_json.write_manifest(record)
    _keep(out, "exchange-manifest.json", data)
    _keep(out, "exchange-darwin-core.zip", darwin_core.write_archive(record))
    with tempfile.TemporaryDirectory() as folder:
        second = create(Path(folder) / "second.sporebank", "Mosdorp fernery", lambda: bank.now())
        try:
            batches = receiving.take_in(second, manifest_json.read_manifest(data))
            print(f"Parcel {codes.grouped(record.parcel)} taken in at {second.name}: {len(batches)} batches.")
            try:
                receiving.take_in(second, manifest_json.read_manifest(data))
            except Refusal as refusal:
                print(f"The same parcel again: {refusal}")
        finally:
            second.close()


def _send_out(bank: Bank, one: Exchange, out: Path) -> None:
    """Leave the list, the order form and a letter of thanks."""
    offered = offer_list(bank, one.id)
    _keep(out, "exchange-list.pdf", offer_list_document.render(offered))
    _keep(out, "exchange-list.csv", offer_csv.write_offer_list(offered))
    form = order_paper.empty_form(bank, one.id)
    _keep(out, "order-form.pdf", order_form.render(form))
    _keep(out, "order-form.xlsx", order_form_xlsx.write_form(form))
    donor = queries.donations(bank, one.id)[0].contact
    _keep(out, "thanks.pdf", thanks_document.render(donations.thanks(bank, one.id, donor.id)))


def _outcome(bank: Bank, one: Exchange, shared: Shared) -> str:
    """Return what came of the sharing out, both methods beside each other, and the first wish that is not met."""
    assert shared.fair is not None
    assert shared.turns is not None
    line = next(line for line in queries.order_lines(bank, one.id) if line.unmet)
    name = next(names.text(each.taxon.name) for each in queries.listed(bank, one.id) if each.id == line.offering_id)
    who = next(each.contact.name for each in queries.placed(bank, one.id) if each.request_id == line.request_id)
    return (
        f"Shared out {one.name}: {shared.outcome.total} packets, {shared.outcome.first} of them first choices; "
        f"by turns {shared.turns.total} and {shared.turns.first}.\n{who} does not get {name}: {line.unmet}"
    )


def _keep(out: Path, name: str, data: bytes) -> None:
    (out / name).write_bytes(data)
