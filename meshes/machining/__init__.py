"""What a lathe and a workshop drawing need of a rim."""
