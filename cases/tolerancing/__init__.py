"""What a rim made within its tolerances may feel like, and which dimension matters most."""
