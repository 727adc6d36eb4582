"""A trial's note as it is being filled in, the notes there are, and what is proposed for the next print."""

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    StringProperty,
)

OPEN = "open"
"""What stands for a question that was not answered."""

FEELS_ITEMS = [
    (OPEN, "Skip", "Not answered"),
    ("too firm", "Too Firm", "It is too firm here"),
    ("right", "Right", "It is right here"),
    ("too soft", "Too Soft", "It is too soft here"),
]
THAN_LAST_ITEMS = [
    (OPEN, "Skip", "Not answered"),
    ("better", "Better", "Better here than the print worn before"),
    ("same", "Same", "No difference here to the print worn before"),
    ("worse", "Worse", "Worse here than the print worn before"),
]


class PADWRIGHT_PG_answer(bpy.types.PropertyGroup):
    """What the wearer says of one zone."""

    name: StringProperty(name="Zone", description="Name of the zone")
    feels: EnumProperty(name="Feels", description="How it feels here", items=FEELS_ITEMS)
    than_last: EnumProperty(
        name="Than Last", description="Against the print worn before this one", items=THAN_LAST_ITEMS
    )


class PADWRIGHT_PG_noted(bpy.types.PropertyGroup):
    """A trial that was noted."""

    name: StringProperty(name="Day", description="When it was worn")
    revision: StringProperty(name="Print", description="Revision of the print that was worn")
    said: StringProperty(name="Said", description="What was said of it")
    compared: StringProperty(name="Compared", description="How the print came out, where its scan was compared")


class PADWRIGHT_PG_change(bpy.types.PropertyGroup):
    """What is proposed for one zone."""

    name: StringProperty(name="Zone", description="Name of the zone")
    times: FloatProperty(name="Times", description="Times as stiff as its level, in the next print", default=1.0)
    is_changed: BoolProperty(name="Is Changed", description="The next print differs here")
    said: StringProperty(name="Change", description="What changes, in words")
    why: StringProperty(name="Why", description="Why it is proposed")
    watch: StringProperty(name="Watch", description="What to look at when it is worn")


class PADWRIGHT_PG_changed(bpy.types.PropertyGroup):
    """One thing that is not the same in two revisions."""

    name: StringProperty(name="What", description="What changed")
    kind: StringProperty(name="Kind", description="Whether it is a key, a setting, a number predicted or what was felt")
    before: StringProperty(name="Before", description="In the print before")
    now: StringProperty(name="Now", description="In this print")
    change: StringProperty(name="Change", description="How much that is")


class PADWRIGHT_PG_trials(bpy.types.PropertyGroup):
    """Trials of the part's prints."""

    folder: StringProperty(
        name="Notes In",
        description="Folder of the file with the notes; empty: beside the saved scene",
        subtype="DIR_PATH",
    )
    is_open: BoolProperty(name="Is Open", description="A note is being filled in")
    revision: StringProperty(name="Print", description="Revision of the print that was worn")
    before: StringProperty(name="Print Before", description="Revision that was worn before; empty where there is none")
    date: StringProperty(name="Day", description="The day it was worn, as 2026-03-14")
    hours_worn: FloatProperty(
        name="Hours Worn", description="How long, this time", min=0.0, max=24.0, precision=1, step=50
    )
    activity: StringProperty(name="Doing", description="What was done on it")
    answers: CollectionProperty(type=PADWRIGHT_PG_answer, name="Zones", description="What was felt, zone by zone")
    pain: IntProperty(name="Pain", description="Worst pain, from 0, none, to 10", min=0, max=10)
    has_pain_point: BoolProperty(name="Has Place", description="The sore place was picked on the pad")
    pain_point: FloatVectorProperty(name="Sore Place", description="In the base scan's own numbers", precision=4)
    slipped: StringProperty(name="Slipped", description="What slipped")
    wore: StringProperty(name="Wore Off", description="What wore off, tore or came apart")
    photos: StringProperty(name="Photos", description="Names of photos, with commas between them")
    note: StringProperty(name="Else", description="Anything else")
    noted: CollectionProperty(type=PADWRIGHT_PG_noted, name="Notes", description="Trials that were noted")
    noted_index: IntProperty(name="Note", description="The note in work", min=0)
    changes: CollectionProperty(type=PADWRIGHT_PG_change, name="Changes", description="Proposed zone by zone")
    next_revision: StringProperty(name="Next Print", description="Revision that is proposed")
    proposed_of: StringProperty(name="Proposed From", description="Revision that the proposal starts from")
    changed: CollectionProperty(type=PADWRIGHT_PG_changed, name="Changed", description="Against the print before")
    changed_said: StringProperty(name="In Short", description="What changed, line by line")
    changed_of: StringProperty(name="Changed Between", description="The two prints that were compared")
    begun_from: StringProperty(name="Begun From", description="Revision that the part's own was begun from")
    goal: StringProperty(name="Aim", description="Aim of the next print; empty: as now")
    stop: StringProperty(name="Stop", description="What is to be heeded before all else, line by line")
    told: StringProperty(name="Told", description="What else the proposal tells, line by line")
