"""The colours of the pages, for what is drawn elsewhere."""

import re
from functools import cache

from evenhand.web.modules import page_file


@cache
def page_colours() -> dict[str, str]:
    """The plain colours of the light page, by their names in the style sheet.

    Returns
    -------
    dict of str to str
        Such as `"kick": "#0072b2"`; those that shine through are left out.
    """
    style = page_file("web", "style.css").decode("utf-8")
    root = style[style.index(":root") :].split("}", 1)[0]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", root))
