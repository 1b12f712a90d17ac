"""The cost of every limit as a function of a few knobs, for a page without the program."""
