"""Plain tables in, typed rows out; and the one way in which the house refuses bad input.

Floor 0: imports nothing of the house.
"""

from tepal.tables._dates import parse_date
from tepal.tables._file import geojson_object, read_bytes, write_whole
from tepal.tables._near import meant, near, nearest
from tepal.tables._read import Row, Table, read_csv, read_csv_text
from tepal.tables._refused import Refused, Where

__all__ = [
    "Refused",
    "Row",
    "Table",
    "Where",
    "geojson_object",
    "meant",
    "near",
    "nearest",
    "parse_date",
    "read_bytes",
    "read_csv",
    "read_csv_text",
    "write_whole",
]
