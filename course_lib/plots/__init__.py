"""Figures: each returns a `Picture`, which carries its own words.

`verdict` is required everywhere: True says what a reading means, False leaves that to the learner, in picture and words alike.
`system` is "workshop" or "metric".
"""

from course_lib.plots.choose import of_finding, pictures_of
from course_lib.plots.gauges import board, gauge
from course_lib.plots.house import Picture
from course_lib.plots.pans import pan
from course_lib.plots.sump import level

__all__ = ("Picture", "board", "gauge", "level", "of_finding", "pan", "pictures_of")
