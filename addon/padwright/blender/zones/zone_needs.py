"""What operators on the active zone need before they start, and the question before paint goes."""

from .. import state


def missing_zone(part, *, needs_pad):
    """Return in words what an operator on the active zone still needs, or nothing."""
    if not part.is_started:
        return "Start a part first"
    if state.row_at(part.zones, part.zone_index) is None:
        return "Add a zone first"
    if needs_pad and (part.pad is None or state.is_gone(part.pad)):
        return "Build the pad first"
    return state.unusable(part.pad) if needs_pad else ""


def free_level(taken, rest):
    """Return a level for a new zone that can be told from the rest: one that no zone has, near the rest's, if any."""
    middle = 2.0 if rest is None else rest
    levels = sorted((1.0, 2.0, 3.0, 4.0), key=lambda level: (level in taken, abs(level - middle), -level))
    return next(level for level in levels if level != rest)


def is_painted(part, number):
    """Say if a zone is painted now, whatever its mark says."""
    from . import painting

    return number in painting.painted(part)


def ask(operator, context, event, message):
    """Ask before something goes."""
    return context.window_manager.invoke_confirm(operator, event, title=operator.bl_label, message=message)
