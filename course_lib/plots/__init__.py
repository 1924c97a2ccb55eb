"""Figures: each returns a `Picture`, which carries its own words.

`verdict` is required everywhere: True says what a reading means, False leaves that to the learner, in picture and words alike.
`system` is "workshop" or "metric".
"""

from course_lib.plots.aheads import repair_ahead
from course_lib.plots.chains import chain
from course_lib.plots.choose import of_finding, pictures_of
from course_lib.plots.cooling import cooler
from course_lib.plots.curves import governor_curve, line_against_rpm
from course_lib.plots.gauges import board, gauge
from course_lib.plots.house import Picture
from course_lib.plots.levers import member_speeds
from course_lib.plots.lives import life_of
from course_lib.plots.pans import pan
from course_lib.plots.paths import power_path
from course_lib.plots.plates import packs
from course_lib.plots.road import road_trace
from course_lib.plots.strips import rows, shift_speeds
from course_lib.plots.sump import level
from course_lib.plots.suspects import Step, odds
from course_lib.plots.tracks import ahead, track

__all__ = (
    "Picture",
    "Step",
    "ahead",
    "board",
    "chain",
    "cooler",
    "gauge",
    "governor_curve",
    "level",
    "life_of",
    "line_against_rpm",
    "member_speeds",
    "odds",
    "of_finding",
    "packs",
    "pan",
    "pictures_of",
    "power_path",
    "repair_ahead",
    "road_trace",
    "rows",
    "shift_speeds",
    "track",
)
