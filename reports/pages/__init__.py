"""Pages: the report, and the live page and the lessons with their pictures as plain numbers."""
