"""Figures of what a sweep of rims answers."""
