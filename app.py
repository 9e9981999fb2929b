"""Starts the page: ``streamlit run app.py``."""

import runpy

runpy.run_module("counter.page.home", run_name="__main__")
