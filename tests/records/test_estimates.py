"""Counts, curves, pooling, effects and calibration against libraries, publications and loops.

Origins: check value 6, 14 of 17 (published: Dupriest, Elks, Ottesen, IADC/SPE 128129, 2010, its
interval recomputed); statsmodels (independent); integration in the tests
(independent, slow). The invented demo set has a truth that is stated in its script.
"""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest
from made import DEMO, demo_script, jobs, table
from scipy import optimize, special, stats
from statsmodels.discrete.discrete_model import Logit
from statsmodels.duration.survfunc import CumIncidenceRight, SurvfuncRight
from statsmodels.stats.proportion import proportion_confint

from econ.records import beta_interval, odds, read_records, wilson_interval
from econ.records.counts import Share, count
from econ.records.effects import effects, logistic
from econ.records.fish_kinds import fish_kinds
from econ.records.honesty import calibration, leave_one_out
from econ.records.pooling import height, peak, pool
from econ.records.records import LOST, RECOVERED, Records
from econ.records.recovery_time import recovery_times
from econ.records.trade import APART, LIGHT, in_one_table
from econ.records.two_kinds import LIMIT
from econ.scenario.program import OUTCOMES


@pytest.fixture(scope="module")
def demo() -> Records:
    return read_records(DEMO)


# ---- proportions -------------------------------------------------------------------------------


def test_check_value_6() -> None:
    share = Share(14, 17)
    assert share.wilson == pytest.approx((0.590, 0.938), abs=5e-4)  # published, recomputed
    assert share.beta_mean == pytest.approx(15 / 19)  # published, recomputed
    assert share.beta == pytest.approx(stats.beta(15, 4).interval(0.95))  # independent


@pytest.mark.parametrize(("k", "n"), [(0, 5), (5, 5), (3, 40), (250, 1000)])
def test_intervals_are_those_of_libraries(k: int, n: int) -> None:
    wilson = wilson_interval(successes=k, cases=n)
    assert wilson == pytest.approx(proportion_confint(k, n, method="wilson"), abs=1e-12)
    mean, weight = (k + 1) / (n + 2), n + 2.0
    beta = stats.beta(k + 1, n - k + 1).interval(0.95)
    assert beta_interval(mean=mean, weight=weight) == pytest.approx(beta, rel=1e-9)


# ---- run by run, and hour by hour -------------------------------------------------------------


def test_hazard_by_run_is_that_of_a_survival_library(demo: Records) -> None:
    """statsmodels, with the number of runs as time and a recovery as the event."""
    runs = demo.run[demo.last]
    library = SurvfuncRight(runs, (demo.ending == RECOVERED).astype(int))
    ours = {each.run: each for each in count(demo).by_run}
    for run, at_risk, events, still in zip(
        library.surv_times, library.n_risk, library.n_events, library.surv_prob, strict=True
    ):
        each = ours[int(run)]
        assert (each.share.cases, each.share.successes) == (at_risk, events)
        assert each.still_in == pytest.approx(still, abs=1e-12)


def test_a_stopped_job_is_no_failure_of_runs_never_made() -> None:
    found = {each.run: each for each in count(jobs("n", "nr", "r", "s", "nn")).by_run}
    assert (found[1].share.successes, found[1].share.cases) == (1, 5)  # by hand
    assert (found[2].share.successes, found[2].share.cases) == (1, 2)
    assert (found[1].stopped, found[1].lost, found[2].stopped) == (1, 1, 1)
    assert found[2].still_in == pytest.approx(0.8 * 0.5)


def test_kaplan_meier_is_that_of_a_survival_library(demo: Records) -> None:
    hours = demo.after[demo.last]
    library = SurvfuncRight(hours, (demo.ending == RECOVERED).astype(int))
    ours = recovery_times(demo)
    at = ours.recovered > 0
    assert ours.hours[at] == pytest.approx(library.surv_times[library.n_events > 0])
    assert ours.still_in[at] == pytest.approx(library.surv_prob[library.n_events > 0], abs=1e-12)
    assert ours.median == library.quantile(0.5)
    greenwood = library.surv_prob_se[library.n_events > 0]
    s = ours.still_in[at]
    half = 1.959964 * greenwood / (s * np.abs(np.log(s)))  # of log(-log S), by hand
    assert ours.low[at] == pytest.approx(s ** np.exp(half), abs=1e-6)
    assert ours.high[at] == pytest.approx(s ** np.exp(-half), abs=1e-6)


