"""Which values of the load check can be shown; apart from what shows them, which needs numpy."""

PRESSURE, BEFORE, STRAIN, GIVE = "pressure", "pressure_before", "strain", "give"
VALUES = {  # key: title, tooltip, unit, factor from the attribute
    PRESSURE: ("Pressure", "Under the load case that the list shows, in kPa", "kPa", 1.0),
    BEFORE: ("Pressure Before Tuning", "With the zones' own levels, in kPa, on the same scale", "kPa", 1.0),
    STRAIN: ("Strain", "How much of its thickness the pad is squeezed by, in percent", "%", 100.0),
    GIVE: ("Give Used", "How much of its give the pad has used up, in percent: at 100 it bottoms out", "%", 100.0),
}
