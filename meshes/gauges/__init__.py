"""What a rim measures, by every convention, and how far its readers scatter."""
