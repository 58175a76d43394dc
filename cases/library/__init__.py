"""What ships: lips and loads to start from, each value with its source, and demo cases."""
