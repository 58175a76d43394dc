"""Drawings held to limits before anything in them is followed: opened, taken apart, one entity at a time."""
