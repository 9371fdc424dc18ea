"""The listening page: one HTML file that plays and shows a take before and after."""
