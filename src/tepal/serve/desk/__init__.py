"""The desk's pages: what closes next in the county, sites, plants, calls, people; made from readings that are kept.

`routes(app)` gives them to the application, with a desk that follows its ledger.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tepal.serve.desk._desk import Desk, open_desk
from tepal.serve.desk._readings import Readings

if TYPE_CHECKING:
    from fastapi import FastAPI

    from tepal.serve import Routes

__all__ = ["Desk", "Readings", "open_desk", "routes"]


def routes(made: FastAPI) -> Routes:
    """The pages of the desk, and a desk for them in `made.state.desk`. Readings begin to be made when it is started."""
    from tepal.serve import Routes
    from tepal.serve.desk._call_pages import call_routes
    from tepal.serve.desk._contact_pages import contact_routes
    from tepal.serve.desk._field_pages import county_routes, plant_routes, site_routes
    from tepal.serve.desk._frame import problem_page
    from tepal.serve.desk._office_pages import aerial_routes, own_routes, people_page_routes

    open_desk(made)
    made.state.problem_page = problem_page
    whole = Routes()
    of_sites = (county_routes, site_routes, contact_routes, plant_routes, aerial_routes)
    for room in (*of_sites, call_routes, people_page_routes, own_routes):
        whole.router.include_router(room().router)
    return whole
