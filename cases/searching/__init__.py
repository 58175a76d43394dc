"""Finds a rim: the best within limits, or the one that feels like another."""
