"""Measurements as ratios: our way and a bare reference, in turn, in the same run on the same machine."""
