"""What can be asked further of the rim on the page: each question a job, each answer plain words, tables and files."""
