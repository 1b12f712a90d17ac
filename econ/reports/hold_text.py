"""What a changed scenario costs under an issued decision, beside the issue, in a terminal."""

from __future__ import annotations

from econ.decision.hold import Held, Issued
from econ.reports.words import one_line, runs, wrap

SLICES = (
    "Slice 1a is fishing to the limit, 1b the work after a recovery, 2 the fallback; planned, mean "
    "and P90 are those where it is drawn."
)
LAPSED = "A correlation of the issue with an amount that is now a number lapses."


def hold_text(issued: Issued, issue: Held, held: Held) -> str:
    """The slices at the limit of the issue, at its prices (`issue`) and at those now (`held`)."""
    currency = one_line(held.scenario.currency)
    lines = wrap(
        f"At the decision of the issue: at most {runs(issued.runs)}, its fallbacks by state, its "
        f"rental terms and its {issued.draws} draws of each scramble. {currency}."
    )
    lines += wrap(SLICES)
    lines += ["", f"{'':19}{'issue':>15}{'now':>15}{'change':>15}"]
    for before, after in zip(issue.call.slices, held.call.slices, strict=True):
        label = f"{after.slice:2} chance"
        lines.append(f"{label:19}{before.chance:>15.4f}{after.chance:>15.4f}")
        for name, word in (("planned", "planned"), ("mean", "mean"), ("p90", "P90")):
            lines.append(_row(f"   {word}", getattr(before, name), getattr(after, name)))
    lines.append(_row("Expected call", issue.call.expected_call, held.call.expected_call))
    lines.append(_row("P90 of all", issue.call.p90, held.call.p90))
    names = {name for each in issued.scenario.correlation for name in each.of}
    if names - {path for path, _, _ in held.scenario.amounts()}:
        lines += wrap(LAPSED)
    return "\n".join(lines) + "\n"


def _row(label: str, before: float, after: float) -> str:
    return f"{label:19}{before:>15,.2f}{after:>15,.2f}{after - before:>15,.2f}"
