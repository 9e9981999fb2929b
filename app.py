"""Starts the page: ``streamlit run app.py``."""

import streamlit as st

from counter.page.guard import HOME, guarded

app = st.App(HOME, middleware=guarded())
