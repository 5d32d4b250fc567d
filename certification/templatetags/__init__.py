"""Pieces of pages about the certification file."""
