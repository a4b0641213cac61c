"""The bank file: the only layer that knows peewee and SQLite."""
