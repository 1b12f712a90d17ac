# Checks of 10_what_few_cases_say: each runs after the cell of its name.

# %% share-worked
assert (len(FREE), len(NOT_FREE)) == (9, 2)  # published: the field release, as counted
# by hand, E.B. Wilson, J. Am. Stat. Assoc. 22 (1927)
for successes, cases, ends in ((9, 11, (low, high)), (2, 8, (plug_low, plug_high))):
    z, p = 1.959964, successes / cases
    middle = (p + z * z / (2 * cases)) / (1 + z * z / cases)
    half = z / (1 + z * z / cases) * (p * (1 - p) / cases + z * z / (4 * cases**2)) ** 0.5
    assert abs(middle - half - ends[0]) < 1e-6
    assert abs(middle + half - ends[1]) < 1e-6
assert (round(low, 2), round(high, 2)) == (0.52, 0.95)
assert (round(plug_low, 2), round(plug_high, 2)) == (0.07, 0.59)

# %% share-said
from econ.scenario.fallbacks import Sidetrack

assert Sidetrack.model_fields["kickoff_failure"].default == 0.25
assert plug_low < 0.10 < 0.50 < plug_high

# %% teacher-share
assert 0.40 < high - low < 0.45

# %% more-worked
assert round(enough) == 227  # by hand
ends = econ.wilson_interval(successes=round(0.82 * 227), cases=227)
assert 0.045 < (ends[1] - ends[0]) / 2 < 0.055

# %% hours-worked
# by hand: nobody is given up before 5 h, so the shares are those of eleven
assert [round(11 * share) for _, share in curve] == [11, 9, 7, 5, 4, 3, 2]
# independent: the program reads the same cases as past jobs
rows = [f"S{n},1,work_jar,recovered,{hour},recovered" for n, hour in enumerate(FREE)]
rows += [f"G{n},1,work_jar,nothing,{hour},economics" for n, hour in enumerate(NOT_FREE)]
table = "\n".join(["job,run,kind,outcome,hours,job_end", *rows]) + "\n"
times = econ.odds(econ.parse_records(table)).times
assert all(
    abs(own - other) < 1e-9
    for own, other in zip([share for _, share in curve[1:]], times.still_in, strict=False)
)

# %% hours-said
assert round(11 * dict(curve)[3]) == 5

# %% cannot-worked
assert pairs == 28  # by hand: pairs out of eight
assert round(later, 2) == 0.28  # by hand: 0.72 to the power of 9 is 0.05
assert abs((1 - 0.28) ** 9 - 0.05) < 0.003

# %% decide-worked
assert all(found.saving.value > 1_000_000 for found in at.values())
assert min(found.best for found in at.values()) >= 4
assert at[0.82].best == 6
assert abs(econ.load(STUCK).doubt[0].workable - 0.82) < 1e-9

# %% answers-1
assert (round(none[0], 2), round(none[1], 2)) == (0.0, 0.66)
assert (round(freed(5), 2), round(freed(12), 2)) == (0.70, 0.81)  # by hand
assert round(next_three, 2) == 0.27  # by hand: (0.782 - 0.700) / 0.300
assert own == econ.beta_posterior_mean(successes=3, cases=3)
assert pooled == econ.beta_posterior_mean(successes=12, cases=14)
