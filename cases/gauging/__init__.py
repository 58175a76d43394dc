"""``labrum gauge``: measured rims read by every convention."""
