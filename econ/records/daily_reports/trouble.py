"""Stretches of trouble in the reports of a well: stuck pipe, fishing, cutting, plugs, sidetracks.

A *job* is trouble about one fish. It begins with the first hour that is told as stuck, fishing or
cutting by a code, a state or strong words, and goes on while less than a day lies between two such
hours and the depth is the same. A stretch told under another code inside it (a meeting, a wait for
weather, a repair) belongs to its elapsed time and not to its tool hours.

A job whose last words are not of a string free or a fish out may lead to a *consequence*: a plug or
a sidetrack within CONSEQUENCE hours, before new hole is made, and all hours from there until the
hole is as deep again as it was before.

A job is parted into *stretches*, each of them a run as a table of past jobs has it. A new one
begins where the work changes its sort (stuck, cut, fish), where a soak begins, and where the string
has been out of the hole. For each the words propose a kind and an outcome. They are proposals:
    recovered   the words say free of a stuck string, or fish out
    part        a part came out
    prepared    a cut or back-off that is said to have worked
    nothing     words of no success
    unfinished  anything else, and a stuck string that never came free: what ended otherwise is
                censored there, it did not fail
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from econ.records.daily_reports.sorting import FAR, OUT_OF_HOLE, Sorted, depth_at_end, is_elsewhere
from econ.records.daily_reports.words import Vocabulary
from econ.scenario.framed import Framed

GAP = 24.0  # [h] between two hours of one job
SAME_DEPTH = 100.0  # [ft]
CONSEQUENCE = 10 * 24.0  # [h]
WORK = ("stuck", "cut", "fish")
AFTER = ("plug", "sidetrack")
WHERE_STUCK = (  # sorts in which strong words tell of a string that is held
    *("drill", "trip", "trip_in", "trip_out", "short_trip", "ream", "circulate", "log", "core"),
    *("casing", "sidetrack", "other", "unmatched"),
)
LONGEST_TEXT = 700  # characters of a report beside a row


@dataclass(frozen=True, repr=False)
class Stretch(Framed):
    """A run of a past job as the reports tell it, with what is proposed for it.

    what: stuck, cut, fish, plug or sidetrack; the first three are runs of a job, the others its
    consequence. kind and outcome are proposals, empty where the words propose none.
    """

    job: str
    run: int
    what: str
    kind: str
    outcome: str
    why: str  # the words of the report that propose them
    cause: str
    well: str
    start: str
    end: str
    hours: float  # of tools, without weather and repairs
    elapsed: float
    hole_size: float | None  # [in]
    depth: float | None  # [ft]
    files: str
    text: str


@dataclass
class Job:
    """A job while it is put together: places in the steps of its well."""

    steps: list[int] = field(default_factory=list)  # of trouble
    fallback: list[int] = field(default_factory=list)  # plugs and sidetracks after it
    first: int = 0
    last: int = 0
    regained: int | None = None  # the last step until the depth is regained


def trouble_of(each: Sorted) -> str:
    """stuck, cut, fish, plug or sidetrack; empty for any other step."""
    if each.sort in WORK or each.sort == "sidetrack":
        return each.sort
    if each.sort == "plug":
        return "plug"
    activity = each.step.activity
    if activity.state_detail == "stuck equipment":
        return "stuck"
    if each.sort in WHERE_STUCK and "held" in each.topics and not is_elsewhere(each.step):
        return "stuck"
    return ""


def jobs_of(steps: Sequence[Sorted]) -> list[Job]:
    """The jobs of a well in order."""
    jobs: list[Job] = []
    job: Job | None = None
    for place, each in enumerate(steps):
        what = trouble_of(each)
        if what not in WORK:
            continue
        if job is None or not _belongs(steps, job, each):
            job = Job(first=place)
            jobs.append(job)
        job.steps.append(place)
        job.last = place
    for number, job in enumerate(jobs):
        until = jobs[number + 1].first if number + 1 < len(jobs) else len(steps)
        _follow(steps, job, until)
    return jobs


def _belongs(steps: Sequence[Sorted], job: Job, each: Sorted) -> bool:
    """Whether a step of trouble goes on with a job."""
    last = steps[job.last]
    if each.step.start - last.step.end >= GAP:
        return False
    if trouble_of(each) != "stuck":  # tools are run to the fish from the surface
        return True
    here, there = _depth(each), _depth(steps[job.first])
    return here is None or there is None or abs(here - there) <= SAME_DEPTH or each.sort == "fish"


def _depth(each: Sorted) -> float | None:
    return depth_at_end(each.step)


def _follow(steps: Sequence[Sorted], job: Job, until: int) -> None:
    """Find plugs and sidetracks after a job, and where the hole is as deep again."""
    deepest = max(
        (_hole(each) for each in steps[: job.last + 1] if each.sort == "drill"), default=0.0
    )
    last = job.last
    if steps[last].topics & {"free", "out"}:  # nothing is left to go round
        return
    for place in range(job.last + 1, until):
        each = steps[place]
        what = trouble_of(each)
        if what in AFTER:
            if each.step.start - steps[last].step.end > CONSEQUENCE:
                return
            job.fallback.append(place)
            last = place
        elif not job.fallback:
            far = each.step.start - steps[last].step.end > CONSEQUENCE
            if far or (each.sort == "drill" and _hole(each) > deepest + 1.0):
                return
        if job.fallback:
            job.regained = place
            if each.sort == "drill" and _hole(each) >= deepest > 0:
                return
            if each.step.start - steps[last].step.end > 3 * CONSEQUENCE:
                job.regained = last
                return


def _hole(each: Sorted) -> float:
    activity = each.step.activity
    told = activity.hole[1] if activity.hole[1] is not None else activity.depth
    return 0.0 if told is None else told


def parts_of_well(steps: Sequence[Sorted], jobs: Sequence[Job]) -> list[str]:
    """Of each step: plan, fishing (from the first to the last hour of a job), or consequence."""
    parts = ["plan"] * len(steps)
    for job in jobs:
        end = job.last if job.regained is None else job.regained
        for place in range(job.first, end + 1):
            parts[place] = "fishing" if place <= job.last else "consequence"
    return parts


def stretches(
    well: str, steps: Sequence[Sorted], jobs: Sequence[Job], vocabulary: Vocabulary
) -> Iterator[Stretch]:
    """The runs of all jobs of a well, then its plugs and sidetracks after them."""
    after = {place for job in jobs for place in job.fallback}
    for number, job in enumerate(jobs, start=1):
        name = f"{well} job {number}"
        runs = list(_runs(steps, job))
        cause = vocabulary.first_cause(steps[place].step.activity.text for place in job.steps)
        told = "" if cause is None else cause.topic
        for run, places in enumerate(runs, start=1):
            yield _stretch(name, run, well, steps, places, told, vocabulary)
        for run, places in enumerate(_together(steps, job.fallback), start=1):
            yield _stretch(f"{name} fallback", run, well, steps, places, told, vocabulary)
    others = [
        place
        for place, each in enumerate(steps)
        if place not in after
        and (each.sort == "sidetrack" or (each.sort == "plug" and _kickoff(each)))
    ]
    for run, places in enumerate(_together(steps, others), start=1):
        yield _stretch(f"{well} no job", run, well, steps, places, "", vocabulary)


def _kickoff(each: Sorted) -> bool:
    coded = any("kick off plug" in code for code in each.step.activity.codes)
    return coded or "kickoff_plug" in each.topics


def _runs(steps: Sequence[Sorted], job: Job) -> Iterator[list[int]]:
    """The steps of a job parted into runs."""
    run: list[int] = []
    work, deep, out = "", False, False
    for place in job.steps:
        each = steps[place]
        now = _work(each) or work or "fish"
        depth = _depth(each)
        again = out and depth is not None and depth > OUT_OF_HOLE
        if run and (now != work or again):
            yield run
            run, deep, out = [], False, False
        run.append(place)
        work = now
        deep = deep or (depth is not None and depth > FAR)
        out = out or (deep and depth is not None and depth <= OUT_OF_HOLE)
    if run:
        yield run


def _work(each: Sorted) -> str:
    """The sort of work of a step of trouble: stuck, soak, cut or fish; empty where a code of
    fishing is all that is said, so that it goes on with what was done before it."""
    what = trouble_of(each)
    if what in ("stuck", "fish") and "soak" in each.topics and "fish" not in each.topics:
        return "soak"
    if what != "fish" or "fish" in each.topics:
        return what
    if each.topics & {"held", "stuck"}:
        return "stuck"
    return "cut" if "cut" in each.topics else ""


def _together(steps: Sequence[Sorted], places: Sequence[int]) -> list[list[int]]:
    """Places of one sort with less than a day between them."""
    found: list[list[int]] = []
    for place in places:
        last = steps[found[-1][-1]] if found else None
        here = steps[place]
        if last is not None and last.sort == here.sort and here.step.start - last.step.end < GAP:
            found[-1].append(place)
        else:
            found.append([place])
    return found


def _stretch(
    job: str,
    run: int,
    well: str,
    steps: Sequence[Sorted],
    places: Sequence[int],
    cause: str,
    vocabulary: Vocabulary,
) -> Stretch:
    own = [steps[place] for place in places]
    work = next((each for each in map(_work, own) if each), "fish")
    what = "stuck" if work == "soak" else work
    first, last = own[0].step, own[-1].step
    texts = [each.step.activity.text for each in own]
    kind, outcome, why = _proposed(work, own, texts, vocabulary)
    sizes = [each.step.report.hole_size for each in own if each.step.report.hole_size]
    depths = [depth for each in own if (depth := _depth(each)) is not None]
    return Stretch(
        job=job,
        run=run,
        what=what,
        kind=kind,
        outcome=outcome,
        why=why,
        cause=cause,
        well=well,
        start=first.activity.start.written(),
        end=last.activity.end.written(),
        hours=sum(each.step.hours for each in own if not _is_talk(each)),
        elapsed=last.end - first.start,
        hole_size=sizes[0] if sizes else None,
        depth=(depths[0] if what == "stuck" else max(depths)) if depths else None,
        files=", ".join(dict.fromkeys(each.step.report.file for each in own)),
        text=_excerpt(texts),
    )


def _is_talk(each: Sorted) -> bool:
    """Whether hours coded as trouble were a meeting or rig service: whole jobs are coded so."""
    return "service" in each.topics and each.topics.isdisjoint(("held", "stuck", "cut", "fish"))


def _excerpt(texts: Sequence[str]) -> str:
    """Beginning and end of what the reports say, in one line."""
    whole = " / ".join(" ".join(text.split()) for text in texts if text.strip())
    if len(whole) <= LONGEST_TEXT:
        return whole
    half = LONGEST_TEXT // 2 - 3
    return f"{whole[:half]} ... {whole[-half:]}"


def _proposed(
    what: str, own: Sequence[Sorted], texts: Sequence[str], vocabulary: Vocabulary
) -> tuple[str, str, str]:
    """Kind, outcome and the words that propose them."""
    topics = set().union(*(each.topics for each in own))
    hit = vocabulary.first_kind(texts)
    words = [] if hit is None else [hit.words]
    if what in AFTER:
        told = next((topic for topic in ("soft_cement",) if topic in topics), "")
        return "", "", told.replace("_", " ")
    kind = "" if hit is None else hit.topic
    if what == "soak":
        kind, outcome = "soak", "recovered" if "free" in topics else "unfinished"
    elif what == "stuck" and own[0].sort == "log":
        kind, outcome = "other", "recovered" if "free" in topics else "unfinished"
    elif what == "stuck":
        kind = "work_jar"
        outcome = "recovered" if "free" in topics else "unfinished"
    elif what == "cut":
        kind = kind or "freepoint_backoff"
        outcome = _first(topics, {"cut_done": "prepared", "no_catch": "nothing"})
    else:
        kind = kind if kind != "work_jar" else "other"
        kind = kind or "other"
        outcome = _first(
            topics,
            {"out": "recovered", "part_out": "part", "no_catch": "nothing"},
        )
    words += [topic.replace("_", " ") for topic in sorted(topics & TELLING)]
    return kind, outcome, ", ".join(words)


TELLING = frozenset({"free", "out", "part_out", "no_catch", "cut_done", "lost", "abandon_fish"})


def _first(topics: set[str], outcomes: dict[str, str]) -> str:
    return next((word for topic, word in outcomes.items() if topic in topics), "unfinished")
