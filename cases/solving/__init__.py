"""The main job, the record of a run, the result, and how a command ends."""
