"""Constants of nature and a few textbook values, one line each, SI, with the source."""

import math

GRAVITY = 9.80665  # m/s2, standard acceleration of free fall, exact (NIST SP 811, appendix B.8)
ATMOSPHERE = 101325.0  # Pa, standard atmosphere, exact (NIST SP 811, appendix B.8)
ZERO_CELSIUS = 273.15  # K, 0 degrees Celsius, exact (NIST SP 811, section 4.2.1.1)
AIR_DENSITY = 1.225  # kg/m3, sea level, 15 degrees Celsius (US Standard Atmosphere 1976; from memory)
SHARP_EDGE_DISCHARGE = math.pi / (math.pi + 2.0)  # -, von Mises slot, 0.611 (Merritt 1967; from memory)
