"""Measure 1,000 vial labels and a manifest of 60 lines: python tests/bench/documents.py"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from demo import scene  # noqa: E402 - found only once the root is on the path
from sporebank.core import codes, names  # noqa: E402
from sporebank.core.dates import PartDate  # noqa: E402
from sporebank.core.papers import Manifest, ManifestItem  # noqa: E402
from sporebank.core.records import Permission, Share, Source, State  # noqa: E402
from tests.bench.measure import peak_mb  # noqa: E402

TAG = "WRN"
LABELS, LINES = 1_000, 60


def manifest() -> Manifest:
    """Return a manifest with a long line for every name of the demo."""
    return Manifest(
        parcel=codes.make("R", TAG, 1),
        bank=scene.NAME,
        bank_tag=TAG,
        sent_on=scene.TODAY,
        recipient=scene.PEOPLE[6][0],
        items=tuple(_item(number) for number in range(1, LINES + 1)),
        cautions=("Wear a dust mask when you handle spore.", "Ask your own authority before it crosses a border."),
    )


def _item(number: int) -> ManifestItem:
    return ManifestItem(
        line=number,
        code=codes.make("V", TAG, number),
        name=names.parse(scene.TAXA[number % len(scene.TAXA)][0]),
        clone=f"G-{number}",
        source=Source.GARDEN,
        origin=scene.ORIGINS[number % len(scene.ORIGINS)][1],
        collected=PartDate(2020, number % 12 + 1),
        micrograms=2_000,
        share=Share(0.4, 0.6, 0.8),
        state=State.ALIVE,
        basis="3 tests, 600 spores.",
        as_of=scene.TODAY,
        spore_class="non-green",
        permission=Permission.YES,
        permit="Letter of consent in the blue folder.",
        network_number=scene.NETWORK_NUMBERS[number % 3],
        cautions=("The name has not been verified; please identify it before passing it on.",),
    )


def print_labels() -> tuple[bytes, int]:
    """Lay out and print the labels; return the PDF and its pages."""
    from sporebank.documents.labels import render
    from tests.bench.labels import job

    made = job(LABELS)
    return render(made), made.pages


def print_manifest() -> tuple[bytes, int]:
    """Print the manifest; return the PDF and its pages."""
    import pypdfium2

    from sporebank.documents.manifest import render

    made = render(manifest())
    with pypdfium2.PdfDocument(made) as pdf:
        return made, len(pdf)


WORK: dict[str, Callable[[], tuple[bytes, int]]] = {"labels": print_labels, "manifest": print_manifest}


def measure(name: str) -> dict[str, float]:
    """Return the figures of one document, printed for the first time in this process."""
    start = perf_counter()
    made, pages = WORK[name]()
    seconds = round(perf_counter() - start, 2)
    return {"s": seconds, "pages": pages, "kb": round(len(made) / 1000), "peak_mb": round(peak_mb(), 1)}


def main() -> None:
    """Print each document in a process of its own, then a table and the JSON line."""
    if sys.argv[1:]:
        print(json.dumps(measure(sys.argv[1])))
        return
    found = {}
    print(f"{'':12}{'seconds':>10}{'pages':>8}{'kB':>8}{'peak MB':>10}")
    for name in WORK:
        command = [sys.executable, "-m", "tests.bench.documents", name]
        done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
        one = json.loads(done.stdout.splitlines()[-1])
        print(f"{name:12}{one['s']:10.2f}{one['pages']:8d}{one['kb']:8d}{one['peak_mb']:10.1f}")
        found |= {f"{name}_{key}": value for key, value in one.items()}
    print(json.dumps(found))


if __name__ == "__main__":
    main()
