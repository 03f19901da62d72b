"""Figures, each made from a result alone as a `Panel`."""
