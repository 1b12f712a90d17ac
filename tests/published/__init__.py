"""Published numbers, each beside its source, run through the project's own code."""
