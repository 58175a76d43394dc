"""What the tissue meets: the rim, the teeth, the air."""
