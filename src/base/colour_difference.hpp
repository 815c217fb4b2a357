#pragma once
// How far apart two colours look: linear sRGB -> CIE XYZ -> CIELAB -> CIEDE2000.
// Sources: IEC 61966-2-1 (matrix), CIE 15 (CIELAB), Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005 (CIEDE2000).

namespace lotwear {

/// Linear light in sRGB primaries, D65; 0..1, a little beyond outside the gamut.
struct LinearRgb {
  double r = 0, g = 0, b = 0;
};

/// CIE 1931 2 degree; Y of the white point is 1.
struct Xyz {
  double x = 0, y = 0, z = 0;
};

/// CIELAB; L 0..100.
struct Lab {
  double l = 0, a = 0, b = 0;
};

/// sRGB's own white, (1, 1, 1) through the matrix of IEC 61966-2-1.
inline constexpr Xyz kD65White{0.9505, 1.0, 1.0890};

Xyz xyz_from_linear(LinearRgb colour);
Lab lab_from_xyz(Xyz colour, Xyz white = kD65White);
Lab lab_from_linear(LinearRgb colour);

/// CIEDE2000 with all weights 1. About 1 is the least difference a trained eye sees side by side; symmetric, never
/// negative.
double colour_difference(Lab one, Lab other);

}  // namespace lotwear
