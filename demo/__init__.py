"""The demo: a fernery of our own invention, built from a fixed seed to a fixed day."""
