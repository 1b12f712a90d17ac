"""Each of twenty mistakes of a fishing decision is prevented, or warned of by name.

The list is common practice, no source. A mistake that the program cannot make is shown by
what the answer does. One that a file can make is shown by the warning: by its name in the
text and under "notes" in the document that `--json` prints, and by its silence once it is
repaired.

     1 sunk cost                          11 second fish forgotten
     2 failure not taken as evidence      12 waiting for a vote
     3 rentals forgotten                  13 wrong end point
     4 fish counted twice                 14 constraint ignored
     5 no tail after recovery             15 hole deterioration ignored
     6 perfect kick-off                   16 tool ordered in case
     7 P50s added                         17 undiscounted insurance
     8 optimistic trips                   18 kick-off depth fixed
     9 one more run without a limit       19 point odds
    10 part taken for success             20 averaging over mechanisms

Origins of the expected numbers:
    published     the invented check case A, as printed in the description of the simple check
                  model it comes from, to the dollar or to the digits shown
    independent   worked by hand beside the number, from what the file says
"""

from __future__ import annotations

import copy
import functools
import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cli.command import ok
from full_text import text
from raw_jobs import SCENARIO_A, Table, lump_job, read, scenario, walked

import econ
import econ.engine.histogram
from econ.decision import Answer
from econ.reports import tables
from econ.scenario import Scenario
from econ.scenario.run_log import LoggedRun

pytestmark = pytest.mark.usefixtures("few_bins", "few_states")
SCENARIOS = Path(__file__).parents[1] / "scenarios"
A = SCENARIOS / "point" / "a_land_twist_off.toml"
D = SCENARIOS / "point" / "d_rented_tools.toml"
DECIDED = datetime(2026, 3, 14, 6)
DOLLAR = 1.0
SIDETRACK_DAY = 53_000 + 13_500  # [USD/d] of A: spread and directional crew


def answered(raw: Table, log: tuple[LoggedRun, ...] = ()) -> Answer:
    return econ.answer(scenario(raw, n=16), log)


def document(answer: Answer) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(json.dumps(tables.document(answer), allow_nan=False))
    return found


def spaced(answer: Answer) -> str:
    """The text on one line."""
    return " ".join(text(answer).split())


def changed(raw: Table, **keys: Any) -> Table:
    """A copy of a raw table with other values; `a__2__b` is item 2 (from 1) of a list."""
    made = copy.deepcopy(raw)
    for path, value in keys.items():
        place: Any = made
        *way, last = path.split("__")
        for step in way:
            place = place[int(step) - 1] if step.isdigit() else place.setdefault(step, {})
        place[last] = value
    return made


def failed(runs: int, *, cost: float) -> tuple[LoggedRun, ...]:
    """A log of the first `runs` runs, a day each, that changed nothing."""
    days = [DECIDED + timedelta(days=day) for day in range(runs + 1)]
    return tuple(
        LoggedRun(run + 2, run, start=days[run], end=days[run + 1], outcome="nothing", cost=cost)
        for run in range(runs)
    )


