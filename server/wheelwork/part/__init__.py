"""The part sheet: one text file that describes a microcontroller's clocks, windows, core-voltage steps and currents."""
