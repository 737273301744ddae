"""EN 1264-2 and -3: the heat output of a floor with warm water in it, and how warm the floor may become.

The method is a straight characteristic φ = K_H · ΔθH, its slope a product of factors read from tables, and a
limit curve that keeps the warmest part of the floor under its permitted temperature.

Types: A, pipes in the screed (C, pipes in a levelling screed under it, has the same factors); B, pipes under
the screed with heat-conducting devices; D, water all over a plane.

Sources: no page of EN 1264 itself was seen (2008+A1:2012 and 2021 share, from memory, what is used here).
Equations and tables were read in two open transcriptions made by different hands: type A in one of
prEN 1264-2:2020, all types in one of ISO 11855-2:2021 annex A, which took the method over. They agree but for
two table entries, named there. Table numbers are the prEN's for type A and ISO 11855-2's for type B.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from warmstead.standards.errors import NotPhysical, OutOfScope, check_above_zero, check_not_below_zero

if TYPE_CHECKING:
    from collections.abc import Sequence

Zone = Literal["occupied", "peripheral", "bathroom"]

# Where the figures of each table come from: a published table, read in a transcription of it, or memory
# alone, of which a caller should warn.
PROVENANCE: Final[dict[str, Literal["published_table", "from_memory"]]] = {
    "type_a.a_T": "published_table",
    "type_a.a_U": "published_table",
    "type_a.a_D": "published_table",
    "type_a.B_G": "published_table",
    "type_a.n_G": "published_table",
    "type_b.a_T": "published_table",
    "type_b.b_u": "published_table",
    "type_b.a_WL": "published_table",
    "type_b.a_K": "published_table",
    "type_b.B_G": "published_table",
    "type_b.n_G": "published_table",
    "type_d.limit": "from_memory",
}

# --- Constants of the equations (EN 1264-2; read in both transcriptions) ---
SURFACE_COEFFICIENT_W_M2K = 10.8  # α, floor to room
REFERENCE_SCREED_THICKNESS_M = 0.045  # s_u,0
REFERENCE_SCREED_CONDUCTIVITY_W_MK = 1.0  # λ_u,0
REFERENCE_PIPE_WALL_THICKNESS_M = 0.002  # s_R,0
REFERENCE_PIPE_CONDUCTIVITY_W_MK = 0.35  # λ_R,0
SYSTEM_COEFFICIENT_A_W_M2K = 6.7  # B_0 of types A and C
SYSTEM_COEFFICIENT_B_W_M2K = 6.5  # B_0 of types B and D
WIDEST_SPACING_A_M = 0.375  # the last one in the tables of type A
REFERENCE_SURFACE_EXCESS_K = 9.0  # Δθ_0 of the limit curves
# The screed for which the limit tables of type A meet each other (our finding). They go by s_u/λ_E, which
# allows a worse conductor more heat, against conduction: at λ_E 0.6 and T 0.30 m 100 W/m² where a numerical
# solution allows about 70. A caller should warn of a λ_E well under this one.
LIMIT_REFERENCE_SCREED_CONDUCTIVITY_W_MK = 1.2
_SURFACE_RESISTANCE_M2K_W = 1.0 / SURFACE_COEFFICIENT_W_M2K
_REFERENCE_RESISTANCE_M2K_W = (
    _SURFACE_RESISTANCE_M2K_W + REFERENCE_SCREED_THICKNESS_M / REFERENCE_SCREED_CONDUCTIVITY_W_MK
)

# --- Type A: tables (rows pipe spacing T in m, columns covering resistance R_λ,B in m²K/W) ---
# Both transcriptions agree in every entry.
_COVERING_M2K_W = (0.0, 0.05, 0.10, 0.15)
_SPACING_A_M = (0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375)

# Table A.1, spacing factor a_T.
_A_T_TYPE_A = (1.23, 1.188, 1.156, 1.134)

# Table A.2, screed factor a_U.
_A_U_TYPE_A = (
    (1.069, 1.056, 1.043, 1.037),
    (1.066, 1.053, 1.041, 1.035),
    (1.063, 1.05, 1.039, 1.0335),
    (1.057, 1.046, 1.035, 1.0305),
    (1.051, 1.041, 1.0315, 1.0275),
    (1.048, 1.038, 1.0295, 1.026),
    (1.0395, 1.031, 1.024, 1.021),
    (1.03, 1.0221, 1.0181, 1.015),
)

# Table A.3, pipe diameter factor a_D.
_A_D_TYPE_A = (
    (1.013, 1.013, 1.012, 1.011),
    (1.021, 1.019, 1.016, 1.014),
    (1.029, 1.025, 1.022, 1.018),
    (1.04, 1.034, 1.029, 1.024),
    (1.046, 1.04, 1.035, 1.03),
    (1.049, 1.043, 1.038, 1.033),
    (1.053, 1.049, 1.044, 1.039),
    (1.056, 1.051, 1.046, 1.042),
)

# --- Type A: limit curve (rows pipe spacing T in m, columns s_u/λ_E in m²K/W) ---
_SCREED_WEIGHT_M2K_W = (0.01, 0.0208, 0.0292, 0.0375, 0.0458, 0.0542, 0.0625, 0.0708, 0.0792)

# Table A.4, limit coefficient B_G for s_u/λ_E up to 0.0792. At (0.3, 0.0458) one transcription has 51.5,
# the other 41.5: only 41.5 lies between its neighbours.
_B_G_TYPE_A = (
    (85.0, 91.5, 96.8, 100.0, 100.0, 100.0, 100.0, 100.0, 100.0),
    (75.3, 83.5, 89.9, 96.3, 99.5, 100.0, 100.0, 100.0, 100.0),
    (66.0, 75.4, 82.9, 89.3, 95.5, 98.8, 100.0, 100.0, 100.0),
    (51.0, 61.1, 69.2, 76.3, 82.7, 87.5, 91.8, 95.1, 97.8),
    (38.5, 48.2, 56.2, 63.1, 69.1, 74.5, 81.3, 86.4, 90.0),
    (33.0, 42.5, 49.5, 56.5, 62.0, 67.5, 75.3, 81.6, 86.1),
    (20.5, 26.8, 31.6, 36.4, 41.5, 47.5, 57.5, 65.3, 72.4),
    (11.5, 13.7, 15.5, 18.2, 21.5, 27.5, 40.0, 49.1, 58.3),
)

# Table A.6, limit exponent n_G for s_u/λ_E up to 0.0792; it has two rows more than table A.4.
_SPACING_N_G_M = (0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.2625, 0.30, 0.3375, 0.375)
_N_G_TYPE_A = (
    (0.008, 0.005, 0.002, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    (0.024, 0.021, 0.018, 0.011, 0.002, 0.0, 0.0, 0.0, 0.0),
    (0.046, 0.043, 0.041, 0.033, 0.014, 0.005, 0.0, 0.0, 0.0),
    (0.088, 0.085, 0.082, 0.076, 0.055, 0.038, 0.024, 0.014, 0.006),
    (0.131, 0.13, 0.129, 0.123, 0.105, 0.083, 0.057, 0.04, 0.028),
    (0.155, 0.154, 0.153, 0.146, 0.13, 0.11, 0.077, 0.056, 0.041),
    (0.197, 0.196, 0.196, 0.19, 0.173, 0.15, 0.11, 0.083, 0.062),
    (0.254, 0.253, 0.253, 0.245, 0.228, 0.195, 0.145, 0.114, 0.086),
    (0.322, 0.321, 0.321, 0.31, 0.293, 0.26, 0.187, 0.148, 0.115),
    (0.422, 0.421, 0.421, 0.405, 0.385, 0.325, 0.23, 0.183, 0.142),
)

# Tables A.5 and A.7, the same two for s_u/λ_E above 0.0792, by s_u/T; past 0.75 they stay at 100 and 0. For
# s_u/T = 0.40 one transcription has 84.4, the other 84.5: only with 84.4 does the table meet table A.4 at
# 0.0792 (λ_E 1.2, T 0.225: 86.1).
_SCREED_TO_SPACING = (0.173, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75)
_B_G_THICK_SCREED = (27.5, 40.0, 57.5, 69.5, 78.2, 84.4, 88.3, 91.6, 94.0, 96.3, 98.6, 99.8, 100.0)
_N_G_THICK_SCREED = (0.32, 0.23, 0.145, 0.097, 0.067, 0.048, 0.033, 0.023, 0.015, 0.009, 0.005, 0.002, 0.0)

# --- Type B: tables, read in the transcription of ISO 11855-2:2021 only ---
# Table A.9, spacing factor a_T by s_u/λ_E.
_SCREED_WEIGHT_B_M2K_W = (0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10, 0.15, 0.18)
_A_T_TYPE_B = (1.103, 1.100, 1.097, 1.094, 1.091, 1.088, 1.082, 1.075, 1.064, 1.059)

# Table A.10, the share b_u of the screed that spreads heat like the device, by T; 1 under 0.10 m.
_SPACING_B_U_M = (0.05, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375, 0.45)
_B_U = (1.0, 1.0, 0.7, 0.5, 0.43, 0.25, 0.1, 0.0)

_SPACING_B_M = (0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375, 0.45)

# Tables A.11 to A.15, device factor a_WL for K_WL 0 to 0.4: rows T, columns pipe diameter D in m. For K_WL
# 0.1 at T 0.10 the step from 0.76 to 0.77 is out of line with its neighbours, perhaps a misprint; kept as
# read.
_DIAMETER_B_M = (0.014, 0.016, 0.018, 0.020, 0.022)
_DEVICE_VALUE_THIN = (0.0, 0.1, 0.2, 0.3, 0.4)
_A_WL_THIN = (
    (
        (0.82, 0.86, 0.9, 0.93, 0.96),
        (0.59, 0.644, 0.7, 0.754, 0.8),
        (0.488, 0.533, 0.576, 0.617, 0.658),
        (0.387, 0.415, 0.444, 0.47, 0.505),
        (0.337, 0.357, 0.379, 0.4, 0.422),
        (0.32, 0.34, 0.357, 0.376, 0.396),
        (0.288, 0.3, 0.315, 0.33, 0.344),
        (0.266, 0.278, 0.29, 0.3, 0.312),
        (0.25, 0.264, 0.28, 0.29, 0.3),
    ),
    (
        (0.88, 0.905, 0.93, 0.955, 0.975),
        (0.74, 0.776, 0.812, 0.836, 0.859),
        (0.66, 0.693, 0.726, 0.76, 0.77),
        (0.561, 0.58, 0.6, 0.621, 0.642),
        (0.49, 0.51, 0.53, 0.55, 0.57),
        (0.467, 0.485, 0.504, 0.522, 0.54),
        (0.435, 0.444, 0.453, 0.462, 0.472),
        (0.411, 0.421, 0.434, 0.446, 0.46),
        (0.41, 0.42, 0.43, 0.44, 0.45),
    ),
    (
        (0.92, 0.937, 0.955, 0.97, 0.985),
        (0.845, 0.865, 0.885, 0.893, 0.902),
        (0.81, 0.821, 0.832, 0.843, 0.855),
        (0.735, 0.745, 0.755, 0.765, 0.775),
        (0.68, 0.688, 0.695, 0.703, 0.71),
        (0.655, 0.663, 0.67, 0.678, 0.685),
        (0.585, 0.592, 0.6, 0.608, 0.615),
        (0.55, 0.558, 0.565, 0.573, 0.58),
        (0.55, 0.555, 0.56, 0.565, 0.57),
    ),
    (
        (0.95, 0.96, 0.97, 0.98, 0.99),
        (0.92, 0.925, 0.93, 0.935, 0.94),
        (0.9, 0.905, 0.91, 0.915, 0.92),
        (0.855, 0.855, 0.855, 0.855, 0.855),
        (0.8, 0.8, 0.8, 0.8, 0.8),
        (0.79, 0.79, 0.79, 0.79, 0.79),
        (0.72, 0.72, 0.72, 0.72, 0.72),
        (0.69, 0.69, 0.69, 0.69, 0.69),
        (0.68, 0.68, 0.68, 0.68, 0.68),
    ),
    (
        (0.97, 0.978, 0.985, 0.99, 0.995),
        (0.965, 0.964, 0.963, 0.962, 0.96),
        (0.94, 0.94, 0.94, 0.94, 0.94),
        (0.895, 0.895, 0.895, 0.895, 0.895),
        (0.86, 0.86, 0.86, 0.86, 0.86),
        (0.84, 0.84, 0.84, 0.84, 0.84),
        (0.78, 0.78, 0.78, 0.78, 0.78),
        (0.76, 0.76, 0.76, 0.76, 0.76),
        (0.75, 0.75, 0.75, 0.75, 0.75),
    ),
)

# Table A.16, a_WL for K_WL from 0.5 on, whatever the diameter: rows T, columns K_WL; then endless K_WL by T.
_DEVICE_VALUE_THICK = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_A_WL_THICK = (
    (0.995, 0.998, 1.0, 1.0, 1.0, 1.0),
    (0.979, 0.984, 0.99, 0.995, 0.998, 1.0),
    (0.963, 0.972, 0.98, 0.988, 0.995, 1.0),
    (0.924, 0.945, 0.96, 0.974, 0.99, 1.0),
    (0.894, 0.921, 0.943, 0.961, 0.98, 1.0),
    (0.88, 0.908, 0.934, 0.955, 0.975, 1.0),
    (0.83, 0.87, 0.91, 0.94, 0.97, 1.0),
    (0.815, 0.86, 0.9, 0.93, 0.97, 1.0),
    (0.81, 0.86, 0.9, 0.93, 0.97, 1.0),
)
_A_WL_ENDLESS = (1.0, 1.01, 1.02, 1.04, 1.06, 1.07, 1.09, 1.10, 1.10)

# Table A.17, factor a_K for the contact of screed and device, by T.
_A_K = (1.0, 0.99, 0.98, 0.95, 0.92, 0.90, 0.82, 0.72, 0.60)

# Tables A.18 and A.19, limit coefficient B_G and exponent n_G with devices as wide as the spacing: rows K_WL,
# columns T.
_DEVICE_VALUE_LIMIT = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5)
_B_G_TYPE_B = (
    (92.0, 86.7, 79.4, 64.8, 50.8, 45.8, 27.5, 9.9, 0.0),
    (93.1, 88.0, 81.3, 67.5, 54.2, 49.0, 31.8, 15.8, 2.4),
    (94.2, 89.5, 83.3, 70.2, 57.6, 52.5, 36.0, 21.3, 7.0),
    (95.4, 90.7, 85.2, 72.9, 60.8, 56.0, 40.2, 25.7, 11.9),
    (96.6, 92.1, 87.2, 75.6, 64.1, 59.3, 44.4, 30.0, 16.6),
    (97.8, 93.7, 89.2, 78.3, 67.3, 62.6, 48.6, 34.1, 21.1),
    (98.7, 95.0, 91.0, 81.0, 70.6, 66.3, 52.8, 38.5, 25.5),
    (99.3, 96.3, 93.0, 83.7, 74.0, 69.7, 57.0, 42.8, 29.6),
    (99.8, 97.7, 95.0, 86.3, 77.2, 73.0, 61.2, 47.0, 33.6),
    (100.0, 98.5, 96.5, 89.0, 80.7, 76.6, 65.4, 51.4, 37.3),
    (100.0, 99.3, 97.8, 91.5, 84.0, 80.0, 69.4, 55.6, 40.9),
    (100.0, 99.6, 98.5, 93.8, 87.2, 83.3, 73.2, 59.8, 44.3),
    (100.0, 99.8, 99.3, 95.8, 90.0, 86.3, 76.6, 63.8, 47.5),
    (100.0, 100.0, 99.8, 97.5, 92.5, 89.0, 80.0, 67.3, 50.5),
    (100.0, 100.0, 100.0, 98.6, 94.8, 91.7, 83.0, 71.0, 53.4),
)
_N_G_TYPE_B = (
    (0.0029, 0.017, 0.032, 0.067, 0.122, 0.151, 0.235, 0.333, 1.0),
    (0.0024, 0.015, 0.027, 0.055, 0.097, 0.12, 0.184, 0.288, 0.725),
    (0.0021, 0.013, 0.024, 0.048, 0.086, 0.104, 0.169, 0.256, 0.482),
    (0.0018, 0.012, 0.022, 0.044, 0.08, 0.095, 0.156, 0.228, 0.38),
    (0.0015, 0.011, 0.02, 0.04, 0.074, 0.088, 0.143, 0.204, 0.31),
    (0.0012, 0.0099, 0.018, 0.037, 0.067, 0.082, 0.131, 0.183, 0.25),
    (0.0009, 0.0087, 0.016, 0.033, 0.061, 0.074, 0.118, 0.162, 0.21),
    (0.0006, 0.0074, 0.014, 0.03, 0.055, 0.067, 0.106, 0.144, 0.187),
    (0.0003, 0.0062, 0.012, 0.027, 0.049, 0.06, 0.095, 0.126, 0.165),
    (0.0, 0.005, 0.01, 0.024, 0.044, 0.053, 0.083, 0.11, 0.143),
    (0.0, 0.0038, 0.008, 0.021, 0.038, 0.046, 0.072, 0.096, 0.121),
    (0.0, 0.0025, 0.006, 0.018, 0.032, 0.038, 0.063, 0.084, 0.107),
    (0.0, 0.0012, 0.004, 0.015, 0.027, 0.034, 0.054, 0.073, 0.093),
    (0.0, 0.0, 0.002, 0.012, 0.022, 0.029, 0.047, 0.063, 0.08),
    (0.0, 0.0, 0.0, 0.009, 0.02, 0.025, 0.04, 0.055, 0.07),
)


# Where a value lies on the axis of a table: the interval's number, and the share of it passed.
_Place = tuple[int, float]


class _Pipe(NamedTuple):
    outside_diameter_m: float
    wall_thickness_m: float
    conductivity_w_mk: float


class Characteristic(NamedTuple):
    """The characteristic of a heated floor, and its limit curve; with the factors that EN 1264-2 prints."""

    gradient_w_m2k: float  # K_H
    limit_coefficient: float  # B_G
    limit_exponent: float  # n_G
    screed_weight_m2k_w: float  # s_u/λ_E
    system_coefficient_w_m2k: float  # B, with the influence of the pipe's material
    covering_factor: float  # a_B
    spacing_factor: float  # a_T
    spacing_exponent: float  # m_T
    screed_factor: float  # a_U
    screed_exponent: float  # m_U; 1 for types B and D
    diameter_factor: float  # a_D; 1 for types B and D
    diameter_exponent: float  # m_D; 0 for types B and D
    device_factor: float  # a_WL of type B; 1 for the others
    contact_factor: float  # a_K of type B; 1 for the others
    device_value: float  # K_WL of type B; 0 for the others
    limit_gradient_w_m2k: float  # K_H of the case that B_G and n_G were tabulated for (T 0.375 m; L = T)
    limit_factor: float  # from that case's limit to this one's: f_G · 0.375/T, a_WL(L)/a_WL(T), or 1


def type_a(
    *,
    pipe_spacing_m: float,
    covering_resistance_m2k_w: float,
    screed_thickness_m: float,
    screed_conductivity_w_mk: float,
    pipe_outside_diameter_m: float,
    pipe_wall_thickness_m: float = REFERENCE_PIPE_WALL_THICKNESS_M,
    pipe_conductivity_w_mk: float = REFERENCE_PIPE_CONDUCTIVITY_W_MK,
) -> Characteristic:
    """The characteristic of a floor with its pipes in the screed (type A; type C alike).

    EN 1264-2, φ = B · a_B · a_T^m_T · a_U^m_U · a_D^m_D · ΔθH (ISO 11855-2:2021 annex A, equations A.3 to
    A.10 and A.26). Bilinear interpolation in the tables. A spacing over 0.375 m has the flux of 0.375 m
    times 0.375/T; a screed over s_u* (0.100 m, or half a spacing over 0.200 m) adds its excess as a plain
    resistance.

    The method is a fit. Under a λ_E of about 0.8 W/(m·K), with pipes wide apart, its factors let a thicker
    covering or a wider spacing raise the output: by up to 3 % at 0.4, a quarter at 0.15.

    Args:
        pipe_spacing_m: T, between pipe axes, m; 0.05 and more.
        covering_resistance_m2k_w: R_λ,B of the floor covering, m²K/W; 0 to 0.15.
        screed_thickness_m: s_u, above the pipes, m; 0.010 and more.
        screed_conductivity_w_mk: λ_E, W/(m·K); above 0, with s_u/λ_E at least 0.01.
        pipe_outside_diameter_m: D, m; 0.008 to 0.030.
        pipe_wall_thickness_m: s_R, m; above 0, under half the diameter.
        pipe_conductivity_w_mk: λ_R, W/(m·K); above 0.

    Raises:
        OutOfScope: outside these ranges, or s_u/λ_E over 0.0792 with s_u/T under 0.173 (no limit curve).
        NotPhysical: a pipe or a screed that cannot be.
    """
    check_above_zero(screed_conductivity_w_mk, "screed_conductivity_w_mk", "EN 1264-2")
    pipe = _checked_pipe(pipe_outside_diameter_m, pipe_wall_thickness_m, pipe_conductivity_w_mk)
    _check_within("pipe_spacing_m", pipe_spacing_m, _SPACING_A_M[0], math.inf)
    _check_covering(covering_resistance_m2k_w)
    _check_within("screed_thickness_m", screed_thickness_m, 0.010, math.inf)
    _check_within("pipe_outside_diameter_m", pipe_outside_diameter_m, 0.008, 0.030)
    screed_weight = screed_thickness_m / screed_conductivity_w_mk
    _check_within("screed_thickness_m", screed_weight, 0.01, math.inf, quantity="s_u/λ_E")

    spacing = min(pipe_spacing_m, WIDEST_SPACING_A_M)
    row = _place(_SPACING_A_M, spacing)
    column = _place(_COVERING_M2K_W, covering_resistance_m2k_w)
    # s_u*: screed beyond it no longer spreads the heat sideways, it only resists.
    spreading_screed = min(screed_thickness_m, 0.100 if spacing <= 0.200 else 0.5 * spacing)

    reference_screed = REFERENCE_SCREED_THICKNESS_M / screed_conductivity_w_mk
    a_b = _REFERENCE_RESISTANCE_M2K_W / (
        _SURFACE_RESISTANCE_M2K_W + reference_screed + covering_resistance_m2k_w
    )
    a_t, m_t = _linear(_A_T_TYPE_A, column), 1.0 - spacing / 0.075
    a_u, m_u = _bilinear(_A_U_TYPE_A, row, column), 100.0 * (REFERENCE_SCREED_THICKNESS_M - spreading_screed)
    a_d, m_d = _bilinear(_A_D_TYPE_A, row, column), 250.0 * (pipe_outside_diameter_m - 0.020)
    factors = a_b * a_t**m_t * a_u**m_u * a_d**m_d
    system_coefficient = _system_coefficient(SYSTEM_COEFFICIENT_A_W_M2K, factors, spacing, pipe)
    excess_screed_resistance = (screed_thickness_m - spreading_screed) / screed_conductivity_w_mk
    gradient = 1.0 / (1.0 / (system_coefficient * factors) + excess_screed_resistance)
    b_g, n_g = _limit_curve_a(spacing, screed_thickness_m, screed_weight)
    return Characteristic(
        gradient_w_m2k=gradient * spacing / pipe_spacing_m,
        limit_coefficient=b_g,
        limit_exponent=n_g,
        screed_weight_m2k_w=screed_weight,
        system_coefficient_w_m2k=system_coefficient,
        covering_factor=a_b,
        spacing_factor=a_t,
        spacing_exponent=m_t,
        screed_factor=a_u,
        screed_exponent=m_u,
        diameter_factor=a_d,
        diameter_exponent=m_d,
        device_factor=1.0,
        contact_factor=1.0,
        device_value=0.0,
        limit_gradient_w_m2k=gradient,
        limit_factor=_limit_factor_of_wide_spacing(pipe_spacing_m, screed_thickness_m, gradient, b_g, n_g),
    )


def type_b(
    *,
    pipe_spacing_m: float,
    covering_resistance_m2k_w: float,
    screed_thickness_m: float,
    screed_conductivity_w_mk: float,
    pipe_outside_diameter_m: float,
    conducting_device_thickness_m: float,
    conducting_device_conductivity_w_mk: float,
    conducting_device_width_m: float,
    pipe_wall_thickness_m: float = REFERENCE_PIPE_WALL_THICKNESS_M,
    pipe_conductivity_w_mk: float = REFERENCE_PIPE_CONDUCTIVITY_W_MK,
) -> Characteristic:
    """The characteristic of a floor with its pipes under the screed, in heat-conducting devices (type B).

    EN 1264-2, φ = B · a_B · a_T^m_T · a_U · a_WL · a_K · ΔθH (ISO 11855-2:2021 annex A, equations A.11 to
    A.16, A.25 and A.26). Linear interpolation in the tables. The covering factor takes B of the reference
    pipe; another pipe's wall then adds to the resistance as it does for type A (our reading, not stated
    where we looked).

    Args:
        pipe_spacing_m: T, between pipe axes, m; 0.05 to 0.45.
        covering_resistance_m2k_w: R_λ,B of the floor covering, m²K/W; 0 to 0.15.
        screed_thickness_m: s_u of the layer over the devices, m; above 0, with s_u/λ_E 0.01 to 0.18.
        screed_conductivity_w_mk: λ_E of that layer, W/(m·K); above 0.
        pipe_outside_diameter_m: D, m; 0.014 to 0.022.
        conducting_device_thickness_m: s_WL, m; 0 or more.
        conducting_device_conductivity_w_mk: λ_WL, W/(m·K); above 0.
        conducting_device_width_m: L_WL of one device across its pipe, m; 0 to the spacing.
        pipe_wall_thickness_m: s_R, m; above 0, under half the diameter.
        pipe_conductivity_w_mk: λ_R, W/(m·K); above 0.

    Raises:
        OutOfScope: outside these ranges, or with K_WL = (s_WL·λ_WL + b_u·s_u·λ_E)/0.125 outside 0.1 to 1.5,
            or at 0.45 m and K_WL 0.1, where B_G is 0 (no limit curve).
        NotPhysical: a pipe, a screed or a device that cannot be.
    """
    check_above_zero(screed_thickness_m, "screed_thickness_m", "EN 1264-2")
    check_above_zero(screed_conductivity_w_mk, "screed_conductivity_w_mk", "EN 1264-2")
    check_above_zero(conducting_device_conductivity_w_mk, "conducting_device_conductivity_w_mk", "EN 1264-2")
    pipe = _checked_pipe(pipe_outside_diameter_m, pipe_wall_thickness_m, pipe_conductivity_w_mk)
    _check_device(conducting_device_thickness_m, conducting_device_width_m, pipe_spacing_m)
    _check_within("pipe_spacing_m", pipe_spacing_m, _SPACING_B_M[0], _SPACING_B_M[-1])
    _check_covering(covering_resistance_m2k_w)
    _check_within("pipe_outside_diameter_m", pipe_outside_diameter_m, _DIAMETER_B_M[0], _DIAMETER_B_M[-1])
    screed_weight = screed_thickness_m / screed_conductivity_w_mk
    _check_within("screed_thickness_m", screed_weight, 0.01, 0.18, quantity="s_u/λ_E")

    row = _place(_SPACING_B_M, pipe_spacing_m)
    b_u = _linear(_B_U, _place(_SPACING_B_U_M, pipe_spacing_m))
    device_value = (
        conducting_device_thickness_m * conducting_device_conductivity_w_mk
        + b_u * screed_thickness_m * screed_conductivity_w_mk
    ) / 0.125
    _check_within(
        "conducting_device_thickness_m",
        device_value,
        _DEVICE_VALUE_LIMIT[0],
        _DEVICE_VALUE_LIMIT[-1],
        quantity="K_WL",
    )

    a_t = _linear(_A_T_TYPE_B, _place(_SCREED_WEIGHT_B_M2K_W, screed_weight))
    m_t = 1.0 - pipe_spacing_m / 0.075
    a_u = _REFERENCE_RESISTANCE_M2K_W / (_SURFACE_RESISTANCE_M2K_W + screed_weight)
    a_k = _linear(_A_K, row)
    a_wl_full = _device_factor(device_value, row, pipe_outside_diameter_m)
    a_wl_none = _device_factor(0.0, row, pipe_outside_diameter_m)
    width = conducting_device_width_m / pipe_spacing_m
    a_wl = a_wl_full - (a_wl_full - a_wl_none) * (1.0 - 3.2 * width + 3.4 * width**2 - 1.2 * width**3)
    bare = a_t**m_t * a_u * a_k
    gradient, system_coefficient, a_b = _gradient_b(
        bare * a_wl, covering_resistance_m2k_w, pipe_spacing_m, pipe
    )
    limit_gradient, _, _ = _gradient_b(bare * a_wl_full, covering_resistance_m2k_w, pipe_spacing_m, pipe)
    b_g, n_g = _limit_curve_b(device_value, row)
    return Characteristic(
        gradient_w_m2k=gradient,
        limit_coefficient=b_g,
        limit_exponent=n_g,
        screed_weight_m2k_w=screed_weight,
        system_coefficient_w_m2k=system_coefficient,
        covering_factor=a_b,
        spacing_factor=a_t,
        spacing_exponent=m_t,
        screed_factor=a_u,
        screed_exponent=1.0,
        diameter_factor=1.0,
        diameter_exponent=0.0,
        device_factor=a_wl,
        contact_factor=a_k,
        device_value=device_value,
        limit_gradient_w_m2k=limit_gradient,
        limit_factor=a_wl / a_wl_full,
    )


def type_d(
    *, covering_resistance_m2k_w: float, screed_thickness_m: float, screed_conductivity_w_mk: float
) -> Characteristic:
    """The characteristic of a floor with water all over its plane (type D).

    EN 1264-2, φ = B · a_B · a_T^m_T · a_U · ΔθH with a_T^m_T = 1.06 (ISO 11855-2:2021 annex A, equations
    A.17 and A.18). Its surface is as warm everywhere, so its limit is the basic curve: B_G 100, n_G 0 (from
    memory).

    Args:
        covering_resistance_m2k_w: R_λ,B of the floor covering, m²K/W; 0 to 0.15.
        screed_thickness_m: s_u of the layer over the water, m; above 0.
        screed_conductivity_w_mk: λ_E of that layer, W/(m·K); above 0.

    Raises:
        OutOfScope: a covering outside that range.
        NotPhysical: a screed that cannot be.
    """
    check_above_zero(screed_thickness_m, "screed_thickness_m", "EN 1264-2")
    check_above_zero(screed_conductivity_w_mk, "screed_conductivity_w_mk", "EN 1264-2")
    _check_covering(covering_resistance_m2k_w)
    screed_weight = screed_thickness_m / screed_conductivity_w_mk
    a_u = _REFERENCE_RESISTANCE_M2K_W / (_SURFACE_RESISTANCE_M2K_W + screed_weight)
    a_b = 1.0 / (1.0 + SYSTEM_COEFFICIENT_B_W_M2K * 1.06 * a_u * covering_resistance_m2k_w)
    gradient = SYSTEM_COEFFICIENT_B_W_M2K * a_b * 1.06 * a_u
    return Characteristic(
        gradient_w_m2k=gradient,
        limit_coefficient=100.0,
        limit_exponent=0.0,
        screed_weight_m2k_w=screed_weight,
        system_coefficient_w_m2k=SYSTEM_COEFFICIENT_B_W_M2K,
        covering_factor=a_b,
        spacing_factor=1.06,
        spacing_exponent=1.0,
        screed_factor=a_u,
        screed_exponent=1.0,
        diameter_factor=1.0,
        diameter_exponent=0.0,
        device_factor=1.0,
        contact_factor=1.0,
        device_value=0.0,
        limit_gradient_w_m2k=gradient,
        limit_factor=1.0,
    )


def heat_flux(characteristic: Characteristic, excess_k: float) -> float:
    """The heat that a floor gives up to its room, W/m²: φ = K_H · ΔθH (EN 1264-2; clause from memory).

    Args:
        characteristic: of the floor.
        excess_k: logarithmic mean excess of the water over the room, K; 0 or more.

    Raises:
        NotPhysical: a negative excess.
    """
    check_not_below_zero(excess_k, "excess_k", "EN 1264-2")
    return characteristic.gradient_w_m2k * excess_k


def limit_heat_flux(characteristic: Characteristic, surface_excess_k: float) -> float:
    """The greatest heat a floor may give without its warmest part passing its permitted temperature, W/m².

    EN 1264-2: the limit curve φ_G = f · B_G · (ΔθH/f)^n_G with f = (Δθ_F,max/9)^1.1 meets the
    characteristic at ΔθH,G = f · (B_G/K_H)^(1/(1 − n_G)) (ISO 11855-2:2021 annex A, equations A.19 to
    A.25). Never more than the basic curve at Δθ_F,max: no floor's mean temperature passes its greatest. The
    fit alone would, by up to some 8 %, under thick coverings with pipes wide apart.

    Args:
        characteristic: of the floor.
        surface_excess_k: Δθ_F,max, permitted surface temperature minus room temperature, K; above 0.

    Raises:
        NotPhysical: a surface no warmer than the room.
    """
    check_above_zero(surface_excess_k, "surface_excess_k", "EN 1264-2")
    conversion = (surface_excess_k / REFERENCE_SURFACE_EXCESS_K) ** 1.1
    gradient = characteristic.limit_gradient_w_m2k
    limit_excess = conversion * (characteristic.limit_coefficient / gradient) ** (
        1.0 / (1.0 - characteristic.limit_exponent)
    )
    limit = characteristic.limit_factor * gradient * limit_excess
    return float(min(limit, basic_heat_flux(surface_excess_k)))


def basic_heat_flux(surface_excess_k: float) -> float:
    """The heat that any floor gives up at a mean surface excess, W/m²: φ = 8.92 · (θ_F,m − θ_i)^1.1.

    EN 1264-2, the basic characteristic (clause from memory).

    Args:
        surface_excess_k: mean surface temperature minus room temperature, K; 0 or more.

    Raises:
        NotPhysical: a negative excess.
    """
    check_not_below_zero(surface_excess_k, "surface_excess_k", "EN 1264-2")
    return float(8.92 * surface_excess_k**1.1)


def surface_excess(heat_flux_w_m2: float) -> float:
    """The mean surface excess at which a floor gives up a heat, K: the inverse of `basic_heat_flux`.

    Args:
        heat_flux_w_m2: upwards, W/m²; 0 or more.

    Raises:
        NotPhysical: a negative heat flux.
    """
    check_not_below_zero(heat_flux_w_m2, "heat_flux_w_m2", "EN 1264-2")
    return float((heat_flux_w_m2 / 8.92) ** (1.0 / 1.1))


def maximum_surface_temperature_c(zone: Zone, room_c: float) -> float:
    """The greatest temperature that a floor surface may have, °C.

    EN 1264-2: 29 °C where people stay, 35 °C in a peripheral strip (at most 1 m wide), room + 9 K in a
    bathroom (clause from memory).

    Args:
        zone: the part of the floor.
        room_c: the room, °C.
    """
    if zone == "bathroom":
        return room_c + 9.0
    return 29.0 if zone == "occupied" else 35.0


def resistance_up(
    *, covering_resistance_m2k_w: float, screed_thickness_m: float, screed_conductivity_w_mk: float
) -> float:
    """The resistance from the level of the pipes up to the room, m²K/W: R_o = 1/α + R_λ,B + s_u/λ_u.

    EN 1264-3 (ISO 11855-2:2021 annex A, equation A.30), with α = 10.8 W/(m²·K).

    Args:
        covering_resistance_m2k_w: R_λ,B of the floor covering, m²K/W; 0 or more.
        screed_thickness_m: s_u, above the pipes, m; 0 or more.
        screed_conductivity_w_mk: λ_u, W/(m·K); above 0.

    Raises:
        NotPhysical: an argument outside those bounds.
    """
    check_not_below_zero(covering_resistance_m2k_w, "covering_resistance_m2k_w", "EN 1264-2")
    check_not_below_zero(screed_thickness_m, "screed_thickness_m", "EN 1264-2")
    check_above_zero(screed_conductivity_w_mk, "screed_conductivity_w_mk", "EN 1264-2")
    return (
        _SURFACE_RESISTANCE_M2K_W + covering_resistance_m2k_w + screed_thickness_m / screed_conductivity_w_mk
    )


def downward_heat_flux(
    *,
    upward_heat_flux_w_m2: float,
    resistance_up_m2k_w: float,
    resistance_down_m2k_w: float,
    room_c: float,
    below_c: float,
) -> float:
    """The heat that the circuit loses downwards, W/m²: φ_u = (R_o · φ + θ_i − θ_u)/R_u.

    EN 1264-3 (ISO 11855-2:2021 annex A, equation A.29). The circuit's water carries it beside the heat for
    the room. Negative where the space below is warmer than the level of the pipes.

    Args:
        upward_heat_flux_w_m2: φ, W/m²; 0 or more.
        resistance_up_m2k_w: R_o, pipes to room, m²K/W; 0 or more.
        resistance_down_m2k_w: R_u, pipes to what lies below, its surface included, m²K/W; above 0.
        room_c: θ_i, °C.
        below_c: θ_u of what lies below, °C.

    Raises:
        NotPhysical: an argument outside those bounds.
    """
    check_not_below_zero(upward_heat_flux_w_m2, "upward_heat_flux_w_m2", "EN 1264-2")
    check_not_below_zero(resistance_up_m2k_w, "resistance_up_m2k_w", "EN 1264-2")
    check_above_zero(resistance_down_m2k_w, "resistance_down_m2k_w", "EN 1264-2")
    return (resistance_up_m2k_w * upward_heat_flux_w_m2 + room_c - below_c) / resistance_down_m2k_w


def _system_coefficient(reference_w_m2k: float, factors: float, spacing_m: float, pipe: _Pipe) -> float:
    """B of a pipe: 1/B = 1/B_0 + 1.1/π · Π a_i^m_i · T · (its wall − the reference wall)."""
    reference = _Pipe(
        pipe.outside_diameter_m, REFERENCE_PIPE_WALL_THICKNESS_M, REFERENCE_PIPE_CONDUCTIVITY_W_MK
    )
    wall = _pipe_wall_mk_w(pipe) - _pipe_wall_mk_w(reference)
    return 1.0 / (1.0 / reference_w_m2k + 1.1 / math.pi * factors * spacing_m * wall)


def _pipe_wall_mk_w(pipe: _Pipe) -> float:
    """ln(d_a/d_i)/(2 · λ_R), the resistance of a metre of pipe wall times π."""
    bore_m = pipe.outside_diameter_m - 2.0 * pipe.wall_thickness_m
    return math.log(pipe.outside_diameter_m / bore_m) / (2.0 * pipe.conductivity_w_mk)


def _gradient_b(
    bare_factors: float, covering_resistance_m2k_w: float, spacing_m: float, pipe: _Pipe
) -> tuple[float, float, float]:
    """K_H, B and a_B of type B, from the product of its factors without the covering's."""
    covering = covering_resistance_m2k_w * (1.0 + 0.44 * math.sqrt(spacing_m))
    a_b = 1.0 / (1.0 + SYSTEM_COEFFICIENT_B_W_M2K * bare_factors * covering)
    factors = a_b * bare_factors
    system_coefficient = _system_coefficient(SYSTEM_COEFFICIENT_B_W_M2K, factors, spacing_m, pipe)
    return system_coefficient * factors, system_coefficient, a_b


