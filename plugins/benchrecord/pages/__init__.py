"""Words, tables and links: Markdown from templates."""
