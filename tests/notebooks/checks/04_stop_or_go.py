# Checks of 04_stop_or_go: each runs after the cell of its name.

# %% belief-by-hand
# by hand, in fractions: 0.24/0.42 = 4/7 and 0.06/0.26 = 3/13
assert abs(after("nothing", prior) - 4 / 7) < 1e-12
assert abs(after("top damaged", prior) - 3 / 13) < 1e-12
assert [round(p, 2) for p in second.values()] == [0.31, 0.15]

# %% root
# by hand: 60 + 0.32 x 100 + 0.42 x 506.43 + 0.26 x 583.08
assert abs(cheap.value - 456.3) < 0.01
assert [way[0] for way in cheap.ways] == ["go", "stop"]

# %% rule
assert [round(limit(90, runs), 1) for runs in range(3)] == [600, 530, 506.7]  # by hand
assert round(dear.value, 1) == 503.3  # by hand
assert [round(limit(60, runs), 1) for runs in range(3)] == [600, 500, 456.3]  # by hand
assert dear.value < limit(90, 2)

# %% small-job
for each in found.by_runs:
    error = each.expected_cost - limit(90, each.runs)
    assert abs(error) < max(4 * each.standard_error, 1e-9)
assert abs(found.rule_cost.value - dear.value) < max(4 * found.rule_cost.error, 1e-9)
goes = {state.history: state.go for state in found.rule.states if len(state.history) < 2}
assert goes == {(): True, ("nothing",): True, ("top_damaged",): False}
cheaper = econ.answer(econ.parse(JOB + 2 * RUN.replace("hours = 90", "hours = 60")))
assert abs(cheaper.rule_cost.value - cheap.value) < max(4 * cheaper.rule_cost.error, 1e-9)
assert round(limit(90, 2)) == 507
assert round(limit(90, 2) - dear.value) == 3

# %% prepare
assert abs(together - 155) < 1e-9  # by hand


# published: the theorem, in 59 cases of falling odds: looking one ahead stops where backward
# induction stops
def stops(odds: list[float], cost: float, saved: float) -> tuple[int, int]:
    worth = [0.0] * (len(odds) + 1)
    for k in range(len(odds) - 1, -1, -1):
        worth[k] = max(0.0, odds[k] * saved - cost + (1 - odds[k]) * worth[k + 1])
    back = next((k for k in range(len(odds)) if worth[k] == 0.0), len(odds))
    look = next((k for k in range(len(odds)) if odds[k] * saved <= cost), len(odds))
    return back, look


falling = [stops([0.47, 0.30, 0.14, 0.07, 0.04], cost, 500) for cost in range(5, 300, 5)]
assert len(falling) == 59
assert all(one == other for one, other in falling)
assert stops([0.0, 0.55, 0.10], 60, 500) == (2, 0)

# %% dressed
first, both = dressed.ahead[0], dressed.by_runs
assert first.odds < first.break_even_odds
assert both[0].expected_cost < both[1].expected_cost  # one run and then stop loses
assert dressed.saving.value > 0
assert dressed.best == 2

# %% order
a = econ.answer(econ.load(A))
assert a.rule.gain == 0.0  # independent: the check model finds no gain of a full dynamic program
assert search.best.runs[:2] == (1, 3)  # independent: the notes of scenario A, best order [1, 3]
assert search.gain.value > 5_000
assert search.exact
assert round(search.listed.expected_cost, -2) == 497_500
assert abs(search.listed.expected_cost - a.limit.expected_cost) < 4 * a.limit.standard_error

# %% answers-1
assert abs(second["top damaged"] * (F - S) - 76.9) < 0.05  # by hand: 2/13 x 500
assert stops([0.0, 0.241, 0.1], 60, 500)[0] == 2
assert stops([0.0, 0.239, 0.1], 60, 500)[0] == 0
# by hand: 120 + 0.32 x 100 + 0.42 (120 + 100 p + 600 (1 - p)), p = 43/140, + 0.26 x 600
assert abs(third.value - (152 + 0.42 * (720 - 500 * 43 / 140) + 156)) < 1e-9
assert third.best == "go"
assert abs(bound.limit.expected_cost - limit(90, 2)) < 4 * bound.limit.standard_error + 1e-9
assert round(limit(90, 2) - dear.value, 1) == 3.4
assert abs(program.rule_cost.value - three.value) < 4 * program.rule_cost.error + 1e-9
assert three.value < dear.value
