"""Geometry only: rim profiles, lip layers, graded meshes, gauging. Imports nothing of ours."""
