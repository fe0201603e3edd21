"""Drawings as SVG text, in one grammar for screen and print.

Solid tick or cross: as left. Open: as found. Whisker and ellipse: doubt. Bracketed tint: expected.
Hatch: beyond a limit. Every function is pure; every picture names and describes itself.
"""

from lightoff.drawing.causes import CauseLayer, CauseWords, causes
from lightoff.drawing.chance import chance, chance_legend
from lightoff.drawing.code import code
from lightoff.drawing.course import CourseWords, Step, course
from lightoff.drawing.drifting import DriftPicture, DriftPoint, drifting
from lightoff.drawing.glyph import glyph
from lightoff.drawing.heat_flow import HeatFlow, heat_flow, heat_flow_words
from lightoff.drawing.life import life
from lightoff.drawing.palette import PAGE, PAPER, Palette
from lightoff.drawing.part_life import part_life
from lightoff.drawing.ran import RanStretch, ran
from lightoff.drawing.scale import scale, scale_ends, scale_words
from lightoff.drawing.time_axis import TimeAxis
from lightoff.drawing.timeline import TimelineVisit, timeline
from lightoff.drawing.trend import TrendPoint, trend
from lightoff.drawing.triangle import triangle, triangle_words

__all__ = [
    "PAGE",
    "PAPER",
    "CauseLayer",
    "CauseWords",
    "CourseWords",
    "DriftPicture",
    "DriftPoint",
    "HeatFlow",
    "Palette",
    "RanStretch",
    "Step",
    "TimeAxis",
    "TimelineVisit",
    "TrendPoint",
    "causes",
    "chance",
    "chance_legend",
    "code",
    "course",
    "drifting",
    "glyph",
    "heat_flow",
    "heat_flow_words",
    "life",
    "part_life",
    "ran",
    "scale",
    "scale_ends",
    "scale_words",
    "timeline",
    "trend",
    "triangle",
    "triangle_words",
]
