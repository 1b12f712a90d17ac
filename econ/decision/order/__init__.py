"""The cheapest program that can be made of the runs listed."""
