"""What stays in the hole, piece by piece: the schedule of a lost-in-hole claim.

With q_i the share of piece i that is left where a fallback is taken, c the share that the contract
of that fallback makes payable, and v_i what is owed for the whole piece,

    v_i = value,   or   replacement x max(1 - depreciation, floor)
    expected invoice = E[sum over fallbacks of taken x q_i x c x v_i]

at the limit in force, from the draws of the answer (`econ.engine.priced`). A fishing string that is
lost stands below the pieces: the mean share of it that is owed, times its value. The credit is what
comes back of an invoice that was paid, if the piece is recovered later; it is in no sum.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from econ.decision.run_log import inputs_after
from econ.engine.inputs import Inputs
from econ.engine.priced import Priced, Product, amount_at, kept_is_single, priced
from econ.scenario.distributions import Distribution
from econ.scenario.framed import Framed
from econ.scenario.scenario import dotted

if TYPE_CHECKING:
    from econ.decision.answer import Answer


@dataclass(frozen=True, repr=False)
class LostPiece(Framed):
    """A piece of the fish, or a fishing string.

    owner, clause: as the file has them, empty where it does not say; replacement: price new, None
    where the file gives what is owed; depreciation, floor: shares of it, None likewise; owed: for
    the whole of it if it stays [currency]; left: mean share of it that stays, by fallback, each
    times the chance that it is taken, None where a range is in the share that is owed; invoice:
    expected [currency]; credit: share of an invoice that comes back if it is recovered later.
    Ranges stand by their means.
    """

    name: str
    owner: str
    clause: str
    replacement: float | None
    depreciation: float | None
    floor: float | None
    owed: float
    left: tuple[float, ...] | None
    invoice: float
    credit: float

    @property
    def share(self) -> float | None:
        """Mean share of it that stays in the hole."""
        return None if self.left is None else sum(self.left)

    @property
    def back(self) -> float:
        """What comes back of the expected invoice if it is recovered later [currency]."""
        return self.credit * self.invoice


def lost_pieces(answer: Answer, found: Priced | None = None) -> tuple[LostPiece, ...]:
    """The schedule at the best limit, from the top of the fish down, then the fishing strings.
    found: the products of the answer's draws, where they are worked out.

    >>> import econ
    >>> found = lost_pieces(econ.answer(econ.load("scenarios/point/a_land_twist_off.toml")))
    >>> found[0].name, round(sum(piece.invoice for piece in found), -3)
    ('Heavy-weight stub, 4-1/2 in', 106000.0)
    """
    inputs = inputs_after(answer.scenario, answer.log)
    found = priced(inputs, n=answer.draws) if found is None else found
    pieces = _pieces(answer, inputs, found)
    return (*pieces, *_strings(answer, inputs, found))


def _pieces(answer: Answer, inputs: Inputs, priced: Priced) -> list[LostPiece]:
    scenario, limit = answer.scenario, answer.best
    rows = []
    for index, piece in enumerate(scenario.fish.piece):
        single = piece.value is not None or kept_is_single(piece)
        off, floor = inputs.mean([piece.depreciation]), inputs.mean([piece.floor])
        kept = 1.0 if piece.value is not None else max(1.0 - off, floor)
        worth = inputs.mean([piece.value if piece.value is not None else piece.replacement or 0.0])
        invoice, left = 0.0, []
        for product in priced.products:
            if product.quantity.endswith(f".piece.{index}"):
                left.append(float(priced.mean[product.quantity, frozenset()][limit]))
                invoice += _amount(answer, priced, product) * (kept if single else 1.0)
        new = piece.value is None
        rows.append(
            LostPiece(
                name=piece.name,
                owner=piece.owner,
                clause=piece.clause,
                replacement=worth if new else None,
                depreciation=off if new else None,
                floor=floor if new else None,
                owed=worth * kept,
                left=tuple(left) if single else None,
                invoice=invoice,
                credit=piece.credit,
            )
        )
    return rows


def _strings(answer: Answer, inputs: Inputs, priced: Priced) -> list[LostPiece]:
    """Fishing strings and tools that may be owed with a run."""
    rows = []
    for product in priced.products:
        if product.ledger != "string_lost":
            continue
        share = float(priced.mean[product.quantity, frozenset()][answer.best])
        invoice = _amount(answer, priced, product)
        if invoice == 0.0:
            continue
        key, run = product.prices[0], int(product.quantity.split(".")[1])
        words = f"run {run + 1}: {answer.scenario.run[run].name}"
        name = f"Fishing string, {words}"
        if key[0] == "rental":
            name = f"{answer.scenario.rental[int(key[1])].tool}, {words}"
        worth = inputs.mean([amount_at(answer.scenario, key)])
        rows.append(LostPiece(name, "", "", None, None, None, worth, (share,), invoice, credit=0.0))
    return rows


def _amount(answer: Answer, priced: Priced, product: Product) -> float:
    """Expected amount of a product at the limit in force [currency]."""
    fixed, ranges = 1.0, set()
    for key in product.prices:
        amount = amount_at(answer.scenario, key)
        if isinstance(amount, Distribution):
            ranges.add(dotted(key))
        else:
            fixed *= float(amount)
    return fixed * float(priced.mean[product.quantity, frozenset(ranges)][answer.best])
