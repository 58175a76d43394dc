"""Questions put to a sweep: which rim is wide enough, where a measure lies, what is traded for what."""
