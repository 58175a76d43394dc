"""What is read off an equilibrium: measures, volumes, fields."""
