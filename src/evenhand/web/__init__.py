"""What all pages share: shell, style, scripts, builder."""

from evenhand.web.build import assemble, common_style, content_policy, fill

__all__ = ["assemble", "common_style", "content_policy", "fill"]
