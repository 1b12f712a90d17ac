"""Write econ/sampling/direction_numbers.npy from the table of Joe & Kuo that SciPy carries.

`python tests/sampling/direction_numbers.py` writes it anew; the result does not change. The rows
kept are those of every primitive polynomial of degree up to DEGREE.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import scipy.stats

from econ.sampling.sobol import DEGREE, MOST_DIMENSIONS, NUMBERS


def main() -> None:
    carried = np.load(Path(scipy.stats.__file__).with_name("_sobol_direction_numbers.npz"))
    kept = carried["poly"] < 2 ** (DEGREE + 1)
    table = np.column_stack([carried["poly"][kept], carried["vinit"][kept, :DEGREE]])
    assert len(table) == MOST_DIMENSIONS
    np.save(NUMBERS, table.astype(np.uint16))


if __name__ == "__main__":
    main()
