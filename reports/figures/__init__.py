"""Figures of one outcome, of several side by side, and of a gauged rim."""
