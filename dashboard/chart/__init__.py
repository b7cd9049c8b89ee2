"""From a scene to folium, pydeck and the page."""