def _limit_curve_a(spacing_m: float, screed_thickness_m: float, screed_weight: float) -> tuple[float, float]:
    if screed_weight <= _SCREED_WEIGHT_M2K_W[-1]:
        column = _place(_SCREED_WEIGHT_M2K_W, screed_weight)
        return (
            _bilinear(_B_G_TYPE_A, _place(_SPACING_A_M, spacing_m), column),
            _bilinear(_N_G_TYPE_A, _place(_SPACING_N_G_M, spacing_m), column),
        )
    ratio = screed_thickness_m / spacing_m
    _check_within(
        "pipe_spacing_m", ratio, _SCREED_TO_SPACING[0], math.inf, quantity="s_u/T of the limit curve"
    )
    place = _place(_SCREED_TO_SPACING, min(ratio, _SCREED_TO_SPACING[-1]))
    return _linear(_B_G_THICK_SCREED, place), _linear(_N_G_THICK_SCREED, place)


def _limit_factor_of_wide_spacing(
    pipe_spacing_m: float, screed_thickness_m: float, gradient: float, b_g: float, n_g: float
) -> float:
    """f_G · 0.375/T of type A: the limit at a wider spacing over the limit at 0.375 m.

    f_G compares two fluxes that both grow with (Δθ_F,max/9)^1.1, so it is the same at every surface
    temperature, and is taken at 9 K.
    """
    if pipe_spacing_m <= WIDEST_SPACING_A_M:
        return 1.0
    thinned = WIDEST_SPACING_A_M / pipe_spacing_m
    ratio = screed_thickness_m / pipe_spacing_m
    if ratio <= _SCREED_TO_SPACING[0]:
        return thinned
    limit = gradient * (b_g / gradient) ** (1.0 / (1.0 - n_g)) * thinned
    greatest = basic_heat_flux(REFERENCE_SURFACE_EXCESS_K)
    limit_spread = greatest - (greatest - limit) * math.exp(-20.0 * (ratio - _SCREED_TO_SPACING[0]) ** 2)
    return float(thinned * limit_spread / limit)


