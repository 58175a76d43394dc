"""``labrum compare``: rims side by side."""
