"""Off the axis: what a tilt, a shift, an arch of teeth or two unlike lips do to a pressed state, wave by wave."""
