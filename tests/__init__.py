"""The checks, and what several of them build on; the folders mirror those of the package."""
