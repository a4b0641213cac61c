"""Writing names as botanists do: in full, in italics where they belong, shortened by rule, sorted."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from html import escape

from sporebank.core import naming
from sporebank.core.errors import Refusal
from sporebank.core.records import Run, TaxonName


def parse(text_as_typed: str) -> TaxonName:
    """Read a name as typed.

    Raises:
        Refusal: it is no name (see `naming.parse`), or what would be kept of it would not be read the same again.
    """
    name = naming.parse(text_as_typed)
    if not _reads_the_same(name):
        raise Refusal("Part of this name can be read in two ways. Write genus, epithet, (… Group), then 'Cultivar'.")
    return name


def _reads_the_same(name: TaxonName) -> bool:
    try:
        return naming.parse(text(name)) == replace(name, authorship="")
    except Refusal:
        return False


def text(name: TaxonName) -> str:
    """Return a name on one line, without authorship: `Athyrium niponicum ex 'Pictum'`."""
    return "".join(run.text for run in runs(name))


def runs(name: TaxonName) -> tuple[Run, ...]:
    """Return a name as italic and upright stretches; together they are `text(name)`.

    Genus and epithets are italic; the hybrid sign, ranks, cf., aff., sp., Group and cultivar are upright.
    """
    return _joined(_words(name, name.genus, "Group"))


def abbreviations(name: TaxonName) -> tuple[tuple[Run, ...], ...]:
    """Return the ways to write a name, from full to shortest, each shorter than the one before.

    A genus shortens to its initial where an epithet follows it; Group shortens to Gp, and goes where a
    cultivar stands after it. Epithets, ranks and cultivars are never cut.
    """
    genus = f"{name.genus[0]}." if name.epithet else name.genus
    ways = [(name, name.genus, "Group"), (name, name.genus, "Gp"), (name, genus, "Group"), (name, genus, "Gp")]
    if name.cultivar and name.group:
        ways.append((replace(name, group=""), genus, ""))
    shorter: list[tuple[Run, ...]] = []
    for way in ways:
        written = _joined(_words(*way))
        if not shorter or _length(written) < _length(shorter[-1]):
            shorter.append(written)
    return tuple(shorter)


def html(name: TaxonName) -> str:
    """Return a name as rich text with <i>, its own characters escaped."""
    return "".join(f"<i>{escape(run.text)}</i>" if run.italic else escape(run.text) for run in runs(name))


def sort_key(name: TaxonName) -> str:
    """Return what to sort names by: part by part, without case, accents and hybrid signs.

    The International Code of Nomenclature (Art. H.3.3) also sets the hybrid sign aside when it compares names.
    """
    parts = (name.genus, name.epithet, name.infra, name.group, name.cultivar, name.qualifier, name.rank)
    return "\t".join(_folded(part) for part in parts)


def _words(name: TaxonName, genus: str, group: str) -> list[Run]:
    """List the words of a name; a hybrid sign is a word that has no space after it."""
    words = [*_hybrid(name.hybrid_genus), *_italic(genus)]
    words += _upright(name.qualifier) + _hybrid(name.hybrid_epithet) + _italic(name.epithet)
    words += _upright(name.rank) + _italic(name.infra)
    raised = _upright("ex" if name.ex else "")
    if name.cultivar:
        bracketed = f"({name.group} {group})" if name.group else ""
        return words + _upright(bracketed) + raised + _upright(f"'{name.cultivar}'")
    return words + raised + _upright(f"{name.group} {group}" if name.group else "")


def _hybrid(sign: bool) -> list[Run]:
    return [Run("×")] if sign else []


def _italic(word: str) -> list[Run]:
    return [Run(word, italic=True)] if word else []


def _upright(word: str) -> list[Run]:
    return [Run(word)] if word else []


def _joined(words: list[Run]) -> tuple[Run, ...]:
    """Set spaces between words and merge neighbours of one slope."""
    merged: list[Run] = []
    for number, word in enumerate(words):
        last = number == len(words) - 1
        spaced = word.text if last or word.text == "×" else f"{word.text} "
        if merged and merged[-1].italic == word.italic:
            spaced = merged.pop().text + spaced
        merged.append(Run(spaced, word.italic))
    return tuple(merged)


def _length(written: tuple[Run, ...]) -> int:
    return sum(len(run.text) for run in written)


def _folded(part: str) -> str:
    spread = unicodedata.normalize("NFKD", part.casefold())
    return "".join(character for character in spread if not unicodedata.combining(character))
