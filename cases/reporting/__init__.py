"""``labrum report`` and ``labrum animate``: a page to hand over, and a moving picture."""
