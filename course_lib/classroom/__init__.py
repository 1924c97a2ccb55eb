"""The instructor's side: sets for a class, check cells and their pytest plugin, marking, the class report, building notebooks."""

LEVELS = "application/vnd.course-level+json"
"""The kind of output in which a check cell tells its level to the marking run, as data: level, points, reason, about."""
