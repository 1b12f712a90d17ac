"""The cautions that go out with every answer.

Sources of the rules on sealed sources: 10 CFR 39.15(a)(5) and 39.77(c) (US);
16 Tex. Admin. Code 3.35; 30 CFR 250.1715 on plug extents. Check the current text.
"""

from __future__ import annotations

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

SEALED_SOURCE = (
    "A sealed source is in the fish. Rules differ by country; in the US:",
    "reasonable effort to recover it, agreed in writing with the licensee (10 CFR 39.15)",
    "no attempt that could rupture it; monitor the returns at the surface",
    "tell the regulator; approval before abandonment (10 CFR 39.77(c))",
    "within 30 days of being irretrievable: cemented in place, means against intrusion, plaque "
    "at least 7 in square and 1/8 in thick (10 CFR 39.15(a)(5))",
    "Texas: dyed cement and a deflection device on top (16 Tex. Admin. Code 3.35)",
    "offshore US: plugs from 100 ft below to 100 ft above zones (30 CFR 250.1715)",
)
