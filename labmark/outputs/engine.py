"""What fills the templates of the pages, and what a page may do.

A content security policy names the hashes of the page's own style and script, so that nothing else runs, whatever a
cell holds.
"""

import base64
import hashlib
import re
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemBytecodeCache, FunctionLoader, StrictUndefined
from jinja2.bccache import Bucket
from markupsafe import Markup

from labmark.places import templates_folder


def policy(style: str, script: str) -> str:
    """Return the content security policy: this very style, this very script, the picture inside, and nothing else."""
    hashes = (base64.b64encode(hashlib.sha256(f"\n{text}\n".encode()).digest()).decode() for text in (style, script))
    allowed = "style-src 'sha256-{}'; script-src 'sha256-{}'".format(*hashes)
    return f"default-src 'none'; img-src data:; {allowed}; base-uri 'none'; form-action 'none'"


class _DictionariesFirst(Environment):
    """Looks into a dictionary before it asks for an attribute: a page is given little else."""

    def getattr(self, obj: Any, attribute: str) -> Any:
        """Return what is called so."""
        found = type(obj) is dict and attribute in obj
        return obj[attribute] if found else super().getattr(obj, attribute)


class _Kept(FileSystemBytecodeCache):
    def dump_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError):  # a full disk, say: the next run makes it again
            super().dump_bytecode(bucket)


def engine(filters: Mapping[str, Callable[..., Any]], names: Mapping[str, Any]) -> Environment:
    """Return an engine that knows these filters, and these names besides what a page is filled with."""
    env = _DictionariesFirst(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        bytecode_cache=_kept_code(),
        optimized=False,  # folding constants takes longer than it saves on a page that is filled once
    )
    env.filters |= {**filters, "own": Markup}  # own only for our style and script, never for anything from a sheet
    env.globals |= names
    return env


def _kept_code() -> _Kept | None:
    """Return where the code that a template becomes is kept from run to run: beside it, as Python keeps its modules'.

    Making it anew takes as long as filling the page three times. Nowhere, where nothing may be written there.
    """
    folder = templates_folder() / "__pycache__"
    if sys.dont_write_bytecode:
        return None
    with suppress(OSError):
        folder.mkdir(exist_ok=True)
    if not folder.is_dir():
        return None
    # What this module says of the engine goes into the code as well.
    return _Kept(str(folder), f"%s-{Path(__file__).stat().st_mtime_ns}.jinja")


def _template(name: str) -> str:
    """Return a template without its indentation: in a class of hundreds that is a tenth of the page."""
    return re.sub(r"(?m)^[ \t]+", "", (templates_folder() / name).read_text(encoding="utf-8"))
