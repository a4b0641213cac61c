"""Fixtures that every part of the tests uses."""
