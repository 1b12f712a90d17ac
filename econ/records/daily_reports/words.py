"""The vocabulary of daily reports, and what is found of it in a text.

`words.toml` beside this module has the codes and, by language, the words. A text becomes words
without capitals and accents; marks between sentences stay as stops. A phrase is found where its
words follow one another. It does not count where a phrase of `not_these` covers it, or where one
of the three words before it in the same clause denies it.

A file of the user's own in the same form is laid over it: its codes come before those here, and
its phrases join those here.
"""

from __future__ import annotations

import functools
import os
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from econ.scenario.faults import Fault, ScenarioError, did_you_mean, shown
from econ.scenario.hole import Mechanism
from econ.scenario.program import RunKind
from econ.scenario.toml_text import document, read_text

ENGLISH = "english"  # read in every report, because rigs mix it with their own language
DENIES = 3  # words before a phrase in which a negation takes it away
NOTHING = "?"  # a code that says nothing
SORTS = (  # what an activity can be: a value of [codes]
    *("drill", "sidetrack", "trip", "trip_in", "trip_out", "short_trip", "ream", "circulate"),
    *("make_up", "casing", "plug", "wait_cement", "drill_cement", "log", "core", "survey", "test"),
    *("complete", "move", "service", "weather", "repair", "wait", "control"),
    *("stuck", "fish", "cut", "other", "unmatched"),
)
TOPICS = frozenset(  # what a phrase can be about: a key of [words.LANGUAGE]
    {
        *(
            "marks",
            "negation",
            "not_these",
            "not_free",
            "kickoff_plug",
            "tag_cement",
            "soft_cement",
            "held",
        ),
        *("soak", "free", "out", "part_out", "no_catch", "cut_done", "lost", "abandon_fish"),
        *("surface", "to", "from"),
        *SORTS,
    }
)
KINDS: tuple[str, ...] = RunKind.__args__  # type: ignore[attr-defined]
CAUSES: tuple[str, ...] = Mechanism.__args__  # type: ignore[attr-defined]
# A word of one letter, a stroke and one letter is one word, as in r/u; else strokes part words.
TOKEN = re.compile(r"[a-z]/[a-z](?![a-z0-9])|[a-z0-9]+|[.,;:()!?\n]")
MARKS = frozenset(".,;:()!?\n")
STOP = ""  # stands for a mark between clauses


@dataclass(frozen=True)
class Phrases:
    """Phrases by their first word: the words after it and what they are about; and the beginnings
    of words that a star ends."""

    by_word: Mapping[str, Sequence[tuple[tuple[str, ...], str]]]
    stems: tuple[str, ...]


@dataclass(frozen=True)
class Hit:
    """A phrase that was found: its topic and its words."""

    topic: str
    words: str


def folded(text: str) -> str:
    """A text without capitals and accents.

    >>> folded("Kj\\u00f8rte inn, P\\u00e9ga")
    'kjorte inn, pega'
    """
    if text.isascii():
        return text.lower()
    plain = text.lower().replace("\u00f8", "o").replace("\u00e6", "ae").replace("\u00df", "ss")
    apart = unicodedata.normalize("NFKD", plain)
    return "".join(char for char in apart if not unicodedata.combining(char))


@functools.lru_cache(maxsize=1024)  # the words of a report are looked at more than once
def tokens(text: str) -> list[str]:
    """The words of a text, with STOP where a clause ends.

    >>> tokens("R/U, RIH to 2,345 m.")
    ['r/u', '', 'rih', 'to', '2', '', '345', 'm', '']
    """
    return [STOP if word in MARKS else word for word in TOKEN.findall(folded(text))]


class Vocabulary:
    """Codes and phrases, ready to be looked for."""

    def __init__(self, raw: Mapping[str, Any]) -> None:
        self.codes: dict[str, str] = dict(raw["codes"])
        words: Mapping[str, Mapping[str, Sequence[str]]] = raw["words"]
        self.languages = tuple(words)
        self._phrases = {
            language: _phrases(
                (phrase, topic)
                for of in dict.fromkeys((ENGLISH, language))
                for topic, phrases in words[of].items()
                if topic not in ("marks", "negation")
                for phrase in phrases
            )
            for language in words
        }
        self._marks: dict[str, list[str]] = {}
        for language, each in words.items():
            for mark in each.get("marks", ()):
                self._marks.setdefault(mark, []).append(language)
        self._denials = {
            name: frozenset(words[ENGLISH]["negation"]) | frozenset(each.get("negation", ()))
            for name, each in words.items()
        }
        self._kinds, self._causes = (
            _phrases((phrase, kind) for kind, phrases in raw[part].items() for phrase in phrases)
            for part in ("kinds", "causes")
        )
        self.kinds, self.causes = tuple(raw["kinds"]), tuple(raw["causes"])
        every = [words[name].get(topic, ()) for name in words for topic in ("to", "surface")]
        self.to, self.surface = (
            tuple(dict.fromkeys(word for each in every[place::2] for word in each))
            for place in (0, 1)
        )

    def language(self, texts: Iterable[str]) -> str:
        """The language of the texts of a report; English where nothing tells."""
        count = dict.fromkeys(self.languages, 0)
        for text in texts:
            for word in self._marks.keys() & set(tokens(text)):
                for language in self._marks[word]:
                    count[language] += 1
        return max(count, key=lambda each: (count[each], each == ENGLISH))

    def sort_of(self, codes: Sequence[str]) -> str | None:
        """What the codes of an activity say it is: NOTHING where one is known to say nothing,
        None where none is known. A code is looked for whole, then by its part before "--"."""
        found: str | None = None
        for code in codes:
            known = self.codes.get(code)
            if known is None:
                known = self.codes.get(code.partition(" -- ")[0])
            if known is not None and (found is None or found == NOTHING):
                found = known
        return found

    def hits(self, text: str, language: str) -> list[Hit]:
        """The phrases in a text that are about something, in their order."""
        return _found(tokens(text), self._phrases[language], self._denials[language])

    def first_kind(self, texts: Iterable[str]) -> Hit | None:
        """The kind of run that the words of a tool speak of, the first of [kinds] that is met."""
        return self._first(texts, self._kinds, self.kinds)

    def first_cause(self, texts: Iterable[str]) -> Hit | None:
        """What holds the fish by the words of the texts, the first of [causes] that is met."""
        return self._first(texts, self._causes, self.causes)

    def _first(self, texts: Iterable[str], phrases: Phrases, order: Sequence[str]) -> Hit | None:
        denials = self._denials[ENGLISH]
        found = [hit for text in texts for hit in _found(tokens(text), phrases, denials)]
        return min(found, key=lambda hit: order.index(hit.topic), default=None)


