"""The page behind its guard, as ``streamlit run`` serves it."""

import streamlit as st

from counter.page.guard import HOME, guarded

app = st.App(HOME, middleware=guarded())
