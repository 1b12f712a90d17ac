"""Slow, plain references that the engine is held to; nothing here imports the engine."""
