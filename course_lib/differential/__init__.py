"""Suspects, their odds given the findings so far, the next best inspection, and whether a case can be solved."""
