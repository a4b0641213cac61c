"""Files in and out, as records and problems."""
