"""One job folder becomes a finished, cross-linked site."""

__version__ = "0.1.0"
