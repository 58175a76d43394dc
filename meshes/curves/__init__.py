"""Open chains of arcs and lines: shape, signed distance, self-crossings."""