def _limit_curve_b(device_value: float, row: _Place) -> tuple[float, float]:
    place = _place(_DEVICE_VALUE_LIMIT, device_value)
    b_g, n_g = _bilinear(_B_G_TYPE_B, place, row), _bilinear(_N_G_TYPE_B, place, row)
    if b_g <= 0.0 or n_g >= 1.0:
        raise OutOfScope(
            f"the tables have no limit curve for a device value of {device_value} at this spacing",
            field="pipe_spacing_m",
            value=device_value,
            limit="B_G above 0",
            clause="EN 1264-2, limit curves of type B",
        )
    return b_g, n_g


def _device_factor(device_value: float, row: _Place, diameter_m: float) -> float:
    """a_WL of a device as wide as the spacing."""
    column = _place(_DIAMETER_B_M, diameter_m)
    if device_value <= _DEVICE_VALUE_THIN[-1]:
        index, share = _place(_DEVICE_VALUE_THIN, device_value)
        thinner, thicker = (_bilinear(table, row, column) for table in _A_WL_THIN[index : index + 2])
        return _between(thinner, thicker, share)
    if device_value < _DEVICE_VALUE_THICK[0]:
        thinner = _bilinear(_A_WL_THIN[-1], row, column)
        thicker = _bilinear(_A_WL_THICK, row, (0, 0.0))
        share = (device_value - _DEVICE_VALUE_THIN[-1]) / (_DEVICE_VALUE_THICK[0] - _DEVICE_VALUE_THIN[-1])
        return _between(thinner, thicker, share)
    if device_value <= _DEVICE_VALUE_THICK[-1]:
        return _bilinear(_A_WL_THICK, row, _place(_DEVICE_VALUE_THICK, device_value))
    endless = _linear(_A_WL_ENDLESS, row)
    span = endless - _bilinear(_A_WL_THIN[0], row, column)
    return float(endless - span * ((endless - 1.0) / span) ** device_value)


