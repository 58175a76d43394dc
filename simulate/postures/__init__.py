"""How a rim is held off the axis: what is asked, and what a pressed rim answers. Plain values, no solver."""
