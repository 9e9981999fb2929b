"""The page behind its guard, as ``streamlit run`` serves it."""

import contextlib
import sys
from collections.abc import AsyncIterator

import streamlit as st

from counter.page.guard import HOME, guarded


@contextlib.asynccontextmanager
async def _served(app: st.App) -> AsyncIterator[None]:
    """What ends with the server."""
    yield
    if pool := sys.modules.get("counter.page.pool"):  # which nothing loads before somebody comes
        pool.end()


app = st.App(HOME, middleware=guarded(), lifespan=_served)
