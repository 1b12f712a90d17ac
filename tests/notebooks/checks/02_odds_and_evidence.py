# Checks of 02_odds_and_evidence: each runs after the cell of its name.

# %% mixed
assert prior == 0.7
assert abs(sum(mixed.values()) - 1) < 1e-12
assert abs(mixed["recovered"] - 0.471) < 1e-9  # independent: the worked table of scenario A
assert abs(mixed["recovered"] - answer.ahead[0].odds) < 1e-9
# the range of `econ methods`, and the odds of this file inside it
frame = econ.methods(job).to_frame()
overshot = frame[frame.index == "overshot"].iloc[0]
assert (round(overshot["whole_low"], 2), round(overshot["whole_high"], 2)) == (0.31, 0.52)
assert overshot["whole_low"] < mixed["recovered"] < overshot["whole_high"]

# %% thousand-count
assert (workable.nothing, stubborn.nothing) == (0.22, 0.72)
assert round(belief, 2) == 0.42  # independent: the notes of scenario A, 0.70 -> 0.42
assert abs(belief - answer.ahead[1].workable) < 1e-9

# %% fall
# independent: the worked table of scenario A, odds of `recovered` after nothing but nothing
table = [0.471, 0.299, 0.173, 0.112, 0.065]
assert all(abs(step[2] - odds) < 0.0006 for step, odds in zip(steps, table, strict=True))
for step, row in zip(steps, answer.ahead, strict=True):
    assert abs(step[1] - row.workable) < 1e-9
    assert abs(step[2] - row.odds) < 1e-9
# the table of the text is that of the file
kinds_of_runs = [run.odds_by_kind() for run in job.run]
assert [w.recovered for w, _ in kinds_of_runs] == [0.66, 0.62, 0.54, 0.48, 0.40]
assert [s.recovered for _, s in kinds_of_runs] == [0.03, 0.07, 0.08, 0.07, 0.05]
assert [w.nothing for w, _ in kinds_of_runs] == [0.22, 0.26, 0.35, 0.25, 0.31]
assert [s.nothing for _, s in kinds_of_runs] == [0.72, 0.73, 0.78, 0.62, 0.64]

# %% held
assert job.run[0].odds_by_kind()[0].recovered == 0.66
assert w.recovered == 0.40
assert abs(held - 0.295) < 1e-9  # by hand: 0.7 x 0.40 + 0.3 x 0.05
assert round(steps[4][1], 2) == 0.04
# by hand: the stated odds alone take 0.471 to 0.295, the belief takes 0.295 to 0.065
assert steps[0][2] - held < held - steps[4][2]

# %% outcomes-told
for name, times, told in (("nothing", 3.3, 0.42), ("top_damaged", 2.6, 0.47), ("part", 1.6, 0.59)):
    w, s = getattr(workable, name), getattr(stubborn, name)
    assert round(s / w, 1) == times
    after = prior * w / (prior * w + (1 - prior) * s)
    assert round(after, 2) == told
    state = next(each for each in answer.rule.states if each.history == (name,))
    assert abs(state.workable - after) < 1e-9

# %% need-simple
# independent: derived numbers of the worked table of scenario A
assert F - S == 591_207
assert round(answer.ahead[0].cost) == C
assert round(answer.fallbacks.rows[0].now) == F
# hours, half of the fishing day, tool service
assert S == 34 / 24 * (53_000 + 0.5 * 7_400) + 42_000

# %% need-by-hand
assert round(F_string) == 834_207  # independent: the worked table
assert abs(F_hole - 1_570_210) < 1  # independent: the worked table
# by hand the trips of a sidetrack that leaves 60 ft deeper are left out: some 200 USD
assert abs(need - answer.ahead[0].break_even_odds) < 0.0005
# independent: the worked table has 0.139, because it counts recovered pipe at one value a foot,
# and leaves that a part saves 60 x 223 = 13,400 only
flat = need + mixed["part"] * (saved_by_part - 60 * 223) / (F - S)
assert round(flat, 3) == 0.139
lengths = [piece.length for piece in job.fish.piece]
assert sum(lengths[:2]) == 48  # stub and jar
assert round(sum(lengths[:2]) + 524 / 17) == 79  # and one of the 17 collars
assert job.run[0].part_length == 60

# %% gap
told = [(round(row.odds, 2), round(row.break_even_odds, 2)) for row in answer.ahead]
assert [told[0], told[2], told[3]] == [(0.47, 0.14), (0.17, 0.14), (0.11, 0.35)]

# %% crew-cost
assert (answer.best, crew.best) == (3, 4)
assert 33_000 < loss < 33_500
# independent: the worked table has 532,912 - 499,510 = 33,402 for four runs against three
assert abs(loss - 33_402) < 300
assert 105_000 < surprise < 106_500
# to the crew three and four runs cost the same, well within 2 %
assert 3 in crew.flat
assert 4 in crew.flat
assert abs(crew.by_runs[4].expected_cost - crew.by_runs[3].expected_cost) < 0.002 * 425_000
assert 3 < surprise / loss < 3.3  # "three times as much"
assert round(crew.limit.expected_cost, -3) == 425_000
assert round(answer.by_runs[4].expected_cost, -3) == 531_000

# %% wilson
assert round(low, 3) == 0.590  # published counts; interval recomputed
assert round(high, 3) == 0.938
assert econ.beta_posterior_mean(successes=14, cases=17) == 15 / 19

# %% answers-1
assert abs(positive - 0.5625) < 1e-9  # published: a course solution, P(oil | positive)
assert round(negative, 4) == 0.9423  # published: the same, P(none | negative)
half = econ.answer(econ.load(FILE, ["fishing.workable=0.5"]))
assert abs(odds / (1 + odds) - half.ahead[2].workable) < 1e-9
assert [round(each, 2) for each in five] == [0.47, 0.29, 0.14, 0.07, 0.04]  # self
assert max(needs.values()) - min(needs.values()) < 0.003  # it hardly matters
assert needs[48] > needs[60] > needs[79]
for w, s in ((0.56, 0.263), (0.66, 0.03), (0.471, 0.471)):
    assert abs(0.7 * w + 0.3 * s - 0.471) < 0.0005  # the first run keeps its odds
assert list(once.values()) == sorted(once.values())
# published (property): J.L. Smith, The Option to Drill Again, 2005: with the chance of the first
# trial fixed, value falls as dependence rises. The same through the program, on single numbers.
two_equal = []
for w, s in ((0.56, 0.263), (0.66, 0.03)):
    kinds = (f"{{recovered={p}, nothing={1 - p}}}" for p in (w, s))
    odds_of_both = "{{workable={}, stubborn={}}}".format(*kinds)
    same = [f"run.{n}.odds={odds_of_both}" for n in (1, 2)]
    two_equal.append(econ.answer(econ.load(FILE, same)).by_runs[2].expected_cost)
assert two_equal[1] > two_equal[0]
