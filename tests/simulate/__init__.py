"""Worlds with a known truth: simulated drives to hold the program's answers against.

`World(seed, **options)` draws wheel, ground, ring log and a true wear process and lets a crew drive to the face.
``world.site`` is what the site has on record there, ``world.truth`` what it cannot know, and ``world.follow()`` goes on
from there under a planner's decisions. Path and wear are reckoned here in a plain way of its own, on purpose.

`seeds` lists the worlds of the studies, `policies` ways to go on (a planner, simple rules, perfect foresight), `write`
writes a world as a site folder, `sample` makes the drive that ships with the program.
"""

from .options import Options
from .world import Truth, World

__all__ = ["Options", "Truth", "World"]
