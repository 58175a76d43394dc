"""The README's tables, written from what the code declares and solves: ``python -m labrum.cases.readme``."""
