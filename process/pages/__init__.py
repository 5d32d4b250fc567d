"""What can be made again from records and files: verdicts of cures, their plots."""
