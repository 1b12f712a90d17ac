"""Puts this folder on the import path, so that every test can import the slow references.

Commands show exceptions and warnings here as Python does: a test fails by them. What a user sees
instead is tested in `tests/cli/test_endings.py`.
"""

import os

os.environ.setdefault("ECON_STACK", "1")
