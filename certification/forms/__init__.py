"""What is typed into the certification file."""