def test_share_recovered_counts_losses_as_ends_as_a_library_of_statistics_does(
    demo: Records,
) -> None:
    hours = demo.after[demo.last]
    ours = recovery_times(demo)
    event = np.select([demo.ending == RECOVERED, demo.ending == LOST], [1, 2], 0)
    library = CumIncidenceRight(hours, event)
    last = np.searchsorted(library.times, ours.hours, side="right") - 1
    assert ours.share_recovered == pytest.approx(library.cinc[0][last], abs=1e-12)
    assert ours.share_recovered[-1] < 1 - ours.still_in[-1]  # losses are not recoveries


# ---- pooling -----------------------------------------------------------------------------------


def test_pooled_odds_are_where_a_general_optimizer_finds_them() -> None:
    """SciPy's BFGS on l written out here, with the covariance made by hand."""
    counts = {"overshot": (20, 60), "spear": (4, 30), "magnet": (2, 3)}
    rows, number = [], 0
    for kind, (k, n) in counts.items():
        for place in range(n):
            number += 1
            rows.append(f"J{number},1,{kind},{'recovered' if place < k else 'nothing'}")
    found = {each.kind: each for each in pool(count(table(*rows)), weight=5.0).kinds}
    planned = np.array([0.35, 0.325, 0.275])  # middles of the fair ranges of the catalogue

    def less(at: np.ndarray, alike: float = 0.8, weight: float = 5.0) -> float:
        sd = 1 / np.sqrt(weight * planned * (1 - planned))
        inverse = np.linalg.inv(np.outer(sd, sd) * np.where(np.eye(3) > 0, 1.0, alike))
        logs = sum(
            k * np.log(special.expit(x)) + (n - k) * np.log(special.expit(-x))
            for x, (k, n) in zip(at, counts.values(), strict=True)
        )
        off = at - special.logit(planned)
        return -float(logs - 0.5 * off @ inverse @ off)

    best = optimize.minimize(less, special.logit(planned), options={"gtol": 1e-7})
    light = (0.2, 0.5)  # of intervals: kinds less alike, and the trade half a run
    apart = optimize.minimize(less, special.logit(planned), args=light, options={"gtol": 1e-7})
    for place, kind in enumerate(counts):
        each = found[kind]
        assert each.mean == pytest.approx(float(special.expit(best.x[place])), abs=1e-5)
        for end in (each.low, each.high):
            held = special.logit(end)
            rest = optimize.minimize(
                lambda free, place=place, held=held: less(np.insert(free, place, held), *light),
                np.delete(apart.x, place),
            )
            assert 2 * (rest.fun - apart.fun) == pytest.approx(3.841459, abs=0.01)
        wide = beta_interval(mean=each.mean, weight=each.weight)
        assert wide[0] <= each.low + 1e-6
        assert wide[1] >= each.high - 1e-6


def test_a_kind_with_three_runs_is_not_taken_at_face_value() -> None:
    rows = [f"A{n},1,overshot,{'recovered' if n % 4 == 0 else 'nothing'}" for n in range(80)]
    rows += [f"B{n},1,spear,{'recovered' if n % 4 == 0 else 'nothing'}" for n in range(60)]
    rows += [f"C{n},1,magnet,recovered" for n in range(3)]
    found = {each.kind: each for each in pool(count(table(*rows)), weight=5.0).kinds}
    assert found["magnet"].mean < 0.75  # not 3/3, nor the 4/5 of a uniform prior
    assert found["magnet"].mean > found["overshot"].mean
    assert found["overshot"].mean == pytest.approx(0.25, abs=0.02)
    assert found["magnet"].weight < 12 < 55 < found["overshot"].weight


def test_odds_on_all_fish_cover_the_truth_in_200_records_of_one_kind_of_fish() -> None:
    """Intervals and the Betas of the weights, of common kinds of run and of a rare one that is not
    like them: no fewer than a binomial of 0.95 gives in 999 of 1,000."""
    truth = {"overshot": (0.42, 40), "spear": (0.30, 20), "magnet": (0.08, 6)}
    chances, made = (np.array(each, dtype=float) for each in zip(*truth.values(), strict=True))
    prior = in_one_table(list(truth), LIGHT, common=APART)
    rng = np.random.default_rng(9)
    covered = np.zeros(3)
    for number in range(200):
        won = rng.binomial(made.astype(int), chances).astype(float)
        at = peak(won, made, prior)
        within = np.zeros(3, dtype=bool)
        for place, chance in enumerate(chances):
            start = at.copy()
            start[place] = special.logit(chance)
            there = peak(won, made, prior, start=start, held=place)
            drop = height(won, made, prior, at) - height(won, made, prior, there)
            within[place] = 2 * drop <= LIMIT
        covered += within
        if number % 10:
            continue
        rows = [
            f"{kind}{n},1,{kind},{'recovered' if n < k else 'nothing'}"
            for kind, k, runs in zip(truth, won, made, strict=True)
            for n in range(int(runs))
        ]
        for each, inside, chance in zip(
            pool(count(table(*rows)), weight=5.0).kinds, within, chances, strict=True
        ):
            low, high = beta_interval(mean=each.mean, weight=each.weight)
            assert (each.low <= chance <= each.high) or not inside
            assert low <= each.low + 1e-6
            assert high >= each.high - 1e-6
    least = stats.binom.ppf(0.001, 200, 0.95)
    assert (covered >= least).all(), covered


