"""The few colours of the page. None carries a meaning alone; a test computes every contrast."""

INK = "#1b1b1b"
"""text, and the systolic line's marks"""
QUIET = "#4a4f57"
"""smaller text"""
RULE = "#7d838c"
"""thin rules and axes"""
GRID = "#c9cdd3"
"""faint level lines: the axis labels carry their meaning"""
PAPER = "#ffffff"
SLEEP = "#e8ebef"
"""shade of sleep"""
BAND = "#d3dde3"
"""between systolic and diastolic"""
SYSTOLIC = "#143f52"
DIASTOLIC = "#6d3d14"
LIMIT = "#3a3a3a"
HOURLY = "#5b6670"
HEART = "#3f3f3f"

TEXTS = (INK, QUIET, SYSTOLIC, DIASTOLIC, LIMIT)
LINES = (SYSTOLIC, DIASTOLIC, LIMIT, HOURLY, HEART, RULE)
GROUNDS = (PAPER, SLEEP, BAND)
