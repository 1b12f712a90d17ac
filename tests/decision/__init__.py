"""What is decided, held to the slow references."""
