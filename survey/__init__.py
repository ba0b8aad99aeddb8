"""From plumbed readings to a lake bed with an honest ± and a float setting.

Folders import one way: see DEVELOPERS.md. This package knows nothing of
:mod:`maps`; depth is positive down, level positive up, row 0 of a grid is south.
"""

__version__ = "0.1.0"
