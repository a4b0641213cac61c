"""A manifest as JSON for machines (RFC 8259), by the published schema `resources/manifest-1.schema.json`.

Dates in ISO 8601, partly known ones cut short; amounts in whole micrograms; shares from 0 to 1. What is not known is
null. A later version of the schema has a number of its own; a reader refuses one that it does not know.
"""

from __future__ import annotations

import json
from typing import Any

from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.papers import Counted, Manifest, ManifestItem
from sporebank.core.records import Share

FORMAT, VERSION = "fern spore manifest", 1


def write_manifest(manifest: Manifest) -> bytes:
    """Return a manifest as JSON in UTF-8, the same bytes for the same manifest.

    Raises:
        Refusal: it has no packets, so that there is nothing to write.
    """
    if not manifest.items:
        raise Refusal("A manifest without packets cannot be written. Fill the request first.")
    whole = {
        "format": FORMAT,
        "version": VERSION,
        "parcel": manifest.parcel,
        "bank": {"name": manifest.bank, "tag": manifest.bank_tag},
        "sent_on": manifest.sent_on.isoformat(),
        "recipient": manifest.recipient,
        "cautions": list(manifest.cautions),
        "packets": [_packet(item) for item in manifest.items],
        "checksum": manifest.checksum(),
    }
    return (json.dumps(whole, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def _packet(item: ManifestItem) -> dict[str, Any]:
    return {
        "line": item.line,
        "vial": item.code,
        "batch": item.batch,
        "taxon": names.text(item.name),
        "clone": item.clone,
        "source": item.source.value,
        "origin": item.origin,
        "collected": item.collected.iso(),
        "micrograms": item.micrograms,
        "spore_class": item.spore_class,
        "alive": _alive(item.share),
        "state": item.state.value,
        "basis": item.basis,
        "as_of": item.as_of.isoformat(),
        "permission": item.permission.value,
        "permit": item.permit,
        "network_number": item.network_number,
        "cautions": list(item.cautions),
        "kept": [{"since": kept.since.isoformat(), "celsius": kept.celsius} for kept in item.kept],
        "tests": [_test(test) for test in item.tests],
    }


def _alive(share: Share | None) -> dict[str, float] | None:
    return None if share is None else {"low": share.low, "middle": share.middle, "high": share.high}


def _test(test: Counted) -> dict[str, Any]:
    counts = [{"germinated": germinated, "sown": sown} for germinated, sown in test.counts]
    return {"sown_on": test.sown_on.isoformat(), "counted_on": test.counted_on.isoformat(), "counts": counts}
