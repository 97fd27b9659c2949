"""matplotlib, all that pictures use of it: who imports this module has it loaded.

To be imported before the process is copied, once for both; where nobody has a home it also makes a
folder for itself, which only the process that made it takes away.
"""

import logging

logging.getLogger("matplotlib").setLevel(logging.ERROR)  # silent about folders of its own

import matplotlib.axes  # noqa: E402
import matplotlib.backends.backend_agg  # noqa: E402
import matplotlib.collections  # noqa: E402
import matplotlib.colors  # noqa: E402
import matplotlib.figure  # noqa: E402
import matplotlib.font_manager  # noqa: E402
import matplotlib.legend_handler  # noqa: E402
import matplotlib.lines  # noqa: E402
import matplotlib.patches  # noqa: E402
import matplotlib.path  # noqa: E402
import matplotlib.patheffects  # noqa: E402
import matplotlib.text  # noqa: E402, F401
