# Checks of 09_what_to_run_next: each runs after the cell of its name.

# %% doubts-by-hand
assert [doubt.workable for doubt in job.doubt] == [0.8, 0.875]
w, s = job.run[0].odds_by_kind()
assert (w.nothing, s.nothing) == (0.22, 0.72)
assert abs(both / nothing - 0.154 / 0.37) < 1e-12  # by hand, as in notebook 2
assert (round(top_good, 2), round(jars_free, 2)) == (0.61, 0.76)

# %% doubts-said
assert round(100 * (0.8 - top_good)) == 19
assert round(100 * (0.875 - jars_free)) == 12

# %% marks-count
assert len(now) == 4  # by hand: all but run 5, which needs the mark of run 4
assert job.run[3].gives == ["washed"]
assert job.run[4].needs == ["washed"]

# %% plan-made
assert round(listed.limit.expected_cost, -2) == 497_500
assert plan.nodes[0].do == 1
after_first = {node.after: node for node in plan.nodes if node.parent == 0}
assert (after_first["nothing"].do, after_first["part"].do, after_first["top_damaged"].do) == (
    3,
    3,
    2,
)
beliefs = {each.doubt: each.chance.value for each in after_first["nothing"].belief}
assert abs(beliefs["top_good"] - top_good) < 1e-9  # by hand above
assert abs(beliefs["jars_free"] - jars_free) < 1e-9
parent = after_first["nothing"].id
second = next(n for n in plan.nodes if n.parent == parent and n.after == "nothing")
assert second.do == "stop"
assert abs(plan.gain.value - (listed.limit.expected_cost - plan.expected_cost.value)) < 100
assert plan.expected_cost.value < 487_831 + 1  # independent: runs 1, 3 and stop, of notebook 4

# %% plan-said
assert round(plan.gain.value, -3) == 14_000
assert round(stop_now - listed.limit.expected_cost, -3) == 216_000

# %% changes-worked
assert first == {0.95: 1, 0.8: 1, 0.5: 1, 0.3: "Caliper at the fish top"}

# %% changes-said
assert job.reading[0].about == "top_good"
assert next(node.do for node in plans[0.3].nodes if node.after == "reads_stubborn") == "stop"

# %% attached-plan
assert jarring == [2, 3, 3, 4]
assert [run.hours for run in stuck.run[:5]] == [2, 3, 3, 4, 8]
assert node.do == 6
odds = [run.odds for run in econ.answer(econ.load(STUCK, ["draws.n=16"])).ahead[:5]]
assert [round(each, 2) for each in odds] == [0.44, 0.47, 0.28, 0.15, 0.05]
# by hand: the odds of the first two hours from notebook 10, 0.82 (1 - exp(-2 / 2.6)) = 0.44
from math import exp

assert abs(0.82 * (1 - exp(-2 / 2.6)) - odds[0]) < 0.003

# %% answers-1
beliefs = {each.doubt: each.chance.value for each in after_first["part"].belief}
assert abs(after_part - beliefs["top_good"]) < 1e-9
assert left == [5, 7]
assert hard[0].do == 3
assert next(node.do for node in hard if node.after == "nothing") == "stop"
assert 8_000 < gains[0] < 9_500  # self
assert 10_000 < gains[1] < 11_500  # self
