"""``labrum handover``: all that a player and a shop need of one rim, in one folder and one archive."""
