"""The cautions that belong to an estimate of an oscillator, each once."""

from __future__ import annotations

ESTIMATE = "Crystal margin and drive are estimates: measure hot, cold and at minimum supply."
CORNERS = "Limits are guaranteed corners; what works on a bench proves nothing."
TYPICAL = "Typical is not maximum: use the sheet’s guaranteed end of each figure."
SHEET = "The datasheets of part and crystal, with their errata, rule."
