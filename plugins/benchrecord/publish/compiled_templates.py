"""Compiled templates, kept in the cache: most of them are the same at each build."""

from __future__ import annotations

from jinja2 import BytecodeCache
from jinja2.bccache import Bucket

from benchrecord.publish.cache import Cache


class CompiledTemplates(BytecodeCache):
    """Jinja's bytecode in our cache, whose entries are sealed: damaged bytecode could end the interpreter."""

    def __init__(self, cache: Cache) -> None:
        self._cache = cache

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill a bucket where the very same source was compiled before; its header tells versions of Python and Jinja."""
        kept = self._cache.get("template", bucket.key, bucket.checksum)
        if kept is not None:
            bucket.bytecode_from_string(kept)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        self._cache.put("template", bucket.key, bucket.checksum, content=bucket.bytecode_to_string())
