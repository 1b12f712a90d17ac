"""The walk of every draw through the run program; returns arrays, decides nothing."""
