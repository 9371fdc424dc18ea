"""The page of practice takes: its data, template, style and scripts."""
