"""The page's style sheet, from the ink: night or day, no chrome, nothing under 13 px."""

from __future__ import annotations

import streamlit as st

from layers.scene.ink import DAY, Ink

# the grid is painted on a canvas in the night's colours, which no style sheet reaches
GRID_BY_DAY = (
    ".stApp div[data-testid='stDataFrame'] canvas { filter: invert(1) hue-rotate(180deg); }"
)


def sheet(ink: Ink) -> str:
    """Return the style sheet for one ink."""
    return f"""
    header[data-testid="stHeader"], div[data-testid="stToolbar"], footer,
    div[data-testid="stDecoration"], div[data-testid="stStatusWidget"] {{ display: none; }}
    .stApp, .stApp > div {{ background: {ink.sea}; color: {ink.ink}; }}
    .stMainBlockContainer {{ padding: 0.35rem 0.7rem 0.2rem 0.7rem; max-width: none; }}
    div[data-testid="stVerticalBlock"] {{ gap: 0.4rem; }}
    .stApp p, .stApp li, .stApp label, .stApp span, .stApp td, .stApp th, .stApp summary,
    .stApp h1, .stApp h2, .stApp h3, .stApp h4, .stApp input, .stApp textarea,
    .stApp div[data-testid="stMarkdownContainer"] {{ color: {ink.ink}; }}
    /* while a page is worked out anew what it shows stays readable: it says of when it is */
    .stApp [data-stale="true"] {{ opacity: 1 !important; }}
    .stApp {{ font-variant-numeric: tabular-nums; font-size: 15px; }}
    .stApp small, .stApp div[data-testid="stCaptionContainer"] p {{ color: {ink.quiet};
      font-size: 14px; }}
    .stApp div[data-testid="stCaptionContainer"] {{ opacity: 1; }}
    .stApp h1, .stApp h2, .stApp h3, .stApp h4 {{ line-height: 1.4; overflow: visible; }}
    .stApp h1 {{ font-size: 1.5rem; padding: 0.2rem 0; }}
    .stApp h2 {{ font-size: 1.25rem; padding: 0.2rem 0; }}
    .stApp h3 {{ font-size: 1.08rem; padding: 0.15rem 0; }}
    .stApp input, .stApp textarea, .stApp pre, .stApp code, .stApp summary,
    .stApp div[data-testid$="InputRootElement"], .stApp div[data-testid="stTextAreaRootElement"],
    .stApp div[data-testid="stNumberInputContainer"], .stApp div[data-testid="stCode"] > div,
    .stApp div[data-testid="stSelectbox"] div[role="group"],
    .stApp div[data-testid="stMultiSelect"] div[role="group"],
    .stApp div[data-testid="stElementToolbarButtonContainer"],
    .stApp section[data-testid="stFileUploaderDropzone"] {{ background: {ink.panel};
      border-color: {ink.quiet}; }}
    .stApp ::placeholder {{ color: {ink.quiet}; opacity: 1; }}
    .stApp div[data-testid="stCheckbox"] label:not(:has(:checked)) > div:not([data-testid]) {{
      background: {ink.panel}; border: 1px solid {ink.quiet}; }}
    .stApp div[data-testid="stCheckbox"] label:not(:has(:checked)) > div:not([data-testid]) > div {{
      background: {ink.quiet}; }}
    .stApp span[data-testid="stTooltipHoverTarget"] svg {{ color: {ink.quiet};
      stroke: {ink.quiet}; }}
    {GRID_BY_DAY if ink is DAY else ""}
    .stApp button {{ background: {ink.panel}; color: {ink.ink}; border-color: {ink.quiet}; }}
    .stApp button:disabled {{ border-color: {ink.line}; color: {ink.quiet}; }}
    .stApp button:hover:not(:disabled) {{ border-color: {ink.ink}; color: {ink.ink}; }}
    .stApp button:focus-visible, .stApp a:focus-visible, .stApp input:focus-visible,
    .stApp [role="slider"]:focus-visible, .stApp summary:focus-visible {{
      outline: 3px solid {ink.ink}; outline-offset: 1px; }}
    .stApp div[data-testid="stForm"], .stApp details {{ border-color: {ink.line};
      background: {ink.panel}; }}
    .stApp a {{ color: {ink.ink}; }}
    .stApp hr {{ border-color: {ink.line}; margin: 0.3rem 0; }}
    iframe[title="streamlit_folium.st_folium"] {{ height: var(--mp-chart, calc(100vh - 112px))
      !important; width: 100%; display: block; border: 1px solid {ink.line}; }}
    /* until the chart's own script has begun; from then on it says by itself how it is */
    div:has(> iframe[title="streamlit_folium.st_folium"]:not([data-stands])) {{
      position: relative; }}
    div:has(> iframe[title="streamlit_folium.st_folium"]:not([data-stands]))::after {{
      content: "The chart is being drawn"; position: absolute; inset: 0; display: grid;
      place-items: center; color: {ink.ink}; background: {ink.sea}; font-size: max(24px, 3vh);
      pointer-events: none; }}
    div[data-testid="stColumn"]:has(iframe[title="streamlit_folium.st_folium"]) > div {{
      position: sticky; top: 0.3rem; }}  /* the chart stays while the boxes beside it scroll */
    .mp-head {{ display: flex; gap: 1.4rem; align-items: baseline; flex-wrap: wrap; font-size: 17px;
      line-height: 1.35; }}
    .mp-head b {{ font-size: 19px; }}
    .mp-exercise {{ border: 2px solid {ink.ink}; padding: 0 0.5rem; font-weight: 700;
      letter-spacing: 0.03em; }}
    .mp-moved {{ background: {ink.ink}; color: {ink.sea} !important; padding: 0 0.5rem;
      font-weight: 700; }}
    .mp-panel {{ background: {ink.panel}; border: 1px solid {ink.line}; border-radius: 3px;
      padding: 0.45rem 0.7rem; line-height: 1.35; overflow-x: auto; }}
    .mp-panel table {{ border-collapse: collapse; width: 100%; }}
    .mp-panel td, .mp-panel th {{ padding: 1px 6px 1px 0; text-align: left; border: 0;
      font-size: 15px; vertical-align: top; }}
    .mp-panel th {{ white-space: normal; vertical-align: bottom; }}
    .mp-wide th {{ min-width: 4.4rem; }}  /* else a long head stands one word a line */
    .stApp div[data-testid="stButtonGroup"] div[role] {{ flex-wrap: wrap; }}
    .stApp div[data-testid="stException"] a {{ display: none; }}  /* they lead to the network */
    .stApp div[data-testid="stPageLink"] a {{ padding: 0.1rem 0.4rem; }}
    .stApp div[data-testid="stButtonGroup"] button {{ padding-left: 0.6rem;
      padding-right: 0.6rem; }}
    .stApp div[data-testid="stHeading"], .stApp div[data-testid="stHeadingWithActionElements"] {{
      overflow: visible; padding-bottom: 0.1rem; }}
    .mp-panel td.n, .mp-panel th.n {{ text-align: right; }}
    .mp-big {{ font-size: 34px; font-weight: 700; line-height: 1.1; white-space: nowrap; }}
    .mp-quiet {{ color: {ink.quiet} !important; font-size: 14px; }}
    .mp-late {{ color: {ink.late} !important; font-weight: 700; }}
    .mp-good {{ color: {ink.good} !important; font-weight: 700; }}
    .mp-alarm {{ background: {ink.ink}; color: {ink.sea} !important; font-weight: 700;
      padding: 2px 8px; }}
    .mp-alarm + .mp-alarm {{ margin-top: 4px; }}
    .mp-alarm span {{ color: {ink.sea} !important; }}
    .mp-moved, .mp-moved span {{ color: {ink.sea} !important; }}
    .mp-caution {{ color: {ink.quiet} !important; font-size: 14px; border-left: 3px solid
      {ink.quiet}; padding-left: 0.5rem; }}
    @media (max-width: 1500px) {{
      .stApp div[data-testid="stPageLink"] a {{ padding: 0.1rem 0.3rem; }}
      .stApp div[data-testid="stHorizontalBlock"]:has(div[data-testid="stPageLink"]) {{
        gap: 0.15rem; }}
      .stApp div[data-testid="stButtonGroup"] button {{ padding-left: 0.42rem;
        padding-right: 0.42rem; }}
      .mp-big {{ font-size: 30px; }}
      .mp-head {{ gap: 0.6rem; font-size: 15px; }} .mp-head b {{ font-size: 16px; }}
    }}
    """


def apply(ink: Ink) -> None:
    """Put the style sheet on the page."""
    st.html(f"<style>{sheet(ink)}</style>")
