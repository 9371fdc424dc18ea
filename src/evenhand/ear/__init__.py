"""Listening: sounds, rendering, and the page that plays and shows a take."""
