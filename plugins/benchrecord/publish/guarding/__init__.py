"""Searching a finished site, byte by byte, for what its reader must not come upon and for what must not be in any site."""
