"""The cautions that go out with every answer, whatever is in the fish.

What is in this fish is said before them (`econ.reports.safety`).
"""

from __future__ import annotations

from econ.scenario import Scenario
from econ.scenario.notes.defaults import not_looked_at

SHORT = (
    "Compares costs and odds. It is no procedure, design or approval.",
    "Well control first: hole full, flow check, a shut-in plan for each string.",
    "Stay within the pull, torque and jar limits of the weakest part as worn.",
    "String shots and cutters: certified crew, radio silence, misfire plan.",
    "Sealed sources: stop, call the licensee and the radiation safety officer.",
    "H2S: treat trapped gas as toxic. Dropped objects: keep people clear.",
    "Open hole gets worse with time: judge its stability anew every day.",
    "Local codes, licensed practice and tool suppliers' limits come first, and the person in "
    "charge on the rig may stop at any time.",
)

# In full, for every report. Facts: a public example of 90 % of premium-class tensile rating as a
# pull limit, drilling calculation site; API RP 7G and RP 67, scope statements; about 1,000 ft
# before people return to the rig floor, explosives safety slides; a collapse period of about
# 7 days in one shale field, Geofluids 2019. Checks, not rules of this program.
FULL = (
    (
        "Scope",
        "This compares costs and odds. It is no procedure, no design and no approval. Local law, "
        "company policy, the rig's own well-control plan, the limits of tool suppliers and the "
        "advice of licensed people on site come first wherever they differ from this page.",
    ),
    (
        "Well control",
        "Fishing strings have narrow bores and poor floats. Keep the hole full, check for flow "
        "before pulling, and know for each string how the well is shut in: rams, what lies across "
        "the stack and cannot be sheared, a drill-string valve at hand. A full-size fish swabs, "
        "baskets and wash pipe surge. A freed pill shortens the column: compute it anew. Gas may "
        "be trapped under a packed-off fish.",
    ),
    (
        "Pull, torque and jars",
        "The weakest part in its present state of wear sets the limit, with the blow of the jars "
        "on top and tension and torsion together; hoist, derrick and lines have limits of their "
        "own. Keep people away while jarring and inspect the derrick afterwards.",
    ),
    (
        "String shots and cutters",
        "Explosives are for certified crews under the practice for oilfield explosives: radio "
        "silence or safe detonators, stray currents checked, bonding, people clear until the "
        "charge is well down, a plan for a misfire.",
    ),
    (
        "Sealed sources",
        "Stop and call the licensee and the radiation safety officer. Nothing that could rupture "
        "a source is tried; returns are monitored at the surface; abandonment needs approval, "
        "cement, a means against intrusion and a plaque.",
    ),
    (
        "H2S and toxic gas",
        "Treat gas from trapped bores, packed-off intervals and lubricators as dangerous. Tools "
        "and pipe have limits in sour service. Acid and cutter residues harm too.",
    ),
    (
        "Dropped objects and handling",
        "A fish can come apart or shift when it comes free; jars and springs are loaded when laid "
        "down. Cover the hole, secure collars, stand clear of the load.",
    ),
    (
        "Hole stability",
        "Open hole gets worse with time: washouts grow, cuttings settle, the window of density "
        "narrows. Judge the odds of losing the hole anew every day.",
    ),
    (
        "Losses and steel",
        "Milling sends steel up the hole: magnets in the flowline, hot cuttings, plugged lines, "
        "and lost circulation while the annulus is loaded.",
    ),
    (
        "Environment and permits",
        "Oil fluids and cement must go where permits allow; notices and approvals for a sidetrack, "
        "a plug or a source take time and are kept on file.",
    ),
    (
        "Data",
        "Odds are judgement. A small change moves a flat curve. Amounts are independent of each "
        "other unless the file says otherwise. Injury, spill, reputation and lost production are "
        "not in the cost unless they were entered.",
    ),
    (
        "Who decides",
        "Local codes, licensed practice and suppliers' limits are deferred to, and the person in "
        "charge on the rig may stop the job at any time.",
    ),
)


def planned(scenario: Scenario) -> str | None:
    """How many planning values nobody has looked at, and where they are listed; None without."""
    count = len(not_looked_at(scenario))
    if count == 0:
        return None
    return (
        f"{count} planning value{'' if count == 1 else 's'} not looked at, judgement without a "
        "source: the desk lists them, and so does the sheet Assumptions of the supplement."
    )
