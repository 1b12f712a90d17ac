# Checks of 08_class_exercise: each runs after the cell of its name.

# %% says-1
assert go_on(MORNINGS[0]) < MORNINGS[0].by_runs[0].expected_cost
assert abs(MORNINGS[0].ahead[0].odds - 0.471) < 0.002  # independent: worked table, 0.471

# %% says-2
assert go_on(MORNINGS[1]) < MORNINGS[1].by_runs[0].expected_cost
assert abs(MORNINGS[1].ahead[0].workable - 0.42) < 0.01  # by hand in notebook 2

# %% left
# by hand: stub, jar and 31 ft of the collars are out; the prose has 335,000 and "three pieces"
assert sum(piece.value for piece in FISH) == 335_000
assert LOG[1].fish_top - 11_180 == 18 + 30 + 31

# %% says-3
# by hand: Bayes on the chances of nothing in run 1 and of a part in run 2
ratio = 0.70 / 0.30 * (0.22 / 0.72) * (0.06 / 0.12)
assert abs(MORNINGS[2].ahead[0].workable - ratio / (1 + ratio)) < 0.001
assert 0 < go_on(MORNINGS[2]) < MORNINGS[2].by_runs[0].expected_cost

# %% part
assert round(first - third, -3) == 44_000  # "by 44 thousand" in the answers

# %% says-4
assert go_on(MORNINGS[3]) - MORNINGS[3].by_runs[0].expected_cost > 100_000

# %% teams
made, known, late = regrets(TEAMS["the better choice, every morning"])
assert known == 0.0  # independent of the envelope: that is what the better choice is
assert late > 300_000  # and yet the hindsight is bitter
made, known, late = regrets(TEAMS["just one more"])
assert known > 100_000  # here the wrong decision
assert late == 0.0  # came out best
# A mistyped word and a blank morning score nothing.
team_before = dict(team)
for word in ("stopp", "", "GOO"):
    decide(2, word)
    assert 2 not in team
    assert regrets(team) is None
    program_says(2)
team.update(team_before)
decide(4, " Stop ")
assert regrets(team) == regrets(TEAMS["the better choice, every morning"])

# %% thousand-times
mixed = recovered * one_more.cost_if_recovered + (1 - recovered) * one_more.cost_if_fallback
assert abs(mixed - one_more.expected_cost) < 1
assert abs(recovered - 1 / 9) < 0.005  # "about one in nine"

# %% other-end
assert [row.outcome for row in OTHER[:3]] == [row.outcome for row in LOG[:3]]
assert other_end > totals[3]

# %% depth
assert MORNINGS[0].best == 3  # "three runs at most"

# %% sunk
assert free.by_runs == MORNINGS[3].by_runs  # not one number changes if the runs had been free
assert MORNINGS[3].spent == 297_000
# "a part comes twice as often from a stubborn fish"; by hand from the file
workable, stubborn = job.run[1].odds_by_kind()
assert stubborn.part / workable.part == 2
assert [round(answer.ahead[0].workable, 2) for answer in MORNINGS[1:3]] == [0.42, 0.26]
