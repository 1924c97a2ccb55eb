"""Inspections: from condition to finding, in words and numbers."""