def _phrases(pairs: Iterable[tuple[str, str]]) -> Phrases:
    """Phrases by their first word, the longest first, so that it is met before its beginning."""
    found: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for phrase, topic in pairs:
        first, *others = folded(phrase).replace("&", " ").split()
        found.setdefault(first, []).append((tuple(others), topic))
    for each in found.values():
        each.sort(key=lambda pair: -len(pair[0]))
    return Phrases(found, tuple(word[:-1] for word in found if word.endswith("*")))


def _found(words: list[str], phrases: Phrases, denials: frozenset[str]) -> list[Hit]:
    places: list[tuple[int, int, str]] = []
    masked: dict[str, set[int]] = {"these": set(), "free": set()}
    by_word, stems = phrases.by_word, phrases.stems
    for start, word in enumerate(words):
        known = by_word.get(word)
        if known is None:
            if not word.startswith(stems):
                continue
            known = by_word[next(each for each in stems if word.startswith(each)) + "*"]
        for others, topic in known:
            end = start + 1 + len(others)
            if others and tuple(words[start + 1 : end]) != others:
                continue
            if topic.startswith("not_"):
                masked[topic[4:]].update(range(start, end))
            else:
                places.append((start, end, topic))
    found = []
    for start, end, topic in places:
        hidden = masked["these"] | masked[topic] if topic in masked else masked["these"]
        if not hidden.isdisjoint(range(start, end)):
            continue
        clause = words[max(0, start - DENIES) : start]
        if STOP in clause:
            clause = clause[len(clause) - clause[::-1].index(STOP) :]
        if denials.isdisjoint(clause):
            found.append(Hit(topic, " ".join(words[start:end])))
    return found


@functools.cache
def own_vocabulary() -> Vocabulary:
    """The vocabulary of the program."""
    return Vocabulary(_own())


def _own() -> dict[str, Any]:
    text = files(__package__).joinpath("words.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def vocabulary(path: str | os.PathLike[str] | None = None) -> Vocabulary:
    """The vocabulary of the program, with that of the file at `path` laid over it.

    Raises ScenarioError with every fault of that file.
    """
    if path is None:
        return own_vocabulary()
    whole, more = _own(), document(read_text(path))
    faults = list(_faults(more, tuple(whole["words"])))
    if faults:
        raise ScenarioError(faults)
    codes = {" ".join(code.lower().split()): sort for code, sort in more.get("codes", {}).items()}
    whole["codes"] = {**whole["codes"], **codes}
    for language, topics in more.get("words", {}).items():
        own = whole["words"].setdefault(language, {})
        for topic, phrases in topics.items():
            own[topic] = [*own.get(topic, ()), *phrases]
    for part in ("kinds", "causes"):
        for name, phrases in more.get(part, {}).items():
            whole[part][name] = [*whole[part].get(name, ()), *phrases]
    return Vocabulary(whole)


def _faults(more: Mapping[str, Any], own: Sequence[str]) -> Iterable[Fault]:
    """Faults of a vocabulary; own: the languages that the program has."""
    parts = ("codes", "words", "kinds", "causes")
    for part, table in more.items():
        if part not in parts:
            yield Fault(f"the table {shown(part)}", ", ".join(parts), did_you_mean(part, parts))
        elif not isinstance(table, dict):
            yield Fault(f"{part}, which is no table", f"a table [{part}]", path=(part,))
        elif part == "codes":
            for code, sort in table.items():
                if sort not in SORTS and sort != NOTHING:
                    allowed = f"{', '.join(SORTS)}, or {NOTHING}"
                    near = did_you_mean(str(sort), SORTS)
                    yield Fault(shown(sort), allowed, near, (part, code))
        elif part == "words":
            for language, topics in table.items():
                if not isinstance(topics, dict):
                    yield Fault("no table", f"[words.{language}]", "", (part, language))
                    continue
                if language not in own and "marks" not in topics:
                    allowed = 'marks = ["the", "and"], small words by which it is known'
                    given = f"a new language, {shown(language)}, without marks"
                    yield Fault(given, allowed, did_you_mean(language, own), (part, language))
                yield from _lists((part, language), topics, sorted(TOPICS))
        else:
            yield from _lists((part,), table, KINDS if part == "kinds" else CAUSES)


def _lists(
    path: tuple[str, ...], table: Mapping[str, Any], known: Sequence[str]
) -> Iterable[Fault]:
    for name, phrases in table.items():
        if name not in known:
            yield Fault(shown(name), ", ".join(known), did_you_mean(name, known), path)
        elif not (
            isinstance(phrases, list)
            and all(isinstance(each, str) and folded(each).split() for each in phrases)
        ):
            yield Fault(shown(phrases), "a list of words or phrases", "", (*path, name))