def _place(axis: Sequence[float], value: float) -> _Place:
    # The caller has checked the range; the bounds here only take up the last bit of rounding at its ends.
    index = min(max(bisect_right(axis, value) - 1, 0), len(axis) - 2)
    share = (value - axis[index]) / (axis[index + 1] - axis[index])
    return index, min(max(share, 0.0), 1.0)


def _between(first: float, second: float, share: float) -> float:
    return first + share * (second - first)


def _linear(values: Sequence[float], place: _Place) -> float:
    index, share = place
    return _between(values[index], values[index + 1], share)


def _bilinear(table: Sequence[Sequence[float]], row: _Place, column: _Place) -> float:
    index, share = row
    return _between(_linear(table[index], column), _linear(table[index + 1], column), share)


def _check_covering(resistance_m2k_w: float) -> None:
    check_not_below_zero(resistance_m2k_w, "covering_resistance_m2k_w", "EN 1264-2")
    _check_within("covering_resistance_m2k_w", resistance_m2k_w, _COVERING_M2K_W[0], _COVERING_M2K_W[-1])


def _checked_pipe(diameter_m: float, wall_thickness_m: float, conductivity_w_mk: float) -> _Pipe:
    check_above_zero(diameter_m, "pipe_outside_diameter_m", "EN 1264-2")
    check_above_zero(wall_thickness_m, "pipe_wall_thickness_m", "EN 1264-2")
    check_above_zero(conductivity_w_mk, "pipe_conductivity_w_mk", "EN 1264-2")
    if not 2.0 * wall_thickness_m < diameter_m:
        raise NotPhysical(
            f"a pipe of {diameter_m} m outside has no bore with a wall of {wall_thickness_m} m",
            field="pipe_wall_thickness_m",
            value=wall_thickness_m,
            limit="under half the outside diameter",
            clause="EN 1264-2",
        )
    return _Pipe(diameter_m, wall_thickness_m, conductivity_w_mk)


