# Checks of 07_the_afe_supplement: each runs after the cell of its name.

# %% planned
assert [round(run.cost) for run in answer.ahead[: answer.best]] == [74_967, 134_458, 70_075]
# by hand the fish top stays where it is; after a part the trips are a little longer
assert abs(answer.stage_1.planned - planned - 121) < 1
# independent: the notes of scenario A, stage 1 planned 289 thousand
assert round(answer.stage_1.planned, -3) == 289_000

# %% call
assert abs(call - answer.limit.expected_cost) < 1
# independent: the worked table of scenario A: 259,215 and 31.0 %, 774,315 if needed (with
# recovered pipe at one value a foot, so a little more is left in the hole)
assert abs(stage_1.mean - 259_215) < 5
assert round(stage_2.probability, 3) == 0.310
assert abs(stage_2.mean / 774_315 - 1) < 0.01

# %% vote-price
assert wait == 106_000  # independent: the notes of scenario A
assert round(saved, -3) == 33_000

# %% weekend
assert answer.authority.response_hours == 48
assert answer.authority.waiting_hours == 90  # by hand: 42 h to Monday, and 48 h
assert abs(answer.authority.waiting_cost - 90 / 24 * 53_000) < 0.01
assert round(answer.authority.waiting_cost) == 198_750

# %% revised
assert (round(stage_1.planned), round(stage_2.mean)) == (289_121, 767_881)
paper = econ.supplement(answer)
totals = {name: cell.number for name, cell in paper.costs.total.items() if name != "percent"}
assert abs(totals["original"] - original) < 0.01
assert abs(totals["spent"] - spent) < 0.01
assert abs(totals["revised"] - revised) < 1
assert abs(totals["change"] - change) < 1
# independent: the AFE table of scenario A: 4,270,000 original, 2,730,000 spent, 249,510 over
# (5.8 %) on average, with the check model's sidetrack
assert (original, spent) == (4_270_000, 2_730_000)
assert abs(average - 249_510) < 3_000
assert round(100 * average / original, 1) == 5.8
assert round(100 * change / original, 1) == 18.9

# %% spent
assert job.afe.trigger_percent == 10
assert job.afe.trigger_basis == "total"
assert 100 * average / original < job.afe.trigger_percent < 100 * change / original
contingency = [line for line in job.afe.line if "ontingency" in line.name]
assert sum(line.original for line in contingency) == 250_000
assert sum(line.to_come for line in contingency) == 0

# %% estimate
amounts = [line.mean for line in lines]
assert all(abs(e.quantity.number * e.price.number - e.amount.number) < 0.01 for e in amounts)
assert abs(sum(each.amount.number for each in amounts) - call) < 1
# by hand: run 2 is made unless run 1 brings the fish or loses the string or the hole
second = next(line for line in lines if line.words.startswith("Charge, run 2"))
assert abs(second.mean.quantity.number - (1 - 0.471 - 0.0195 - 0.0065)) < 1e-6
plugs = next(line for line in lines if line.words.startswith("Plugs"))
assert abs(plugs.mean.quantity.number - stage_2.probability) < 1e-6  # one plug a sidetrack

# %% customs
# by hand and by the program, to the cent
shared = ("asked", "stage_1_asked_for", "expected_call", "revised_total")
for name in shared:
    gross = round(100 * paper.shares.gross[name].number)
    interests = [round(10_000 * each.interest) for each in job.partner]
    assert job.partner[0].operator
    nets = [partner.nets[name].number for partner in paper.shares.partners]
    by_program = [round(100 * net) for net in nets]
    assert by_program == largest_remainder(gross, interests)
    assert sum(by_program) == sum(operator_takes_the_rest(gross, interests)) == gross
for partner in paper.shares.partners:  # slices and contingency sum to what is asked for
    parts = ("stage_1_asked_for", "stage_2_if_needed", "contingency")
    nets = [round(100 * partner.nets[name].number) for name in ("asked", *parts)]
    assert nets[0] == sum(nets[1:])
asked = econ.load(FILE, ["afe.rounding='operator_takes_rest'", "draws.n=64"])
other = econ.supplement(econ.answer(asked))
for name in shared:
    gross = round(100 * other.shares.gross[name].number)
    nets = [partner.nets[name].number for partner in other.shares.partners]
    assert [round(100 * net) for net in nets] == operator_takes_the_rest(gross, interests)

# %% twenty-differ
# by hand: of 10 cents each holds half a cent; rounded to the nearest 19 partners pay a cent, the
# operator 10 - 19 = -9; by largest remainder the operator is among the ten who pay a cent
assert operator_takes_the_rest(10, twenty)[0] == -9
assert largest_remainder(10, twenty)[0] == 1
assert max(differ) == 10

# %% twenty-said
three = [6_250, 2_500, 1_250]
apart = [
    abs(operator_takes_the_rest(cents, three)[0] - largest_remainder(cents, three)[0])
    for cents in range(1, 10_000)
]
assert max(apart) == 1

# %% answers-1
assert four_days == 212_000  # by hand
assert sum(nets) == 1_000_01
assert nets == [375_01, 375_00, 250_00]  # by hand: 375.00375 twice and 250.0025; one cent is left
assert given.suffices < given.stage_1_suffices
assert after.spent + after.authority.given == 1_000_000
assert 1 - asked.suffices < 0.05