@pytest.mark.parametrize(("won", "made"), [(0, 10), (0, 30), (30, 30), (10, 10), (1, 1)])
def test_none_and_all_are_not_overclaimed(won: int, made: int) -> None:
    """No end of an interval, and none of a weight's Beta, lies nearer to the rate than Wilson's."""
    rows = [f"J{n},1,overshot,{'recovered' if n < won else 'nothing'}" for n in range(made)]
    found = odds(table(*rows))
    wilson = wilson_interval(successes=won, cases=made)
    (each,) = found.pooled.kinds
    beta = beta_interval(mean=each.mean, weight=each.weight)
    for low, high in ((each.low, each.high), beta):
        if won == 0:
            assert high >= wilson[1] - 1e-9
        else:
            assert low <= wilson[0] + 1e-9


# ---- effects -----------------------------------------------------------------------------------


def test_logistic_regression_and_its_error_by_jobs_are_those_of_statsmodels() -> None:
    rng = np.random.default_rng(8)
    n = 400
    design = np.column_stack([np.ones(n), rng.random(n) < 0.4, rng.gamma(2, 2, n)]).astype(float)
    cluster = np.repeat(np.arange(n // 4), 4)
    shift = rng.normal(0, 1, n // 4)[cluster]
    success = rng.random(n) < special.expit(design @ [0.4, -0.7, -0.2] + shift)
    ours = logistic(design, success, cluster)
    fitted = Logit(success.astype(float), design).fit(
        disp=0, cov_type="cluster", cov_kwds={"groups": cluster}
    )
    assert ours.coefficients == pytest.approx(fitted.params, rel=1e-6)
    assert ours.errors == pytest.approx(fitted.bse, rel=1e-6)


def test_odds_ratios_of_records_are_those_of_statsmodels(demo: Records) -> None:
    """The design is made anew from the rows of the file, by another route: data frames."""
    rows = pd.read_csv(DEMO).sort_values(["job", "run"])
    rows["start"] = pd.to_datetime(rows["start"])
    rows["days"] = (
        rows["start"] - rows.groupby("job")["start"].transform("first")
    ).dt.total_seconds() / 86_400
    rows["repeat"] = rows.duplicated(["job", "kind"]).astype(float)
    found = {each.name: each for each in effects(demo).found}
    design = pd.DataFrame(
        {kind: (rows["kind"] == kind).astype(float) for kind in ("overshot", "spear")}
    )
    design["wash"] = (rows["kind"] == "wash_then_catch").astype(float)
    design["rest"] = (rows["kind"] == "taper_tap").astype(float)  # one recovery: a column of rest
    names = {"repeat of a kind of run": "repeat", "each day elapsed": "days"}
    design["repeat"], design["days"] = rows["repeat"], rows["days"]
    for cause in ("differential", "packed_off", "key_seat"):
        names[f"mechanism {cause}"] = cause
        design[cause] = (rows["mechanism"] == cause).astype(float)
    assert set(found) == set(names)
    fitted = Logit((rows["outcome"] == "recovered").astype(float), design).fit(
        disp=0, cov_type="cluster", cov_kwds={"groups": pd.factorize(rows["job"])[0]}
    )
    ends = fitted.conf_int(0.05)
    for name, column in names.items():
        each = found[name]
        assert each.ratio == pytest.approx(np.exp(fitted.params[column]), rel=1e-6)
        low, high = np.exp(ends.loc[column])
        assert (each.low, each.high) == pytest.approx((low, high), rel=1e-5)


def test_effects_are_left_out_where_the_data_do_not_carry_them() -> None:
    few = effects(jobs("nr", "nn", "r"))
    assert few.found == ()
    assert {"repeat of a kind of run", "mechanism"} <= {name for name, _ in few.left_out}
    split = [f"A{n},1,spear,recovered,parted" for n in range(30)]
    split += [f"B{n},1,spear,nothing,junk" for n in range(30)]
    assert effects(table(*split, columns="job,run,kind,outcome,mechanism")).found == ()


def test_a_planted_effect_of_the_mechanism_is_found() -> None:
    rng = np.random.default_rng(2)
    rows = []
    for n in range(600):
        cause = ("parted", "differential")[n % 2]
        came = rng.random() < (0.6 if cause == "parted" else 0.3)
        rows.append(f"J{n},1,spear,{'recovered' if came else 'nothing'},{cause}")
    (found,) = effects(table(*rows, columns="job,run,kind,outcome,mechanism")).found
    truth = 0.3 / 0.7 / (0.6 / 0.4)
    if "parted" in found.name:  # against the commoner one
        truth = 1 / truth
    assert found.low < truth < found.high


# ---- honesty -----------------------------------------------------------------------------------


def test_brier_score_and_reliability_by_hand() -> None:
    found = calibration(
        table(
            *("A,1,spear,recovered,0.9", "B,1,spear,nothing,0.9", "C,1,spear,nothing,0.1"),
            *("D,1,spear,recovered,", "E,1,spear,nothing,1.0"),
            columns="job,run,kind,outcome,stated_odds",
        )
    )
    assert found is not None
    assert found.runs == 4
    assert found.brier == pytest.approx((0.01 + 0.81 + 0.01 + 1.0) / 4)
    assert found.brier_of_share == pytest.approx(0.25 * 0.75)
    assert [(each.low, each.share.cases) for each in found.bins] == [(0.0, 1), (0.8, 3)]


def test_hopeful_odds_of_the_demo_set_are_found_out(demo: Records) -> None:
    found = calibration(demo)
    assert found is not None
    assert demo_script().TRUTH["hopeful"] > 1
    assert found.stated > found.share.wilson[1]
    assert found.brier > found.brier_of_share


def test_one_job_out_equals_the_same_made_by_taking_rows_out() -> None:
    """Independent: each job is taken out of the table, all is estimated anew, and the odds handed
    out are followed through the job by Bayes' rule."""
    letters = ["nr", "nnn", "r", "n", "nr", "nn", "rr"[:1], "nnr"]
    kinds = ("overshot", "spear", "magnet")
    rows = [
        f"J{job},{run},{kinds[(job + run) % 3]},{'recovered' if letter == 'r' else 'nothing'}"
        for job, word in enumerate(letters)
        for run, letter in enumerate(word, start=1)
    ]
    square = log = 0.0
    for job in range(len(letters)):
        rest = odds(table(*(row for row in rows if not row.startswith(f"J{job},")))).fish
        belief = rest.workable.mean
        for row in rows:
            if row.startswith(f"J{job},"):
                _, _, kind, outcome = row.split(",")
                place = rest.kinds.index(kind)
                good, bad = rest.on_workable[place].mean, rest.on_stubborn[place].mean
                p, y = belief * good + (1 - belief) * bad, outcome == "recovered"
                missed = belief * (1 - good), (1 - belief) * (1 - bad)
                belief = missed[0] / sum(missed)  # Bayes
                square += (p - y) ** 2
                log -= np.log(p if y else 1 - p)
    records = table(*rows)
    handed = leave_one_out(records, fish_kinds(records, weight=5.0), weight=5.0).scores[2]
    assert handed.brier == pytest.approx(square / len(rows), abs=1e-6)
    assert handed.log == pytest.approx(log / len(rows), abs=1e-6)


# ---- all together on the demo set --------------------------------------------------------------


def test_demo_set_gives_back_its_truth(demo: Records) -> None:
    truth = demo_script().TRUTH
    found = odds(demo)
    fish = found.fish
    assert fish.told_apart
    assert fish.workable is not None
    assert fish.workable.low < truth["workable"] < fish.workable.high
    for kind, good, bad in zip(fish.kinds, fish.on_workable, fish.on_stubborn, strict=True):
        p, q = truth[kind]
        assert good.low < p < good.high
        assert bad.low < q < bad.high
    assert fish.per_day is not None
    assert not fish.per_day.carried  # truth: elapsed time does nothing
    failures = dict(zip(("nothing", "part", "top_damaged"), truth["failures"], strict=False))
    overshot = found.table("overshot")
    assert overshot is not None
    missed = 1 - overshot.odds[0]
    for name, share in failures.items():
        place = OUTCOMES.index(name)
        low, high = overshot.intervals()[place]
        assert low < share * missed < high


def test_same_records_and_seed_give_the_same(demo: Records) -> None:
    one, other = (odds(demo).to_frame() for _ in range(2))
    assert one.equals(other)


def test_every_result_has_a_frame(demo: Records) -> None:
    found = odds(demo)
    parts = (found, found.records, found.counts, found.times, found.fish, found.pooled)
    more = (found.effects, found.calibration, found.one_out)
    for part in itertools.chain(parts, more):
        assert part is not None
        assert len(part.to_frame()) > 0
