"""German pages write figures with the decimal point, as English ones do.

A figure of this laboratory reads the same on label, meter, field card, mail and page: 0.45 µm. So a
German page has no comma where the instrument has a point, and nobody has to ask whether 1,234 is
one or a thousand. Dates keep the order day, month, year, with German months.
"""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
NUMBER_GROUPING = 3

DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y H:i"
YEAR_MONTH_FORMAT = "F Y"
MONTH_DAY_FORMAT = "j F"
SHORT_DATE_FORMAT = "j M Y"
SHORT_DATETIME_FORMAT = "j M Y H:i"
FIRST_DAY_OF_WEEK = 1

# The first of each is what the browser's own date and time fields write and read (HTML, date strings).
DATE_INPUT_FORMATS = ["%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y"]
TIME_INPUT_FORMATS = ["%H:%M:%S", "%H:%M:%S.%f", "%H:%M"]
DATETIME_INPUT_FORMATS = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M"]
