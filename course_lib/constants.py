"""Constants of nature and a few textbook values, one line each, SI, with the source."""

import math

GRAVITY = 9.80665  # m/s2, standard acceleration of free fall, exact (NIST SP 811, appendix B.8)
ATMOSPHERE = 101325.0  # Pa, standard atmosphere, exact (NIST SP 811, appendix B.8)
ZERO_CELSIUS = 273.15  # K, 0 degrees Celsius, exact (NIST SP 811, section 4.2.1.1)
AIR_GAS_CONSTANT = 287.053  # J/(kg K), dry air (US Standard Atmosphere 1976; from memory)
SEA_LEVEL_TEMPERATURE = 288.15  # K (US Standard Atmosphere 1976; from memory)
LAPSE_RATE = 0.0065  # K/m, troposphere (US Standard Atmosphere 1976; from memory)
AIR_DENSITY = 1.225  # kg/m3, sea level, 15 degrees Celsius (US Standard Atmosphere 1976; from memory)
SHARP_EDGE_DISCHARGE = math.pi / (math.pi + 2.0)  # -, von Mises slot, 0.611 (Merritt 1967; from memory)
ORIFICE_VELOCITY = 0.98  # -, velocity coefficient of a sharp edge (Merritt 1967; from memory)
SPOOL_JET_ANGLE = math.radians(69.0)  # rad, jet of a square-land spool (Merritt 1967; from memory)
