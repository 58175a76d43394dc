"""What rims may be held equal at when they are compared. Light: the command line names it."""

from enum import StrEnum


class Hold(StrEnum):
    """What is the same for every rim."""

    FORCE = "force"
    MEAN_PRESSURE = "mean-pressure"
    SINK = "sink"
