"""Figures: each returns a `Picture`, which carries its own words.

`verdict` is required everywhere: True says what a reading means, False leaves that to the learner, in picture and words alike.
`system`, of those that show quantities, is "workshop" or "metric".
"""

from course_lib.plots.chains import event_chain
from course_lib.plots.cooler_picture import cooler
from course_lib.plots.curves import governor_curve, line_against_rpm
from course_lib.plots.dipstick import fluid_level
from course_lib.plots.drawing import Picture
from course_lib.plots.finding_pictures import of_finding, pictures_of
from course_lib.plots.gauge_faces import board, gauge
from course_lib.plots.levers import member_speeds
from course_lib.plots.life_history import life_of
from course_lib.plots.life_tracks import life_track, repair_tracks
from course_lib.plots.pans import oil_pan
from course_lib.plots.paths import power_path
from course_lib.plots.plates import packs
from course_lib.plots.reading_rows import rows, shift_speeds
from course_lib.plots.repairs_ahead import repair_ahead
from course_lib.plots.road_trace import road_trace
from course_lib.plots.suspects import OddsStep, odds_by_step

__all__ = (
    "OddsStep",
    "Picture",
    "board",
    "cooler",
    "event_chain",
    "fluid_level",
    "gauge",
    "governor_curve",
    "life_of",
    "life_track",
    "line_against_rpm",
    "member_speeds",
    "odds_by_step",
    "of_finding",
    "oil_pan",
    "packs",
    "pictures_of",
    "power_path",
    "repair_ahead",
    "repair_tracks",
    "road_trace",
    "rows",
    "shift_speeds",
)
