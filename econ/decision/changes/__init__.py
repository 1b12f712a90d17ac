"""What would change the answer: swings, break-evens, what-if, sweeps."""
