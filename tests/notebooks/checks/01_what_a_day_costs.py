# Checks of 01_what_a_day_costs: each runs after the cell of its name.

# %% trip
# independent: the worked table of scenario A, made with a model of its own, has 15.6 h
assert abs(round_trip - 15.6) < 0.05
# published: 1 h per 1,000 ft plus 1 to 2 h (public oilfield glossary, "round trip"): 12 to 13 h
assert (round(top / 1_000 + 1), round(top / 1_000 + 2)) == (12, 13)
assert top / 1_000 + 1 < round_trip < 1.5 * (top / 1_000 + 2)
# the table of the text is that of the file
assert (job.trip_speed.into.cased, job.trip_speed.into.open) == (2_000, 1_300)
assert (job.trip_speed.out.cased, job.trip_speed.out.open) == (1_800, 1_200)
assert (job.fish.top, job.well.shoe_depth) == (top, shoe)

# %% run
assert abs(run_hours - first.days * 24) < 0.01
assert round_trip / run_hours > 0.5  # by hand: more than half of the run is tripping
trip = job.run[0].trips[0]
stated = (job.run[0].wait, trip.make_up, trip.circulate, trip.work, trip.lay_down)
assert stated == (wait, make_up, circulate, work, lay_down)

# %% spread-by-hand
assert (spread, fishing_day) == (53_000, 7_400)
assert job.rates["rig"] == 27_000
assert 0.5 < job.rates["rig"] / spread < 0.55  # the rig is about half
assert abs(hour - 2_517) < 1  # independent: derived numbers of the worked table, 2,517
assert abs(hour - answer.prices.hour_of_waiting) < 0.01

# %% price
assert abs(run_cost - 74_967) < 1  # independent: the worked table of scenario A
assert abs(run_cost - first.cost) < 0.01

# %% jar
assert one_day == 33_000  # by hand: 9,000 + 5 x 2,600 + 11,000
assert kept == 47_950  # by hand: 9,000 + 2.5 x 2,600 + 9.5 x 1,100 + 22,000
d = econ.load("../scenarios/point/d_rented_tools.toml")
contract = d.rental[0]
stated = (contract.mobilization, contract.minimum_days, contract.day)
assert stated == (mobilization, minimum_days, day)
assert (contract.standby_day, contract.redress) == (standby, redress)

# %% called
assert jar.minimum == 9_000 + 5 * 2_600  # by hand: mobilization and minimum days
spread_d = sum(rented.scenario.rates.values())
fishing_d = sum(rented.scenario.fishing.day_rates.values())
assert abs(jar.wait - 14 / 24 * (spread_d + fishing_d)) < 1  # by hand
assert jar.now_or_later.value < 0 < wash_pipe.now_or_later.value
assert rented.best == 2  # the second run uses the jar, the wash pipe is behind the limit

# %% chart-by-hand
assert saved / daily == 15.0  # published: the chart
assert saved - collars / 1 * daily == -30_000  # published: the table of the text
assert saved - collars / 2 * daily == 30_000  # published: the same
assert abs(pace - 4 / 3) < 1e-12  # published, recomputed from its own table
assert saved - collars / 1.5 * daily == 10_000  # the erratum: 3/2 does not break even

# %% bottom
assert (feet, round(share, 2)) == (98, 0.75)

# %% answer-1
assert round(twelve, -2) == 30_200
saved_by_success = answer.prices.fallback - (34 / 24 * (53_000 + 7_400 / 2) + 42_000)
assert abs(saved_by_success - 591_207) < 1  # independent: F - S of the worked table
assert round(twelve / saved_by_success, 2) == 0.05
assert abs(slower - 12 / 11) < 1e-12  # by hand
assert abs(two_trips - 24 * answer.ahead[1].days) < 0.01
assert round(two_trips, 1) == 48.7  # independent: the worked table of scenario A
assert abs(14 * hour_c - 57_600) < 100  # independent: the notes of the scenario, 14 x 4,117
