"""Physical constants of the field, each with its source."""

SPEED_OF_LIGHT_MPS = 299_792_458.0  # SI definition
TRANSMIT_FREQUENCY_HZ = 457_000.0  # ASTM F1491-93 (reapproved 2002), section 3
NEAR_FIELD_LENGTH_M = SPEED_OF_LIGHT_MPS / TRANSMIT_FREQUENCY_HZ / (2.0 * 3.141592653589793)  # 104.4058 m
COAXIAL_OVER_BROADSIDE = 2.0 ** (1.0 / 3.0)  # ratio of readings at one range; field ratio 2:1, Griffiths 5.4.3