def numbers(value: Any) -> Iterator[float]:
    """Every number of a document."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from numbers(item)
    elif isinstance(value, float | int) and not isinstance(value, bool):
        yield float(value)


# Each case: the name of the warning, and the changes that make the mistake in a job that has
# no note. Some need a change that is no mistake by itself, which stays when it is repaired.
BASE = (
    "draws.n=16",
    "fishing.workable={ mean = 0.7, weight = 8 }",
    "fishing.odds_ratio_per_day=0.95",
)
EVERY_RUN = range(1, 6)
LIKE_THE_FIRST = (
    "workable = { recovered = 0.66, part = 0.05, nothing = 0.22, top_damaged = 0.05, "
    "string_lost = 0.015, hole_lost = 0.005 }"
)
DEEP_CASING = ["well.shoe_depth=9000", "fallback.1.kickoff_floor=9060"]
JAR = "tool = 'Jar', options = ['jars'], day = 500, minimum_days = 4"
WARNED: dict[str, tuple[str, list[str], list[str]]] = {
    "2 odds that stay, in one table": (
        "failure not taken as evidence",
        [f"run.{k}.odds={{ recovered = 0.3, nothing = 0.7 }}" for k in EVERY_RUN],
        [f"run.{k}.odds={{ recovered = 0.{6 - k}, nothing = 0.{4 + k} }}" for k in EVERY_RUN],
    ),
    "2 the same run again at higher odds": (
        "failure not taken as evidence",
        ["run.2.dresses_top=false", "run.2.odds.stubborn={ recovered = 0.6, nothing = 0.4 }"],
        ["run.2.dresses_top=false"],
    ),
    "2 no fish can be stubborn": (
        "failure not taken as evidence",
        [
            "run.2.dresses_top=false",
            "fishing.workable=1",
            "fishing.odds_ratio_per_day=1",
            f"run.2.odds={{ {LIKE_THE_FIRST}, stubborn = {{ nothing = 1 }} }}",
        ],
        [
            "run.2.dresses_top=false",
            f"run.2.odds={{ {LIKE_THE_FIRST}, stubborn = {{ nothing = 1 }} }}",
        ],
    ),
    "3 tools for nothing": (
        "rentals forgotten",
        ["fishing.day_rates={}", *(f"run.{k}.charge=0" for k in EVERY_RUN)],
        ["fishing.day_rates={ hands = 4600 }", *(f"run.{k}.charge=0" for k in EVERY_RUN)],
    ),
    "4 the pieces as a charge too": ("fish counted twice", ["fallback.1.other_cost=335000"], []),
    "4 the pieces as a charge, not owed": (
        "fish counted twice",
        ["fallback.1.other_cost=335000"],
        ["fallback.1.other_cost=335000", "fallback.1.lost_in_hole_share=0"],
    ),
    "5 drilling on at once": ("no tail after recovery", ["recovery.hours=0"], []),
    "6 every plug holds": ("perfect kick-off", ["fallback.1.kickoff_failure=0"], []),
    "6 never stuck again": ("perfect redrill", ["fallback.1.stick_again.chance=0"], []),
    "8 fast in open hole": ("optimistic trips", ["trip_speed.in.open=2100"], []),
    # The band is 11.18 h. With casing to 9,000 ft the speeds of A give 9000/2000 + 9000/1800 +
    # 2180/1300 + 2180/1200 = 13.0 h; with these, 9.7 h.
    "8 fast in casing alone": (
        "optimistic trips",
        [*DEEP_CASING, "trip_speed.in.cased=3000", "trip_speed.out.cased=2800"],
        DEEP_CASING,
    ),
    # There and back 2 x 4200/9000 + 6980/1300 + 6980/1200 = 12.1 h, slower than the band; with
    # 6980/1600 + 6980/1500 it is 9.9 h, and no speed in open hole is beyond the band.
    "8 fast in all": (
        "optimistic trips",
        [
            "trip_speed.in={ cased = 9000, open = 1600 }",
            "trip_speed.out={ cased = 9000, open = 1500 }",
        ],
        ["trip_speed.in.cased=9000", "trip_speed.out.cased=9000"],
    ),
    # At the slow ends 4200/5000 + 4200/(6000/1.1) + 6980/(1700 - 1.28 x 50) + 6980/1500 = 10.5 h.
    "8 fast at the slow end of every range": (
        "optimistic trips",
        [
            "trip_speed.in.cased={ low = 5000, likely = 6000, high = 7000 }",
            "trip_speed.out.cased={ median = 6000, factor = 1.1 }",
            "trip_speed.in.open={ mean = 1700, sd = 50 }",
            "trip_speed.out.open={ p10 = 1500, p50 = 1600, p90 = 1700 }",
        ],
        # Likely values that are as fast, but slow ends of 4200/2000 + 4200/2000 + 6980/1100 +
        # 6980/1100 = 16.9 h.
        [
            "trip_speed.in.cased={ low = 2000, likely = 6000, high = 7000 }",
            "trip_speed.out.cased={ median = 6000, factor = 3 }",
            "trip_speed.in.open={ low = 1100, high = 2300 }",
            "trip_speed.out.open={ values = [1100, 2100], weights = [1, 1] }",
        ],
    ),
    "8 a run shorter than its trip": (
        "optimistic trips",
        [
            "run.1={ name = 'Overshot', kind = 'overshot', hours = { low = 8, high = 11 }, "
            "charge = 4200, odds = { recovered = 0.4, nothing = 0.6 } }"
        ],
        [
            "run.1={ name = 'Overshot', kind = 'overshot', hours = { low = 8, high = 24 }, "
            "charge = 4200, odds = { recovered = 0.4, nothing = 0.6 } }"
        ],
    ),
    "10 a part of no length": ("part taken for success", ["run.1.part_length=0"], []),
    "11 a string of no value": ("second fish forgotten", ["run.1.string_value=0"], []),
    "11 a string of no length": ("second fish forgotten", ["run.1.string_length=0"], []),
    "14 a sealed source let go": (
        "constraint waived",
        ["fish.sealed_source=true", "limits.minimum_runs=0"],
        ["fish.sealed_source=true", "limits.minimum_runs=1"],
    ),
    "15 ten days at the same odds": (
        "hole deterioration ignored",
        ["fishing.odds_ratio_per_day=1", "fishing.loss_odds_ratio_per_day=1"],
        ["fishing.odds_ratio_per_day=1", "fishing.loss_odds_ratio_per_day=1.1"],
    ),
    "16 called now for the last run": (
        "tool ordered in case",
        [
            f"rental=[{{ {JAR}, call_out = 0 }}]",
            "run.5.options=['jars']",
        ],
        [
            f"rental=[{{ {JAR} }}]",
            "run.5.options=['jars']",
        ],
    ),
    "17 a claim that is sure": (
        "undiscounted insurance",
        ["insurance={ chance = 1, amount = 100000 }"],
        ["insurance={ chance = 0.6, amount = 100000 }"],
    ),
    "17 a policy inside the fallback": (
        "undiscounted insurance",
        ["fallback.1.lost_in_hole_share=0.4"],
        ["insurance={ chance = 0.6, amount = 200000 }"],
    ),
    "19 odds as if known": ("point odds", ["fishing.workable=0.7"], []),
    "20 held by who knows what": ("averaging over mechanisms", ["fish.mechanism='unknown'"], []),
}


@functools.cache
def of_a(*changes: str) -> tuple[list[str], str]:
    """Notes and text of the answer to A with changes."""
    answer = econ.answer(econ.load(A, [*BASE, *changes]))
    return document(answer)["notes"], spaced(answer)


@pytest.mark.parametrize("case", WARNED)
def test_mistake_is_warned_of_by_name_until_it_is_repaired(case: str) -> None:
    name, mistake, repair = WARNED[case]
    notes, said = of_a(*mistake)
    assert [note for note in notes if note.startswith(f"{name}: ")]
    assert f"- {name}: " in said
    notes, said = of_a(*repair)
    assert not [note for note in notes if name in note]
    assert name not in said


def test_job_that_the_mistakes_are_made_in_has_no_note() -> None:
    notes, said = of_a()
    assert notes == []
    assert "NOTES ON THE INPUT" not in said


def test_every_mistake_of_the_list_is_tested_here() -> None:
    listed = {int(number) for number in re.findall(r"(?m)\b(\d+) [a-zA-Z]", __doc__ or "")}
    tests = [name for name in globals() if name.startswith("test_mistake_")]
    shown = {int(name.split("_")[2]) for name in tests if name.split("_")[2].isdigit()}
    warned = {int(case.split()[0]) for case in WARNED}
    assert set(range(1, 21)) <= listed
    assert shown | warned == set(range(1, 21))


def test_warning_goes_to_both_forms_of_the_command() -> None:
    made = ("--set", "recovery.hours=0", "--set", "draws.n=16")
    assert "- no tail after recovery: " in " ".join(ok("answer", "--full", A, *made).split())
    notes = json.loads(ok("answer", A, *made, "--json"))["notes"]
    assert any(note.startswith("no tail after recovery: ") for note in notes)


# ------------------------------------------------------------------ what the answer prevents


def test_mistake_1_money_spent_changes_no_number() -> None:
    raw = read(A)
    cheap, dear = (document(answered(raw, failed(1, cost=cost))) for cost in (1e3, 9e6))
    assert (cheap["log"].pop("spent"), dear["log"].pop("spent")) == (1e3, 9e6)
    assert [run.pop("cost") for log in (cheap, dear) for run in log["log"]["runs"]] == [1e3, 9e6]
    assert cheap == dear


def test_mistake_1_what_the_authority_says_is_spent_changes_no_number() -> None:
    raw = read(A)
    assert raw["afe"]["line"][0]["spent"] == 265_000
    spent = changed(raw, afe__line__1__spent=50_000_000)
    assert document(answered(spent)) == document(answered(raw))


def test_mistake_2_belief_falls_with_every_failure() -> None:
    found = document(answered(read(SCENARIO_A)))["belief"]
    belief = [row["workable"] for row in found]
    assert belief[:4] == pytest.approx([0.70, 0.42, 0.20, 0.10], abs=0.005)  # published
    assert belief == sorted(belief, reverse=True)
    # published: odds of the runs if every earlier one failed; the second dresses the top
    assert [row["next_odds"] for row in found] == pytest.approx(
        [0.471, 0.299, 0.173, 0.112, 0.065], abs=0.0005
    )


def rented(*hours: float, **contract: Any) -> Answer:
    """A job at 1,000 an hour with one rented tool that its first run uses, and no tail."""
    odds = [{"nothing": 1.0}] * (len(hours) - 1) + [{"recovered": 1.0}]
    raw = lump_job(*odds)
    for run, long in zip(raw["run"], hours, strict=True):
        run["hours"] = long
    raw["run"][0]["kind"] = "overshot"
    raw["rental"] = [{"tool": "overshot", "kinds": ["overshot"], **contract}]
    return answered(raw)


def test_mistake_3_minimum_days_mobilization_and_redress_are_owed_from_day_one() -> None:
    contract = {"day": 1_000, "minimum_days": 5, "mobilization": 2_000, "redress": 700}
    cost = rented(24.0, **contract).by_runs[1].expected_cost
    # independent: the fish is out after one day at 24,000; five days are owed all the same
    assert cost == pytest.approx(24_000 + 5 * 1_000 + 2_000 + 700)


def test_mistake_3_tool_stands_by_while_other_runs_are_in_the_hole() -> None:
    cost = rented(24.0, 48.0, day=1_000, standby_day=400).by_runs[2].expected_cost
    # independent: one day of work, two of standing by
    assert cost == pytest.approx(72_000 + 1_000 + 2 * 400)


def test_mistake_4_fish_is_owed_in_the_fallback_alone() -> None:
    raw = read(SCENARIO_A)
    value = raw["fish"]["piece"][-1]["value"]
    less, more = (
        answered(changed(raw, fish__piece__2__value=value + dearer)) for dearer in (0, 100_000)
    )
    assert more.by_runs[0].expected_cost - less.by_runs[0].expected_cost == pytest.approx(100_000)
    one, two = less.by_runs[1], more.by_runs[1]
    assert one.cost_if_recovered == pytest.approx(two.cost_if_recovered)
    # No outcome of the first run brings out the lowest piece but the whole fish.
    not_out = 1 - one.probability_recovered
    assert two.expected_cost - one.expected_cost == pytest.approx(not_out * 100_000)


def test_mistake_5_recovery_is_followed_by_its_tail() -> None:
    cost = answered(read(SCENARIO_A)).by_runs[1].cost_if_recovered
    # published: mobilization, cost of the first run, tail cost
    assert cost == pytest.approx(9_500 + 74_967 + 122_325, abs=DOLLAR)


def test_mistake_6_kickoff_retries_and_sticking_are_in_the_fallback() -> None:
    raw = read(SCENARIO_A)
    sure = changed(
        raw, fallback__1__kickoff_failure=0.0, fallback__1__stick_again={"chance": 0, "cost": 0}
    )
    trouble = answered(raw).by_runs[0].expected_cost - answered(sure).by_runs[0].expected_cost
    # published: 17.9 h of retries (to a tenth) at the day rate of the sidetrack, plug materials
    # of 45,333 in place of 34,000, and an allowance of 15,000 for sticking again
    tenth = 0.05 / 24 * SIDETRACK_DAY
    assert trouble == pytest.approx(17.9 / 24 * SIDETRACK_DAY + 11_333 + 15_000, abs=tenth + 1)


def test_mistake_7_percentiles_are_of_the_total() -> None:
    raw = read(SCENARIO_A)
    found, answer = walked(raw, n=64), document(econ.answer(scenario(raw, n=64)))
    best = answer["answer"]["runs"]
    fishing, fallback = (
        found.distributions[name][-1, best, :3].tolist() for name in ("on_fishing", "on_fallback")
    )
    sums = [one + two for one, two in zip(fishing, fallback, strict=True)]
    total = [answer["answer"][name] for name in ("p10", "p50", "p90")]
    # published: the total has a P50 of about 308,000, which holds no sidetrack (with ranges on
    # the hours, hence the wide tolerance); the sum of the P50s holds one
    assert total[1] == pytest.approx(308_000, rel=0.15)
    assert sums[1] > 2 * total[1]
    stages = answer["authority"]
    sums.append(stages["stage_1"]["p90"] + stages["stage_2"]["p90"])
    shown = list(numbers(answer))
    assert not [each for each in sums if pytest.approx(each, rel=1e-6) in shown]
    # Means are what may be added: stage 1 and, weighted by its chance, stage 2.
    stage_2 = stages["stage_2"]["probability"] * stages["stage_2"]["mean"]
    assert stages["stage_1"]["mean"] + stage_2 == pytest.approx(answer["answer"]["expected_cost"])


def test_mistake_9_every_answer_is_a_limit_in_runs_days_and_money() -> None:
    answer = answered(read(SCENARIO_A))
    said = spaced(answer)
    # published: 3 steps, 4.3 days, planned 289,000; 499,510 against 569,682 to the end
    assert "FISH ON: at most 3 more runs, about 4.3 days" in said
    assert "By days: start no run at or after day" in said
    assert answer.stage_1.planned == pytest.approx(289_000, abs=500)
    for row, cost in ((answer.limit, 499_510), (answer.by_runs[-1], 569_682)):
        assert row.expected_cost == pytest.approx(cost, abs=4 * row.standard_error + DOLLAR)


def test_mistake_9_limit_reached_says_stop_though_runs_are_left() -> None:
    raw = read(SCENARIO_A)
    assert answered(raw, failed(2, cost=0.0)).best == 1
    after = answered(raw, failed(3, cost=0.0))
    assert (after.best, len(after.ahead)) == (0, 2)
    assert text(after).startswith("STOP FISHING: 0 more runs")
    assert "LEFT: 0 runs, 0.0 days of the limit." in spaced(after)


def test_mistake_10_part_is_no_success_and_is_valued_by_the_foot() -> None:
    odds = {"recovered": 0.3, "part": 0.7}
    none, ten = (answered(lump_job(odds, part_length=feet)).by_runs[1] for feet in (0.0, 10.0))
    assert none.probability_recovered == pytest.approx(0.3)
    assert ten.probability_recovered == pytest.approx(0.3)
    # independent: 10 ft out of a fish worth 40,000 over 400 ft, 7 in 10 times
    assert none.expected_cost - ten.expected_cost == pytest.approx(0.7 * 10 * 100)


def test_mistake_11_lost_string_is_a_second_fish_on_top() -> None:
    row = answered(read(SCENARIO_A)).fallbacks.rows[0]
    assert row.now == pytest.approx(713_532, abs=DOLLAR)  # published
    assert row.after_string_lost == pytest.approx(834_207, abs=DOLLAR)  # published


def test_mistake_12_the_wait_for_a_vote_is_priced_and_the_second_stage_asked_for_now() -> None:
    raw = read(A)
    on_all_days = answered({**raw, "limits": {**raw["limits"], "response_days": "calendar"}})
    assert on_all_days.authority.response_hours == 48
    # published: a vote of 48 h costs 106,000 with the rig standing
    assert on_all_days.authority.waiting_cost == pytest.approx(106_000)
    said = spaced(on_all_days)
    assert "To wait 48 h for a vote with the rig standing costs 106 thousand USD" in said
    answer = answered(raw)
    # by hand: asked on a Saturday at 06:00, 18 h of it, Sunday and two working days
    assert answer.authority.waiting_cost == pytest.approx(90 / 24 * 53_000)
    said = "To wait 90 h (48 h on working days) for a vote with the rig standing costs 199 thousand"
    assert said in spaced(answer)
    assert "Stage 2, then the fallback: needed with 31 % chance" in spaced(answer)  # published


def test_mistake_13_every_branch_ends_at_the_depth_where_drilling_stopped() -> None:
    raw = read(SCENARIO_A)
    deeper = changed(raw, well__depth=raw["well"]["depth"] + 100)
    now, then = answered(raw), answered(deeper)
    # independent: 100 ft more to redrill at 36 ft/h, within the same bit; with the fish out the
    # hole is there already
    redrill = 100 / 36 / 24 * SIDETRACK_DAY
    assert then.by_runs[0].expected_cost - now.by_runs[0].expected_cost == pytest.approx(redrill)
    assert then.by_runs[1].cost_if_recovered == pytest.approx(now.by_runs[1].cost_if_recovered)


def test_mistake_14_price_of_the_constraint_is_shown() -> None:
    hopeless = lump_job({"recovered": 0.01, "nothing": 0.99})
    hopeless["fish"]["sealed_source"] = True
    answer = answered(hopeless)
    free, forced = (row.expected_cost for row in answer.by_runs)
    # independent: a day at 24,000, of which the chance of 0.01 saves 190,000: the lump of
    # 100 h and 50,000, and the pieces; no tail is given
    assert forced - free == pytest.approx(24_000 - 0.01 * 190_000)
    assert answer.cost_of_minimum == pytest.approx(forced - free)
    said = spaced(answer)
    assert said.startswith("FISH ON, AS REQUIRED: at most 1 more run")
    assert "1 run must be made (minimum_runs); without that it would cost" in said


def test_mistake_15_odds_of_recovery_and_of_loss_change_with_time() -> None:
    second = {"recovered": 0.5, "nothing": 0.3, "string_lost": 0.2}
    raw = lump_job({"nothing": 1.0}, second)
    raw["run"][1]["string_value"] = 1000
    answers = [
        answered(changed(raw, **keys))
        for keys in (
            {},
            {"fishing__odds_ratio_per_day": 0.5},
            {"fishing__loss_odds_ratio_per_day": 2.0},
        )
    ]
    still, less, lost = (answer.by_runs[2].probability_recovered for answer in answers)
    strings = [dict(answer.quantities[2].strings)[1] / 1000 for answer in answers]
    assert still == pytest.approx(0.5)
    # independent: a day has passed; odds of 1 to 1 become 1 to 2
    assert less == pytest.approx(1 / 3)
    # independent: odds of loss of 1 to 4 become 2 to 4, a chance of 1/3, which `nothing` gives
    assert lost == pytest.approx(0.5)
    assert strings == pytest.approx([0.2, 0.2, 1 / 3])


def test_mistake_16_each_tool_is_priced_against_carrying_it() -> None:
    answer = econ.answer(econ.load(D, ["draws.n=16"]))
    jar, overshot, wash = answer.contracts
    assert jar.now_or_later is not None
    assert wash.now_or_later is not None
    assert overshot.now_or_later is None  # on location
    # The jar comes while the first run is made, else the rig waits; the wash pipe is beyond the
    # limit. Independent: the wash pipe called in case costs mobilization and minimum days.
    assert jar.now_or_later.value < 0
    assert wash.now_or_later.value == pytest.approx(16_000 + 4 * 1_500)
    assert "called now it is 22,000 dearer than with its run" in spaced(answer)


def test_mistake_17_insurance_enters_no_comparison() -> None:
    raw = read(A)
    policy = {"chance": 0.6, "amount": 300_000}
    bare, insured = (document(answered(each)) for each in (raw, changed(raw, insurance=policy)))
    assert bare.pop("insurance") is None
    assert insured.pop("insurance")["expected"] == pytest.approx(180_000)
    assert insured == bare
    assert "BELOW THE LINE: insurance may pay" in spaced(answered(changed(raw, insurance=policy)))


def test_mistake_18_kickoff_follows_the_fish_top_and_the_rock() -> None:
    raw = read(SCENARIO_A)
    fallback = "fallback__1__competent"
    free, above, at = (
        answered(each).prices.foot_of_fish_top
        for each in (
            raw,
            changed(raw, **{fallback: [[5_000.0, 10_900.0]]}),
            changed(raw, **{fallback: [[5_000.0, 11_000.0]]}),
        )
    )
    assert free == pytest.approx(223, abs=0.5)  # published: redrill and pieces
    assert at == pytest.approx(free)  # the kick-off, 10,950 ft, is in good rock already
    assert above == pytest.approx(150)  # published: pieces alone, the kick-off stays where it is
    high = answered(changed(raw, **{fallback: [[5_000.0, 10_900.0]]}))
    assert high.by_runs[0].expected_cost > answered(raw).by_runs[0].expected_cost


def test_mistake_19_odds_stand_beside_those_that_are_needed() -> None:
    answer = answered(read(SCENARIO_A))
    needed = [run.break_even_odds for run in answer.ahead]
    # published: break-even odds of the five runs
    assert needed == pytest.approx([0.139, 0.249, 0.144, 0.354, 0.399], abs=0.000501)
    assert "Odds 0.47 against break-even 0.14." in spaced(answer)
    assert answer.information.least_workable == pytest.approx(0.206, abs=0.0005)  # published


def test_mistake_20_mechanism_is_asked_for() -> None:
    assert Scenario.model_validate(read(A)).fish.mechanism == "parted"
    raw = read(A)
    del raw["fish"]["mechanism"]
    notes = document(answered(raw))["notes"]
    assert [note for note in notes if note.startswith("averaging over mechanisms: ")]
