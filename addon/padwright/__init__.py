"""Padwright: from two scans to one printable, zoned, flexible part.

Importing this package needs no modeller and no compiled library; stages import what they need when they run.
"""


def register() -> None:
    """Put the add-on into the modeller."""
    from .blender import registration

    registration.register()


def unregister() -> None:
    """Take the add-on out of the modeller."""
    from .blender import registration

    registration.unregister()
