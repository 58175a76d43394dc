"""``labrum cut``: a rim's outline for the lathe."""
