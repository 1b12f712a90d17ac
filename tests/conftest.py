"""Puts this folder on the import path, so that every test can import the slow references."""
