"""How are dates written and read?

Django's own British formats would fill a date field with 25/11/2026, which an
<input type="date"> does not take: the field would stay empty and a saved date be lost. The first
input format is the one a field is filled with, so it is the browser's own.
"""

DATE_FORMAT = "j M Y"
DATETIME_FORMAT = "j M Y, H:i"
TIME_FORMAT = "H:i"
SHORT_DATE_FORMAT = "j M"
FIRST_DAY_OF_WEEK = 1
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d/%m/%Y", "%d.%m.%Y", "%d %b %Y"]
DATETIME_INPUT_FORMATS = [
    "%Y-%m-%dT%H:%M",
    "%Y-%m-%dT%H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%Y-%m-%d %H:%M:%S",
]
TIME_INPUT_FORMATS = ["%H:%M", "%H:%M:%S"]
