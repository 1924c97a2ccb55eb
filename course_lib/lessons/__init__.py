"""Lessons: what is asked in them, how an answer is judged, what a learner has done so far. It knows no widgets."""
