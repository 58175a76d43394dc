"""The rim's profile, from dimensions or from an outline, with the places a maker names on it."""
