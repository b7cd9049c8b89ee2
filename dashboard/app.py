"""The entry of the web server; `python -m dashboard` starts it with everything else."""

import sys
from pathlib import Path

import streamlit as st

# `streamlit run` puts only this folder on the path; the packages lie one above. The only such line.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from dashboard import shell
from dashboard.door.face import ICON

st.set_page_config(
    page_title="Musterplot", page_icon=str(ICON), layout="wide", initial_sidebar_state="collapsed"
)
shell.run()
