"""Hostile input of every entry, in large numbers, guided by what of the program it reaches: see `__main__`."""
