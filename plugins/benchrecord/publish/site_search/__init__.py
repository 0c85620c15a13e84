"""The search of a site: what the theme's search indexes of a page, and the theme's worker without its faults.

All that knows the theme's search stands here and in ``theme/assets/search.js``.
"""
