"""Every paper of the bank by what it is about; each opens in its dialog, to be seen first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from sporebank.bank.bank import Bank
from sporebank.core.layout import Kind
from sporebank.jobs import labels
from sporebank.window.context import Context
from sporebank.window.later import Later

if TYPE_CHECKING:
    from sporebank.bank.queries.labels import PrintRun
    from sporebank.core.offer_list import OfferList
    from sporebank.core.papers import CullSheet, Manifest, PackingList, PickList
    from sporebank.core.records import CullCandidate
    from sporebank.core.report import BatchReport
    from sporebank.core.thanks import Thanks
    from sporebank.documents import cull as cull_document
    from sporebank.documents import manifest as manifest_document
    from sporebank.documents import offer_list as offer_list_document
    from sporebank.documents import packing as packing_document
    from sporebank.documents import pick_list as pick_list_document
    from sporebank.documents import thanks as thanks_document
    from sporebank.formats import darwin_core, manifest_csv, manifest_json, mcpd, offer_csv
    from sporebank.jobs import culling, donations, papers, picking, report
    from sporebank.jobs import offer_list as offer_list_job
else:
    cull_document = Later("sporebank.documents.cull")
    manifest_document = Later("sporebank.documents.manifest")
    offer_list_document = Later("sporebank.documents.offer_list")
    packing_document = Later("sporebank.documents.packing")
    pick_list_document = Later("sporebank.documents.pick_list")
    thanks_document = Later("sporebank.documents.thanks")
    darwin_core = Later("sporebank.formats.darwin_core")
    manifest_csv = Later("sporebank.formats.manifest_csv")
    manifest_json = Later("sporebank.formats.manifest_json")
    mcpd = Later("sporebank.formats.mcpd")
    offer_csv = Later("sporebank.formats.offer_csv")
    culling = Later("sporebank.jobs.culling")
    donations = Later("sporebank.jobs.donations")
    offer_list_job = Later("sporebank.jobs.offer_list")
    papers = Later("sporebank.jobs.papers")
    picking = Later("sporebank.jobs.picking")
    report = Later("sporebank.jobs.report")


def _labels(context: Context, kind: Kind, find: Callable[[Bank], Sequence[int]], again: PrintRun | None = None) -> None:
    title = labels.called(kind).capitalize()
    name = f"{title.lower().replace(' ', '-')}.pdf"
    context.dialog("labels", title=title, kind=kind, find=find, file_name=name, again=again)


def labels_for(context: Context, kind: Kind, ids: Sequence[int], again: PrintRun | None = None) -> None:
    """Labels of things, in the order of their places; `again` is the run whose layout, sheet and copies they take."""
    _labels(context, kind, lambda bank: ids, again)


def vial_labels(context: Context, vial_ids: Sequence[int]) -> None:
    """Labels of vials, in walking order."""
    labels_for(context, Kind.VIAL, vial_ids)


def pot_labels(context: Context, sowing_id: int) -> None:
    """Labels of the pots of a sowing."""
    _labels(context, Kind.POT_ALONG, lambda bank: labels.pots_of(bank, sowing_id))


def packet_labels(context: Context, request_id: int) -> None:
    """Labels of a parcel's packets, in the order of picking."""
    _labels(context, Kind.PACKET, lambda bank: labels.packets_of(bank, request_id))


def waiting_labels(context: Context) -> None:
    """Labels that wait, one kind after the other."""

    def found(waiting: dict[Kind, tuple[int, ...]]) -> None:
        for kind, ids in waiting.items():
            labels_for(context, kind, ids)
        if not waiting:
            context.tell.info("No label waits to be printed.")

    context.read(labels.waiting, found)


def packing_list(context: Context, request_id: int) -> None:
    """What the packer ticks."""

    def gather(bank: Bank) -> PackingList:
        return papers.packing_list(bank, request_id, bank.today())

    def render(record: PackingList) -> bytes:
        return packing_document.render(record)

    context.dialog("paper", title="Packing list", file_name="packing-list.pdf", gather=gather, render=render)


def pick_list(context: Context, exchange_id: int | None) -> None:
    """One walk past the vials of every parcel of an exchange, or of all requests beside exchanges."""

    def gather(bank: Bank) -> PickList:
        return picking.pick_list(bank, exchange_id)

    def render(record: PickList) -> bytes:
        return pick_list_document.render(record)

    context.dialog("paper", title="Pick list", file_name="pick-list.pdf", gather=gather, render=render)


def picked_labels(context: Context, exchange_id: int) -> None:
    """Labels of the packets of an exchange that are still to be packed, in the order of the pick list."""

    def find(bank: Bank) -> Sequence[int]:
        return picking.packets(bank, exchange_id)

    _labels(context, Kind.PACKET, find)


def manifest(context: Context, request_id: int, sent_on: date) -> None:
    """What travels with a parcel, also as a table and as data for another bank."""

    def gather(bank: Bank) -> Manifest:
        return papers.manifest(bank, request_id, sent_on)

    def render(record: Manifest) -> bytes:
        return manifest_document.render(record)

    def table(record: Manifest) -> bytes:
        return manifest_csv.write_manifest(record)

    def data(record: Manifest) -> bytes:
        return manifest_json.write_manifest(record)

    def archive(record: Manifest) -> bytes:
        return darwin_core.write_archive(record)

    def passports(record: Manifest) -> bytes:
        return mcpd.write_passports(record)

    context.dialog(
        "paper",
        title="Manifest",
        file_name="manifest.pdf",
        gather=gather,
        render=render,
        also=(
            ("Save CSV…", "manifest.csv", table),
            ("Save JSON…", "manifest.json", data),
            ("Save Darwin Core…", "manifest-dwca.zip", archive),
            ("Save MCPD…", "manifest-mcpd.csv", passports),
        ),
    )


def cull_sheet(context: Context, chosen: Sequence[CullCandidate], on: date) -> None:
    """What is thrown out, where and why, to be ticked and signed."""

    def render(record: CullSheet) -> bytes:
        return cull_document.render(record)

    context.dialog(
        "paper",
        title="Cull sheet",
        file_name="cull-sheet.pdf",
        gather=lambda bank: culling.sheet(bank, chosen, on),
        render=render,
    )


def batch_report(context: Context, batch_id: int, vial_id: int | None = None) -> None:
    """All that the bank knows of a batch, with the decline of one of its vials."""

    def gather(bank: Bank) -> BatchReport:
        return report.batch_report(bank, batch_id, vial_id)

    context.dialog("report", gather=gather)


def offer_list(context: Context, exchange_id: int) -> None:
    """The list of an exchange as a booklet, also as a table."""

    def gather(bank: Bank) -> OfferList:
        return offer_list_job.offer_list(bank, exchange_id)

    def render(record: OfferList) -> bytes:
        return offer_list_document.render(record)

    def table(record: OfferList) -> bytes:
        return offer_csv.write_offer_list(record)

    context.dialog(
        "paper",
        title="List of the exchange",
        file_name="list.pdf",
        gather=gather,
        render=render,
        also=(("Save CSV…", "list.csv", table),),
    )


def thanks(context: Context, exchange_id: int, contact_id: int) -> None:
    """A letter of thanks to a donor."""

    def gather(bank: Bank) -> Thanks:
        return donations.thanks(bank, exchange_id, contact_id)

    def render(record: Thanks) -> bytes:
        return thanks_document.render(record)

    context.dialog("paper", title="Letter of thanks", file_name="thanks.pdf", gather=gather, render=render)
