"""Reading names as growers type them.

A name is read from both ends: a cultivar in quotes and a Group are taken off the tail, then the words of the
head are read from the left, genus first, and what is left over is authorship.
"""

from __future__ import annotations

import re
from dataclasses import replace

from sporebank.core.errors import Refusal
from sporebank.core.records import TaxonName

RANKS = {
    "subsp": "subsp.", "ssp": "subsp.", "subspecies": "subsp.",
    "var": "var.", "varietas": "var.", "variety": "var.",
    "f": "f.", "fo": "f.", "forma": "f.", "form": "f.",
    "nothosubsp": "nothosubsp.", "nothossp": "nothosubsp.", "nothovar": "nothovar.", "nothof": "nothof.",
}  # fmt: skip
QUALIFIERS = {"cf": "cf.", "aff": "aff.", "sp": "sp.", "spec": "sp.", "species": "sp."}
PARTICLES = frozenset({"ex", "et", "and", "in", "de", "von", "van", "der", "non", "nec", "sensu", "auct", "hort"})
MOST = 200
"""Characters of the longest name that is read, far more than a label can carry. The choice is ours."""
_SIGNS = frozenset({"×", "x", "X"})
_GROUPS = frozenset({"group", "gp", "grp"})
_LETTERS = "a-zà-öø-ÿ"
_GENUS = re.compile(rf"[A-Za-zÀ-ÖØ-öø-ÿ][{_LETTERS}]+(?:-[{_LETTERS}]+)*")
_EPITHET = re.compile(rf"(?=..)[{_LETTERS}]+(?:-[{_LETTERS}]+)*")
_BARE = re.compile(r"[^\W\d_]+(?: [^\W\d_]+)*")
_QUOTES = "'\"‘’‚‛“”„`´′"
_QUOTED = re.compile(rf"(?:(?<=\s)|^)[{_QUOTES}](.*)[{_QUOTES}](?=\s|$)")
_CV = re.compile(r"\s(?:cv\.|cv\s)\s*", re.IGNORECASE)
_CV_BEFORE_QUOTE = re.compile(r"\s+cv\.?\s*$", re.IGNORECASE)
_BRACKETED = re.compile(r"\(([^()]+?)\s+(?:group|gp\.?|grp\.?)\)", re.IGNORECASE)
_TAIL_GROUP = re.compile(r"\(?([^()]+?)\s+(?:group|gp\.?|grp\.?)\)?", re.IGNORECASE)


def parse(text: str) -> TaxonName:
    """Read a name.

    Raises:
        Refusal: it is empty, too long or no name; it is a hybrid formula; or a part needs a word that says what it is.
    """
    plain = " ".join(text.split())
    if len(plain) > MOST:
        raise Refusal(f"A name has {MOST} characters at most, this one {len(plain)}. Leave out authors and remarks.")
    head, cultivar, tail = _cultivar(plain)
    head, group = _group(re.sub("([×✕✖])", " × ", head))
    if found := _TAIL_GROUP.fullmatch(tail):
        group, tail = _titled(found[1]), ""
    words = head.split()
    ex = bool(cultivar or group) and words[-1:] == ["ex"]
    name = _Reader(words[:-1] if ex else words, plain).read()
    authorship = " … ".join(filter(None, (name.authorship, tail)))
    return replace(name, group=group, cultivar=cultivar, ex=ex, authorship=authorship)


def _cultivar(plain: str) -> tuple[str, str, str]:
    """Split a name into what stands before the cultivar, the cultivar, and what stands after it."""
    found = _QUOTED.search(plain)
    if found is None:
        head, *cultivars = _CV.split(plain, maxsplit=1)
        return head, _unquoted("".join(cultivars)).strip("' "), ""
    cultivar = _unquoted(found[1])
    if not cultivar:
        raise Refusal("There is nothing between the quotes. Write the cultivar there, as in Athyrium 'Ghost'.")
    return _CV_BEFORE_QUOTE.sub("", plain[: found.start()]), cultivar, plain[found.end() :].strip()


def _unquoted(text: str) -> str:
    """Return a cultivar without double quotes, its single ones straight, its words one space apart."""
    return " ".join(re.sub(r"[\"“”„]", "", re.sub(r"[‘’‚‛`´′]", "'", text)).split())


def _group(head: str) -> tuple[str, str]:
    """Take a Group, in brackets or bare, off the head; return the head without it, and the Group."""
    if found := _BRACKETED.search(head):
        return f"{head[: found.start()]} {head[found.end() :]}", _titled(found[1])
    words = head.split()
    if len(words) < 3 or words[-1].rstrip(".").lower() not in _GROUPS:
        return head, ""
    start = len(words) - 1
    genus = 1 if words[0] in _SIGNS else 0
    while start > genus + 1 and _may_name_group(words[start - 1]):
        start -= 1
    if start == len(words) - 1:
        raise Refusal("A Group's name begins with a capital, as in Polystichum setiferum Divisilobum Group.")
    return " ".join(words[:start]), " ".join(words[start:-1])


