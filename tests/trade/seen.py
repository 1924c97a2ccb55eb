"""What the workshop finds on a batch of vehicles, as arrays by key."""

import numpy as np

from course_lib.shop.inspect import METHODS
from course_lib.shop.subject import Subject


def all_seen(plant, condition, signal, use):
    return {}
