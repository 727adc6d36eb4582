"""The body on the pad: contact, pressure, sinkage, tuning."""