def _may_name_group(word: str) -> bool:
    return word[0].isalnum() and not word[0].islower() and word[-1] not in ".)"


def _titled(words: str) -> str:
    return " ".join(word[0].upper() + word[1:].rstrip(".") for word in words.split())


class _Reader:
    """Reads the words of a name from the left."""

    def __init__(self, words: list[str], plain: str) -> None:
        self._words = words
        self._plain = plain

    def read(self) -> TaxonName:
        """Return the name as far as it stands before Group and cultivar."""
        hybrid_genus = self._hybrid()
        genus = self._genus()
        qualifier = self._qualifier()
        hybrid_epithet = self._hybrid()
        epithet = self._epithet() if qualifier != "sp." else ""
        if hybrid_epithet and not epithet:
            raise Refusal("After × comes the epithet of the hybrid, in small letters, as in Dryopteris × complexa.")
        between = self._authorship_before_rank()
        rank, infra = self._rank() if epithet else ("", "")
        after = self._authorship(qualifier, epithet)
        return TaxonName(
            genus, epithet, rank, infra,
            hybrid_genus=hybrid_genus, hybrid_epithet=hybrid_epithet, qualifier=qualifier,
            authorship=" … ".join(filter(None, (between, after))),
        )  # fmt: skip

    def _next(self) -> str:
        return self._words[0] if self._words else ""

    def _take(self) -> str:
        return self._words.pop(0)

    def _hybrid(self) -> bool:
        return self._next() in _SIGNS and bool(self._take())

    def _genus(self) -> str:
        word = self._next()
        if word.rstrip(".").lower() in QUALIFIERS:
            raise Refusal(f"Write the genus before “{word}”, as in Dryopteris cf. affinis.")
        if not word:
            raise Refusal("Write a name. Begin with the genus, as in Dryopteris affinis.")
        if not _GENUS.fullmatch(word.lower()):
            raise Refusal(f"“{self._plain}” is not a name. Begin with the genus, as in Dryopteris affinis.")
        return self._take().capitalize()

    def _qualifier(self) -> str:
        qualifier = QUALIFIERS.get(self._next().rstrip("."), "")
        return qualifier if qualifier and self._take() else ""

    def _epithet(self) -> str:
        word = self._next()
        return self._take() if _EPITHET.fullmatch(word) and word not in PARTICLES and not self._at_rank() else ""

    def _at_rank(self, place: int = 0) -> bool:
        """Return whether a rank stands here: `f.` is one only before an epithet, else the son of an author."""
        words = self._words[place : place + 2]
        is_rank = len(words) == 2 and words[0].rstrip(".") in RANKS
        return is_rank and bool(_EPITHET.fullmatch(words[1])) and words[1] not in PARTICLES

    def _authorship_before_rank(self) -> str:
        places = [place for place in range(len(self._words)) if self._at_rank(place)]
        if not places:
            return ""
        between, self._words = self._words[: places[0]], self._words[places[0] :]
        return " ".join(between)

    def _rank(self) -> tuple[str, str]:
        if not self._at_rank():
            return "", ""
        rank = RANKS[self._take().rstrip(".")]
        infra = self._take()
        if any(self._at_rank(place) for place in range(len(self._words))):
            raise Refusal("Keep only the lowest rank, as in Asplenium trichomanes f. cristatum.")
        return rank, infra

    def _authorship(self, qualifier: str, epithet: str) -> str:
        """Return the words left over, after refusing those that cannot be authors."""
        word, rest = self._next(), " ".join(self._words)
        if _SIGNS & set(self._words):
            raise Refusal("That is a hybrid formula. Give the hybrid's own name, or one parent and the rest as a note.")
        if qualifier == "sp." and word:
            raise Refusal(f"After “sp.” comes a cultivar or a Group only. Put “{rest}” in the note.")
        if word.rstrip(".") in QUALIFIERS:
            raise Refusal(f"“{word}” stands before the epithet only, as in Dryopteris cf. affinis.")
        if rest != "f." and rest.rstrip(".") in RANKS:
            raise Refusal(f"Write an epithet after “{word}”, as in Asplenium scolopendrium f. crispum.")
        if word == "ex":
            raise Refusal("Put the cultivar it was raised from in quotes, as in Athyrium niponicum ex 'Pictum'.")
        if _EPITHET.fullmatch(word) and word not in PARTICLES:
            raise Refusal(f"Say what “{word}” is: subsp., var. or f. before it, or quotes around a cultivar.")
        if not epithet and _BARE.fullmatch(rest):
            raise Refusal(f"Is “{rest}” a cultivar? Put it in quotes. An epithet begins with a small letter.")
        return rest
