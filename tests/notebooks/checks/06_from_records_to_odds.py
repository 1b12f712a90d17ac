# Checks of 06_from_records_to_odds: each runs after the cell of its name.

# %% endings
endings = found.endings
assert len(runs) == 440  # self: the invented set
assert sum(endings.values()) == runs["job"].nunique() == 180
assert endings["stopped"] == 48

# %% typed
# by hand: the kind of P-2, the outcome of P-3, both rows of P-5; and the date of P-4 alone
assert [each.row for each in by_hand.rejected if each.whole_row] == [4, 5, 7, 8]
assert taken == ["P-1", "P-4"]

# %% rates
for each in found.counts.by_kind:
    # published: E.B. Wilson, J. Am. Stat. Assoc. 22 (1927)
    share, z = each.share, 1.959964
    p, n = share.rate, share.cases
    middle = (p + z**2 / (2 * n)) / (1 + z**2 / n)
    half = z / (1 + z**2 / n) * (p * (1 - p) / n + z**2 / (4 * n**2)) ** 0.5
    shown = econ.wilson_interval(successes=share.successes, cases=share.cases)
    assert all(
        abs(own - other) < 1e-6
        for own, other in zip(shown, (middle - half, middle + half), strict=True)
    )
rare_count = next(each.share for each in found.counts.by_kind if each.kind == "taper_tap")
assert (rare_count.successes, rare_count.cases) == (1, 13)
assert [round(end, 2) for end in rare_count.wilson] == [0.01, 0.33]

# %% pooled
rare, often = found.pooled.kinds[-1], found.pooled.kinds[0]
assert rare.recovered / rare.runs < rare.mean < found.pooled.mean
assert abs(often.mean - often.recovered / often.runs) < 0.01
assert rare.weight < 40  # self: a rare kind stays uncertain
assert all(each.weight < each.runs for each in found.pooled.kinds)  # as the text says
assert round(found.pooled.mean, 2) == 0.25  # one in four
assert round(1 / rare.planned) == 7  # one in seven

# %% six
SIX = """job,run,kind,outcome,hours,job_end
A,1,overshot,recovered,20,recovered
B,1,overshot,nothing,30,economics
C,1,overshot,recovered,40,recovered
D,1,overshot,recovered,50,recovered
E,1,overshot,nothing,60,economics
F,1,overshot,recovered,80,recovered
"""
# independent: the program reads the six as past jobs
curve = econ.odds(econ.parse_records(SIX)).times
assert list(curve.hours) == [20, 40, 50, 80]
assert all(abs(own - other) < 1e-12 for own, other in zip(hand, curve.still_in, strict=True))
assert round(100 * hand[2]) == 42

# %% three-ways-worked
as_failed, thrown_out, censored = ways.values()
assert as_failed < censored < thrown_out
assert abs(as_failed - last["hours_after"][out].count() / 180) < 1e-12

# %% sorting
import sys

sys.path.insert(0, str(FILE.parent))
from invent import TRUTH

assert TRUTH["workable"] == 0.65
for chance, each in zip(sorting, found.counts.by_run, strict=False):
    low, high = each.share.wilson
    assert low < chance < high  # independent: the truth that the set was drawn from
for each in found.counts.by_kind:  # all rates lie below the truth of a first run
    w, s = TRUTH[each.kind]
    assert each.share.rate < 0.65 * w + 0.35 * s
assert found.counts.by_run[0].share.cases == 180
assert rates[0] > 2 * rates[2] > 0
assert round(sorting[0], 2) == 0.40

# %% kinds
assert fish.told_apart
# independent: the truth planted by invent.py lies in every one of the nine 95 % intervals
frame = fish.to_frame()
true = [TRUTH["workable"]]
for kind in fish.kinds:
    true += TRUTH[kind]
assert len(true) == 9
assert all(low < t < high for low, t, high in zip(frame["low"], true, frame["high"], strict=True))
assert 0.5 < fish.workable.mean < 0.6

# %% kinds-said
assert 0.6 < 0.95**9 < 0.65  # by hand

# %% thin-worked
assert width[15] > width[60] > width[180]

# %% blend-worked
# the file holds six digits
assert abs(blended.fishing.workable.mean - mixed) < 1e-5  # by hand
assert judged.run[2].kind == "wall_hook"
assert judged.run[2].odds_by_kind()[0].recovered == blended.run[2].odds_by_kind()[0].recovered

# %% decision
assert alone.best == 3
assert together.best < alone.best
assert together.ahead[0].odds < alone.ahead[0].odds
assert costs[1] > costs[0]

# %% ends-worked
assert ends["low end"] < ends["high end"]
assert ends["low end"] <= ends["truth"] <= ends["high end"]  # independent: the planted share
assert ends["truth"] > together.best

# %% brier
calibration = found.calibration
# published: G.W. Brier, Monthly Weather Review 78 (1950), the mean above
assert abs(calibration.brier - brier) < 1e-12
assert abs(calibration.brier_of_share - overall * (1 - overall)) < 1e-12
assert len(said) == 332
assert round(100 * sum(said) / len(said)) == 53

# %% by-run
by_run = stated.groupby("run")["stated_odds"].mean()
assert abs(by_run[1] - by_run[4]) < 0.06  # run 4 is stated like run 1

# %% answers-1
assert abs(high - 1.959964**2 / (3 + 1.959964**2)) < 1e-6  # by hand: z2/(n + z2)
assert econ.beta_posterior_mean(successes=0, cases=3) == 1 / 5
program = econ.odds(econ.parse_records(SIX + "G,1,overshot,nothing,45,economics\n")).times
assert all(abs(own - other) < 1e-12 for own, other in zip(seven, program.still_in, strict=True))
assert overall * (1 - overall) < 0.25 < brier
assert found.counts.by_run[0].stopped == 10  # self
assert pretended < second.rate
