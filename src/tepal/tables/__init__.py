"""Plain tables in, typed rows out; and the one way in which the house refuses bad input.

Floor 0: imports nothing of the house.
"""

from tepal.tables._dates import parse_date
from tepal.tables._near import near
from tepal.tables._read import Row, Table, read_csv, read_csv_text
from tepal.tables._refused import Refused, Where

__all__ = ["Refused", "Row", "Table", "Where", "near", "parse_date", "read_csv", "read_csv_text"]
