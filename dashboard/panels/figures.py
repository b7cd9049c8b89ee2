"""A figure of matplotlib on a page, with its words for those who do not see it; no panel itself."""

from __future__ import annotations

import base64
import io
from html import escape

import streamlit as st
from matplotlib.figure import Figure


def show(drawn: Figure, said: str) -> None:
    """Put a figure on the page with what it shows in words: the framework's own way has none."""
    out = io.BytesIO()
    drawn.savefig(out, format="png", facecolor=drawn.get_facecolor())
    picture = base64.b64encode(out.getvalue()).decode()
    st.html(f'<img alt="{escape(said)}" style="width:100%" src="data:image/png;base64,{picture}">')
