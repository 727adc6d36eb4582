"""What the numbers of a mat's file may be in, as the panel offers it."""

from ..key_properties import choices_of

AS_FILE = "file"
_WORDS = {
    "kPa": "Kilopascals",
    "Pa": "Pascals: 1 is 0.001 kPa",
    "hPa": "Hectopascals: 1 is 0.1 kPa",
    "mbar": "Millibars: 1 is 0.1 kPa",
    "bar": "Bars: 1 is 100 kPa",
    "N/cm2": "Newtons per square centimeter: 1 is 10 kPa",
    "N/mm2": "Newtons per square millimeter: 1 is 1000 kPa",
    "mmHg": "Millimeters of mercury: 1 is 0.133 kPa",
    "psi": "Pounds per square inch: 1 is 6.89 kPa",
    "g/cm2": "Grams per square centimeter: 1 is 0.0981 kPa",
    "kg/cm2": "Kilograms per square centimeter: 1 is 98.1 kPa",
}
"""Written out: the core's own table would load with it on enabling. A test holds one to the other."""

MAT_UNIT_ITEMS = [
    (AS_FILE, "As the File States", "The file says what its numbers are in"),
    *((each, each, _WORDS[each]) for each in choices_of("mat.unit") if each in _WORDS),
    ("raw", "Raw", "Numbers of no unit: only how they differ from place to place counts"),
]
"""Saved scenes hold a unit by its place in here."""
