"""From a file of measured points to a rim: read, put in order, placed on its axis, cut into arcs and lines."""
