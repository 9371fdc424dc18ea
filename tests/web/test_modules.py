"""Modules become one script: what is imported comes first, and nothing else gets through."""

import json
import subprocess

import pytest

from evenhand.web import modules

FILES = {
    "some/main.js": (
        'import { count, two as pair } from "./low.js";\n'
        'import * as Shared from "../web/shared.js";\n\n'
        "console.log(JSON.stringify([count, pair(), Shared.loaded, Shared.word]));\n"
    ),
    "some/low.js": (
        'import { word } from "../web/shared.js";\n\nconst hidden = 2;\nconst count = 7;\n'
        "const double = () => word + hidden;\n\nexport {\n  count,\n  double as two,\n};\n"
    ),
    "web/shared.js": (
        "globalThis.loads = (globalThis.loads ?? 0) + 1;\nconst loaded = globalThis.loads;\n"
        'const word = "w";\n\nexport { loaded, word };\n'
    ),
}


def _bundle(monkeypatch: pytest.MonkeyPatch, **changed: str) -> str:
    texts = {**FILES, **{f"some/{name}.js": text for name, text in changed.items()}}
    monkeypatch.setattr(modules, "page_file", lambda room, name: texts[f"{room}/{name}"].encode())
    return modules.bundle("some")


def test_a_bundle_does_what_its_modules_do(node: str, monkeypatch: pytest.MonkeyPatch) -> None:
    script = _bundle(monkeypatch)
    done = subprocess.run([node, "-"], input=script.encode(), capture_output=True, check=True)
    # The shared module ran once, though two ask for it.
    assert json.loads(done.stdout) == [7, "w2", 1, "w"]


@pytest.mark.parametrize(
    ("main", "said"),
    [
        ('import { a } from "./low.js";\nexport default 3;\n', "can't be put into one script"),
        ("export const a = 1;\n", "can't be put into one script"),
        ('import "./low.js";\n', "can't be put into one script"),
        ('import { a } from "../other/x.js";\n', "neither beside it"),
        ('import { a } from "https://example.org/x.js";\n', "neither beside it"),
        ('import { a } from "./main.js";\n', "import each other: some/main.js → some/main.js"),
    ],
)
def test_other_forms_are_refused(monkeypatch: pytest.MonkeyPatch, main: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        _bundle(monkeypatch, main=main)
