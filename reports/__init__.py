"""Figures and pages drawn from an outcome."""
