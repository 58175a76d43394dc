"""The case file: reading, checking, building, writing."""
