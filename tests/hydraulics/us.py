"""Published examples are in feet: factors to SI, from the project's own."""

from screening.units import M3_PER_FT3, M3_PER_GAL, M_PER_FT, MM_PER_IN, MM_PER_M

FT = M_PER_FT
IN = MM_PER_IN / MM_PER_M
CFS = M3_PER_FT3
GPM = M3_PER_GAL / 60.0
