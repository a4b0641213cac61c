"""Every paper of the bank by what it is about; each opens in its dialog, to be seen first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from sporebank.bank.bank import Bank
from sporebank.bank.queries.labels import PrintRun
from sporebank.core.layout import Kind
from sporebank.core.offer_list import OfferList
from sporebank.core.papers import CullSheet, Manifest, PackingList, PickList
from sporebank.core.records import CullCandidate
from sporebank.core.report import BatchReport
from sporebank.core.thanks import Thanks
from sporebank.jobs import labels
from sporebank.window.context import Context

# What gathers and renders papers brings numpy and ReportLab, which the first paint need not wait for: hence the imports
# inside the functions.


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
        from sporebank.jobs import papers

        return papers.packing_list(bank, request_id, bank.today())

    def render(record: PackingList) -> bytes:
        from sporebank.documents import packing

        return packing.render(record)

    context.dialog("paper", title="Packing list", file_name="packing-list.pdf", gather=gather, render=render)


def pick_list(context: Context, exchange_id: int | None) -> None:
    """One walk past the vials of every parcel of an exchange, or of all requests beside exchanges."""

    def gather(bank: Bank) -> PickList:
        from sporebank.jobs import picking

        return picking.pick_list(bank, exchange_id)

    def render(record: PickList) -> bytes:
        from sporebank.documents import pick_list as document

        return document.render(record)

    context.dialog("paper", title="Pick list", file_name="pick-list.pdf", gather=gather, render=render)


def picked_labels(context: Context, exchange_id: int) -> None:
    """Labels of the packets of an exchange that are still to be packed, in the order of the pick list."""

    def find(bank: Bank) -> Sequence[int]:
        from sporebank.jobs import picking

        return picking.packets(bank, exchange_id)

    _labels(context, Kind.PACKET, find)


def manifest(context: Context, request_id: int, sent_on: date) -> None:
    """What travels with a parcel, also as a table and as data for another bank."""

    def gather(bank: Bank) -> Manifest:
        from sporebank.jobs import papers

        return papers.manifest(bank, request_id, sent_on)

    def render(record: Manifest) -> bytes:
        from sporebank.documents import manifest as document

        return document.render(record)

    def table(record: Manifest) -> bytes:
        from sporebank.formats.manifest_csv import write_manifest

        return write_manifest(record)

    def data(record: Manifest) -> bytes:
        from sporebank.formats.manifest_json import write_manifest

        return write_manifest(record)

    def archive(record: Manifest) -> bytes:
        from sporebank.formats.darwin_core import write_archive

        return write_archive(record)

    def passports(record: Manifest) -> bytes:
        from sporebank.formats.mcpd import write_passports

        return write_passports(record)

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
    from sporebank.jobs.culling import sheet

    def render(record: CullSheet) -> bytes:
        from sporebank.documents import cull

        return cull.render(record)

    context.dialog(
        "paper",
        title="Cull sheet",
        file_name="cull-sheet.pdf",
        gather=lambda bank: sheet(bank, chosen, on),
        render=render,
    )


def batch_report(context: Context, batch_id: int, vial_id: int | None = None) -> None:
    """All that the bank knows of a batch, with the decline of one of its vials."""

    def gather(bank: Bank) -> BatchReport:
        from sporebank.jobs import report

        return report.batch_report(bank, batch_id, vial_id)

    context.dialog("report", gather=gather)


def offer_list(context: Context, exchange_id: int) -> None:
    """The list of an exchange as a booklet, also as a table."""

    def gather(bank: Bank) -> OfferList:
        from sporebank.jobs import offer_list as job

        return job.offer_list(bank, exchange_id)

    def render(record: OfferList) -> bytes:
        from sporebank.documents import offer_list as document

        return document.render(record)

    def table(record: OfferList) -> bytes:
        from sporebank.formats.offer_csv import write_offer_list

        return write_offer_list(record)

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
        from sporebank.jobs import donations

        return donations.thanks(bank, exchange_id, contact_id)

    def render(record: Thanks) -> bytes:
        from sporebank.documents import thanks as document

        return document.render(record)

    context.dialog("paper", title="Letter of thanks", file_name="thanks.pdf", gather=gather, render=render)