def _check_device(thickness_m: float, width_m: float, spacing_m: float) -> None:
    check_not_below_zero(thickness_m, "conducting_device_thickness_m", "EN 1264-2")
    check_not_below_zero(width_m, "conducting_device_width_m", "EN 1264-2")
    if not width_m <= spacing_m:
        raise NotPhysical(
            f"a device {width_m} m wide does not fit between pipes {spacing_m} m apart",
            field="conducting_device_width_m",
            value=width_m,
            limit=f"at most the spacing of {spacing_m} m",
            clause="EN 1264-2",
        )


def _check_within(
    field: str, value: float, lowest: float, highest: float, *, quantity: str | None = None
) -> None:
    """Refuse a value outside the tables; `quantity` names a ratio of several arguments, laid to one field."""
    # A quotient of two rounded inputs may miss a bound by its last bit.
    rounding = 1e-12
    if lowest * (1.0 - rounding) <= value <= highest * (1.0 + rounding):
        return
    covered = f"{lowest} and more" if highest == math.inf else f"{lowest} to {highest}"
    raise OutOfScope(
        f"{quantity or field} of {value} is outside the method, which covers {covered}",
        field=field,
        value=value,
        limit=covered if quantity is None else f"{quantity} {covered}",
        clause="EN 1264-2, range of the tables",
    )
