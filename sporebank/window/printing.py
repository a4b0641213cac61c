"""Every paper of the bank by what it is about; each opens in its dialog, to be seen first."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.bank.bank import Bank
from sporebank.core.layout import Kind
from sporebank.core.papers import CullSheet, Label, Manifest, PackingList
from sporebank.core.records import CullCandidate
from sporebank.core.report import BatchReport
from sporebank.window.context import Context

# What gathers and renders papers brings numpy and ReportLab, which the first paint need not wait for: hence the imports
# inside the functions.


def vial_labels(context: Context, vial_ids: Sequence[int]) -> None:
    """Labels of vials, in walking order."""

    def gather(bank: Bank) -> Sequence[Label]:
        from sporebank.jobs import papers

        return papers.vial_labels(bank, vial_ids)

    context.dialog("labels", title="Vial labels", kind=Kind.VIAL, gather=gather, file_name="vial-labels.pdf")


def pot_labels(context: Context, sowing_id: int) -> None:
    """Labels of the pots of a sowing."""

    def gather(bank: Bank) -> Sequence[Label]:
        from sporebank.jobs import papers

        return papers.pot_labels(bank, sowing_id)

    context.dialog("labels", title="Pot labels", kind=Kind.POT_ALONG, gather=gather, file_name="pot-labels.pdf")


def packet_labels(context: Context, request_id: int) -> None:
    """Labels of a parcel's packets, in the order of picking."""

    def gather(bank: Bank) -> Sequence[Label]:
        from sporebank.jobs import papers

        return papers.packet_labels(bank, request_id)

    context.dialog("labels", title="Packet labels", kind=Kind.PACKET, gather=gather, file_name="packet-labels.pdf")


def packing_list(context: Context, request_id: int) -> None:
    """What the packer ticks."""

    def gather(bank: Bank) -> PackingList:
        from sporebank.jobs import papers

        return papers.packing_list(bank, request_id, bank.today())

    def render(record: PackingList) -> bytes:
        from sporebank.documents import packing

        return packing.render(record)

    context.dialog("paper", title="Packing list", file_name="packing-list.pdf", gather=gather, render=render)


def manifest(context: Context, request_id: int, sent_on: date) -> None:
    """What travels with a parcel, also as a table."""

    def gather(bank: Bank) -> Manifest:
        from sporebank.jobs import papers

        return papers.manifest(bank, request_id, sent_on)

    def render(record: Manifest) -> bytes:
        from sporebank.documents import manifest as document

        return document.render(record)

    def table(record: Manifest) -> bytes:
        from sporebank.formats.manifest_csv import write_manifest

        return write_manifest(record)

    context.dialog(
        "paper",
        title="Manifest",
        file_name="manifest.pdf",
        gather=gather,
        render=render,
        also=(("Save CSV…", "manifest.csv", table),),
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
