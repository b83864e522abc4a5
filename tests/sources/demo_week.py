"""Where the demo's invented week lies, and the tour's places (invented names)."""

from replanner.files.resources import demo_file
from replanner.geodesy import Point

WEEK = demo_file("week.toml")

PLACES = {
    "cindergate": Point(-44.59, 169.65, 971.0),
    "orrowick": Point(-46.36, 168.02, 8.0),
    "hask": Point(-45.96, 167.69, 612.0),
    "umber": Point(-46.15, 169.35, 808.0),
    "pellow": Point(-46.11, 169.51, 130.0),
    "tolfen": Point(-46.45, 169.69, 20.0),
    "stonewell": Point(-44.95, 170.6, 60.0),
    "tarnbridge": Point(-45.25, 169.38, 200.0),
}
