"""The job on the desk: its file, its log, its answers, and who is told of them.

    job()       what every window shows of the file: text, values, faults, log
    change()    keys of the draft; then the worker is offered the new job
    enter()     a run of last night into the log, with what it changed
    paper()     a report of the saved file, as a ticket that opens once

The input of an answer is the text of the draft, of the log and of the files that the draft names.
Its digest goes with the job and with every answer, so that a window knows old from new.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol, get_args

from econ.desk.draft import Draft, ElsewhereError, OfferedError, StaleError, State, file_seen
from econ.desk.kept_answers import KeptAnswers
from econ.desk.papers import PAPERS
from econ.desk.places import checked, digest, inside, named_bytes, safe_name
from econ.desk.questions import (
    contradictions,
    dollar,
    first_text,
    looked_at,
    questions,
    told,
    with_runs,
)
from econ.desk.supervisor import Aside, Supervisor
from econ.desk.values import to_json
from econ.desk.windows import Windows
from econ.desk.worker import fault_rows
from econ.reports.outcome_words import OUTCOMES as WORDS
from econ.scenario import Scenario
from econ.scenario.faults import ScenarioError
from econ.scenario.hole import TopCondition
from econ.scenario.log_change import entered, taken_back
from econ.scenario.log_entry import with_undone
from econ.scenario.program import OUTCOMES
from econ.scenario.run_log import COLUMNS, UNFINISHED, LoggedRun, log_name, parse_log
from econ.scenario.toml_text import decoded, read_bytes

Row = dict[str, Any]
MOST_SLIDERS = 12
LOOK = 1.0  # [s] between two looks at the files, which another program may change


class RefusedError(Exception):
    """What cannot be done now; status: of HTTP; more: plain values for the window."""

    def __init__(self, status: int, words: str, **more: Any) -> None:
        self.status, self.more = status, more
        super().__init__(words)


class Disk(Protocol):
    """How files are written: whole or not at all, and only over what was read."""

    def replace(self, path: str, old: bytes | None, new: bytes) -> None:
        """Write a file in place of one that was read; OSError with words for the user."""
        ...

    def move(
        self,
        source: tuple[str, bytes | None, bytes],
        to: tuple[str, bytes | None, bytes],
    ) -> None:
        """Write two files of which one gives to the other, in the same way."""
        ...


def beside(log: str) -> str:
    """The file of rows that were taken back."""
    name = Path(log)
    return str(name.with_name(f"{name.stem}.undone{name.suffix or '.csv'}"))


class Log:
    """The run log on the disk. It is read anew whenever it may have changed."""

    def __init__(self, path: str) -> None:
        self.path = path
        self.data: bytes | None = None
        self.read()

    @property
    def name(self) -> str:
        """What messages call it."""
        return log_name(self.path)

    @property
    def text(self) -> str:
        """The log as text, empty where there is none; ScenarioError where it is none."""
        return decoded(self.data or b"")

    def read(self) -> bool:
        """Look at the disk; whether it has changed."""
        try:
            found = read_bytes(self.path) if os.path.exists(self.path) else None
        except ScenarioError:
            found = b"\xff"  # it cannot be read, and says so where it is parsed
        changed, self.data = found != self.data, found
        return changed


class Session:
    """See the head of the module."""

    def __init__(
        self,
        draft: Draft,
        log: Log,
        *,
        disk: Disk,
        windows: Windows,
        worker: Supervisor,
        aside: Aside,
    ) -> None:
        self._draft, self._log, self._disk = draft, log, disk
        self._windows, self._worker, self._aside = windows, worker, aside
        self._answers = KeptAnswers(draft.path)
        self._folder = os.path.dirname(os.path.abspath(draft.path))
        self._seen = file_seen(draft.path)
        self._alone = asyncio.Lock()  # what writes, one after the other
        self._state = draft.state()
        self._named = b""  # what the files hold that the job names
        self._version = 0  # of what the windows are shown
        self._log_known: tuple[str, Row] | None = None
        self._offer()

    # ---- what is shown ------------------------------------------------------------------------

    def job(self) -> Row:
        """The file and its log as they stand, as plain values."""
        return {
            **self._state.document(),
            "file": os.path.basename(self._draft.path),
            "input": self.input,
            "version": self._version,
            "log": self._log_row(),
        }

    @property
    def input(self) -> str:
        """Digest of all that an answer is worked out from."""
        return digest(self._state.text, self._log.data or b"", self._named)

    @property
    def unsaved(self) -> bool:
        """Whether there is something that the file has not: changes, or a draft that is offered."""
        return self._state.unsaved or self._state.offer is not None

    def _log_row(self) -> Row:
        """The log, and what a row of it may say."""
        if self._log_known is None or self._log_known[0] != self.input:
            self._log_known = (self.input, self._log_read())
        return self._log_known[1]

    def _log_read(self) -> Row:
        row: Row = {
            "file": os.path.basename(self._log.path),
            "there": self._log.data is not None,
            "rows": [],
            "faults": [],
            "outcomes": [*OUTCOMES, UNFINISHED],
            "words": WORDS,
            "readings": [],
            "runs": [],
            "top_conditions": list(get_args(TopCondition)),
        }
        if self._state.faults:
            return row
        scenario = checked(self._state.text, self._folder)
        row["runs"] = [run.name for run in scenario.run]
        row["readings"] = [reading.name for reading in scenario.reading]
        try:
            made = parse_log(self._log.text, scenario, file=self._log.name) if self._has_log else ()
        except ScenarioError as error:
            row["faults"] = fault_rows(error)
            return row
        names = [action.name for action in scenario.actions]
        row["rows"] = [_logged(each, names) for each in made]
        return row

    @property
    def _has_log(self) -> bool:
        return bool((self._log.data or b"").strip(b"\xef\xbb\xbf \t\r\n,;"))

    def _parts(self) -> Row:
        """The job as the worker is given it."""
        return {
            "text": self._state.text,
            "folder": self._folder,
            "log": self._log.text if self._has_log else "",
            "log_name": self._log.name,
            "input": self.input,
        }

    def _offer(self) -> None:
        """Let the worker answer what stands now, if it can be answered; tell every window."""
        self._named = named_bytes(self._state.text, self._folder)
        self._version += 1
        if not self._state.faults and not self._log_row()["faults"]:
            self._worker.offer(self._parts())
        told = {"input": self.input, "hash": self._state.hash, "version": self._version}
        self._windows.tell({"event": "job", **told})

    # ---- the file -----------------------------------------------------------------------------

    async def change(self, base: Any, changes: Any) -> Row:
        """Changes of the draft, all or none; base: the hash of the text that they were made on."""
        if not isinstance(changes, list):
            raise RefusedError(400, "changes are a list")
        return await self._written(lambda: self._draft.change(base, changes))

    async def put(self, base: Any, text: str) -> Row:
        """A whole text in place of the draft."""
        return await self._written(lambda: self._draft.put(base, text))

    async def undo(self, base: Any) -> Row:
        """The last change taken back."""
        return await self._written(lambda: self._draft.undo(base))

    async def save(self, base: Any) -> Row:
        """The draft into the file."""
        return await self._written(lambda: self._draft.save(base))

    async def offered(self, op: Any) -> Row:
        """Go on with the draft of an earlier start, or forget it."""
        if op not in ("take", "drop"):
            raise RefusedError(400, "an offered draft is taken up or dropped")
        return await self._written(self._draft.take_up if op == "take" else self._draft.throw_away)

    async def settle(self, base: Any, mine: Any) -> Row:
        """Go on from the file as another program left it, with the changes of these keys."""
        if not isinstance(mine, list) or not all(isinstance(key, str) for key in mine):
            raise RefusedError(400, "keys are a list of texts")
        return await self._written(lambda: self._draft.settle(base, mine))

    def versions(self) -> list[Row]:
        """Where draft, file and the file as it was before both differ, key by key."""
        return [each.document() for each in self._draft.three_versions()]

    async def _written(self, work: Callable[[], State]) -> Row:
        """The job after the work; refused with the newest job where it was meant for another."""
        async with self._alone:
            try:
                self._state = work()
            except StaleError:
                words = "changed meanwhile, in another window or on the disk"
                raise RefusedError(409, words, job=self.job()) from None
            except OfferedError:
                words = "a draft of an earlier start waits for you to take it up or drop it"
                raise RefusedError(409, words, job=self.job()) from None
            except ElsewhereError:
                self._state = self._draft.state()
                words = "another program has changed the file meanwhile: nothing was written"
                raise RefusedError(409, words, job=self.job(), elsewhere=True) from None
            self._seen = file_seen(self._draft.path)
            self._offer()
            return self.job()

    async def watch(self) -> None:
        """Look at the files again and again, until this is cancelled."""
        while True:
            await asyncio.sleep(LOOK)
            async with self._alone:
                now = file_seen(self._draft.path)
                changed = self._log.read()
                named = named_bytes(self._state.text, self._folder)
                if now != self._seen or named != self._named:
                    self._seen, changed = now, True
                    with contextlib.suppress(ScenarioError):
                        self._state = self._draft.state()
                if changed:
                    self._offer()

    # ---- mornings -----------------------------------------------------------------------------

    async def enter(self, cells: Mapping[str, str | None]) -> Row:
        """A row into the log: checked, answered, then written; what it changed in words."""
        async with self._alone:
            scenario = self._saved()
            old = self._log.data
            given = {name: cells.get(name) for name in COLUMNS if name != "kind"}
            added = entered(self._log.text, given, scenario, file=self._log.name)
            parse_log(added.text, scenario, file=self._log.name)
            parts = {**self._parts(), "log": added.text, "added": added}
            came = await self._worker.ask("entered", parts)
            self._disk.replace(self._log.path, old, added.text.encode())
            self._log.read()
            self._offer()
            return {"told": came["told"], "job": self.job()}

    async def take_back(self) -> Row:
        """The last row of the log, moved to the end of the file beside it."""
        async with self._alone:
            scenario = self._saved()
            del scenario
            old, text = self._log.data, self._log.text
            taken = taken_back(text)
            other = beside(self._log.path)
            if not inside(other, os.path.dirname(os.path.abspath(self._log.path))):
                raise RefusedError(409, f"{os.path.basename(other)} leads out of the folder")
            kept = read_bytes(other) if os.path.exists(other) else None
            moved = with_undone(decoded(kept or b""), taken)
            names = {"taken": taken, "beside": os.path.basename(other)}
            came = await self._worker.ask("taken_back", {**self._parts(), **names})
            self._disk.move(
                (self._log.path, old, taken.text.encode()), (other, kept, moved.encode())
            )
            self._log.read()
            self._offer()
            return {"told": came["told"], "job": self.job()}

    def _saved(self) -> Scenario:
        """The scenario of the file; refused while the draft has more, because a log and a paper go
        by the file."""
        if self.unsaved:
            raise RefusedError(409, "save the file first", unsaved=True)
        return checked(self._state.text, self._folder)

    # ---- what is asked for --------------------------------------------------------------------

    async def paper(self, what: str) -> tuple[str, bytes]:
        """A report by its name: what it is called here, and its bytes."""
        stem = Path(self._draft.path).stem
        if what == "scenario":
            self._saved()
            return safe_name(os.path.basename(self._draft.path)), read_bytes(self._draft.path)
        if what == "log":
            if self._log.data is None:
                raise RefusedError(404, "there is no log yet")
            return safe_name(os.path.basename(self._log.path)), self._log.data
        if what not in PAPERS:
            raise RefusedError(404, "no such paper")
        self._saved()
        files = await self._aside.ask("papers", {**self._parts(), "what": what})
        ((name, data),) = files.items()
        return safe_name(f"{stem}_{name}"), data

    async def plan(self) -> Row:
        """The plan as a tree."""
        parts = self._parts()
        row: Row = await self._worker.ask("plan", parts, slot="plan")
        return {"input": parts["input"], **row}

    async def weights(self) -> Row:
        """The amounts that weigh most, the heaviest first; what every amount weighs, by key."""
        parts, rows = self._parts(), list[Row]()
        first: int | None = 0
        while first is not None:
            came = await self._worker.ask("weights", {**parts, "first": first}, slot="weights")
            rows += came["rows"]
            first = came["next"]
        rows.sort(key=lambda row: -float(row["swing"]))
        return {
            "input": parts["input"],
            "sliders": [row for row in rows if row["slides"]][:MOST_SLIDERS],
            "swings": {row["key"]: row["swing"] for row in rows},
        }

    async def beside(self, changes: Sequence[str]) -> Row:
        """The file, and the file with changes."""
        parts = {**self._parts(), "changes": list(changes)}
        row: Row = await self._worker.ask("beside", parts, slot="beside")
        return row

    def asked(self) -> Row:
        """The ten questions, and what the job as it stands answers of them."""
        answers: Row = {"runs": []}
        with contextlib.suppress(ScenarioError):
            answers = told(self._state.text)
        said = {"told": to_json(answers), "begun": bool(self._state.text)}
        return {**questions(), **said, "kept": dict(self._answers.last)}

    def looked(self, answers: Mapping[str, Any], known: Any, ticked: Any) -> Row:
        """What to say of answers, which are kept until the job has them. known: what the window
        knows that the job tells; ticked: kinds of run."""
        kept = self._answers.keep(answers, known, ticked)
        return {"notes": looked_at(answers), "faults": contradictions(answers), "kept": kept}

    def _answered(self, answers: Mapping[str, Any]) -> str:
        """The text that the ten answers make, which can be used as far as it goes."""
        text = first_text(answers, self._state.text)
        checked(text, self._folder, need_odds=False)
        return text

    async def suited(self, answers: Mapping[str, Any]) -> Row:
        """Kinds of run for the fish and hole of the ten answers, best in money first."""
        parts = {**self._parts(), "text": self._answered(answers)}
        row: Row = await self._worker.ask("methods", parts, slot="methods")
        return row

    async def first(self, base: Any, answers: Mapping[str, Any], kinds: Sequence[str]) -> Row:
        """The ten answers, with runs of these kinds behind those that there are, as the draft."""
        text = self._answered({**answers, "runs": kinds})
        if kinds:
            parts = {**self._parts(), "text": text, "kinds": list(kinds), "dollar": dollar(answers)}
            text = with_runs(text, await self._worker.ask("fragments", parts))
        job = await self.put(base, text)
        self._answers.forget()
        return job

    async def past(self, kind: str, units: str, given: Sequence[tuple[str, bytes]]) -> Row:
        """Past jobs or daily reports: what was read, and what they would change."""
        parts = {**self._parts(), "kind": kind, "units": units, "files": list(given)}
        row: Row = await self._aside.ask("past", parts, slot="past")
        return row

    async def include(self, base: Any, found: Row) -> Row:
        """What past jobs gave, as a file beside the job that the job names."""
        if base != self._state.hash:
            raise RefusedError(409, "changed meanwhile, in another window", job=self.job())
        data = found["text"].encode()
        place = self._free_place(found["ending"], data)
        if not os.path.exists(place):
            self._disk.replace(place, None, data)
        name = os.path.basename(place)
        return await self.change(base, [{"op": "set", "key": found["key"], "value": name}])

    def _free_place(self, ending: str, data: bytes) -> str:
        """A name beside the job that is not taken, but by the same."""
        stem = os.path.join(self._folder, f"{Path(self._draft.path).stem}_{ending}")
        for number in range(1, 100):
            place = f"{stem}.toml" if number == 1 else f"{stem}_{number}.toml"
            if not os.path.lexists(place):
                return place
            if inside(place, self._folder) and read_bytes(place) == data:
                return place
        raise RefusedError(409, "there are too many such files beside the job")


def _logged(row: LoggedRun, names: Sequence[str]) -> Row:
    return {
        "run": row.run + 1,
        "name": names[row.run],
        "start": row.start.isoformat(timespec="minutes"),
        "end": row.end.isoformat(timespec="minutes"),
        "outcome": row.outcome,
        "fish_top": row.fish_top,
        "top_condition": row.top_condition,
        "cost": row.cost,
        "remark": row.remark,
        "marks": [f"{'+' if holds else '-'}{mark}" for mark, holds in row.marks],
        "warning": row.warning,
    }
