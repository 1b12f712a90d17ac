"""What an answer is made of, for those who lay it out: parts of the cost, times, paths."""
