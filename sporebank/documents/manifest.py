"""The manifest: what travels with a parcel, with provenance, how alive it is, and the cautions."""

from __future__ import annotations

from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer

from sporebank.core import amounts, codes
from sporebank.core.advice import percent
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.papers import Manifest, ManifestItem
from sporebank.documents import style
from sporebank.documents.figures import Band
from sporebank.documents.style import BODY, CAUTION, HEAD, HEAD_RIGHT, NOTE, NUMBER, SECTION, SMALL, plain

_WIDTHS = (9, 78, 24, 18, 45)


def render(manifest: Manifest) -> bytes:
    """Return a manifest as PDF."""
    code = codes.grouped(manifest.parcel)
    facts = [
        ("To", style.lines(manifest.recipient)),
        ("Sent on", day_label(manifest.sent_on)),
        ("From", plain(f"{manifest.bank}, bank tag {manifest.bank_tag}")),
        ("In it", counted(len(manifest.items), "packet")),
    ]
    content = style.heading(manifest.bank, "Manifest", facts, manifest.parcel)
    if manifest.items:
        content.append(style.grid(_head(), [_row(item) for item in manifest.items], _WIDTHS))
    else:
        content.append(Paragraph("There are no packets in this parcel.", BODY))
    content += _listed("Cautions", manifest.cautions) + _listed("Papers", manifest.permits)
    content += [Spacer(0, 5 * mm), Paragraph(_checksum(manifest), SMALL)]
    return style.build(f"Manifest {code}", manifest.bank, f"{manifest.bank} · manifest {code}", content)


def _head() -> list[Paragraph | str]:
    words = ("Line", "Taxon and provenance", "Collected", "Amount", "Alive")
    return [Paragraph(word, HEAD_RIGHT if word == "Amount" else HEAD) for word in words]


def _row(item: ManifestItem) -> list[Any]:
    return [
        Paragraph(str(item.line), BODY),
        style.named(item.name, f"{item.clone} · {codes.grouped(item.code)}", *_provenance(item)),
        Paragraph(item.collected.label(), BODY),
        Paragraph(plain(amounts.show(item.micrograms)), NUMBER),
        _alive(item),
    ]


def _provenance(item: ManifestItem) -> list[Paragraph]:
    """Return where it is from and under which terms, then the cautions; what is not known is not said."""
    source = "Source: " + ", ".join(filter(None, (item.source.value, item.origin, item.country)))
    facts = [
        source,
        f"Spore: {item.spore_class} · may be given on: {item.permission.value}",
        f"Permit: {item.permit}" if item.permit else "",
        f"Network number: {item.network_number}" if item.network_number else "",
    ]
    said = [Paragraph(plain(fact), NOTE) for fact in facts if fact]
    return said + [Paragraph(plain(caution), CAUTION) for caution in item.cautions]


def _alive(item: ManifestItem) -> list[Any]:
    basis = Paragraph(plain(item.basis), SMALL)
    if item.share is None:
        return [Paragraph("<b>Not known</b>", BODY), basis]
    low, high = 100 * item.share.low, 100 * item.share.high
    return [
        Band(item.share, item.state),
        Paragraph(f"<b>{percent(item.share.middle)}</b> · {item.state.value}", BODY),
        Paragraph(f"{low:.0f} to {high:.0f} % on {day_label(item.as_of)}", SMALL),
        basis,
    ]


def _listed(title: str, sentences: tuple[str, ...]) -> list[Flowable]:
    if not sentences:
        return []
    said = [Paragraph(plain(sentence), style.LISTED, bulletText="–") for sentence in sentences]
    return [KeepTogether([Paragraph(title, SECTION), *said])]


def _checksum(manifest: Manifest) -> str:
    return (
        f"Checksum {manifest.checksum()}. The spreadsheet of this manifest carries the same; where it differs, "
        f"one of the two was changed."
    )
