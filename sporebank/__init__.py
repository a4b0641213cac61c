"""A desktop window over a bank of fern spore."""

__version__ = "0.1.0"
