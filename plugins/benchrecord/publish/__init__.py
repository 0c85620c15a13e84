"""The mkdocs plugins and what they need: cache, disk, logging."""
