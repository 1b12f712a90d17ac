"""The walk of every draw through the run program; returns arrays, decides nothing."""

import numpy as np

# A walk makes and drops arrays of a megabyte by the hundred. The C library of Linux gives such
# memory back and asks for it anew each time, at a third of the time of an answer, until one larger
# array was freed; this one is never written to. Elsewhere it does nothing.
np.empty(4_000_000)
