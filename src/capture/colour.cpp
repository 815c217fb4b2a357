#include "capture/colour.hpp"

#include <lcms2.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <type_traits>

namespace lotwear {

// From memory, all four; the tests hold the first three against lcms2 and the published matrix.
const Primaries kSrgbPrimaries{{0.3127, 0.3290}, {0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}};
const Primaries kDisplayP3Primaries{{0.3127, 0.3290}, {0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}};
const Primaries kAdobeRgbPrimaries{{0.3127, 0.3290}, {0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}};
const Primaries kBt2020Primaries{{0.3127, 0.3290}, {0.708, 0.292}, {0.170, 0.797}, {0.131, 0.046}};

namespace {

struct CloseProfile {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
using Profile = std::unique_ptr<void, CloseProfile>;
struct FreeCurve {
  void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
};
using Curve = std::unique_ptr<cmsToneCurve, FreeCurve>;
using Matrix = std::array<double, 9>;  // row-major

Matrix multiply(const Matrix& a, const Matrix& b) {
  Matrix out{};
  for (std::size_t row = 0; row < 3; ++row) {
    for (std::size_t column = 0; column < 3; ++column) {
      for (std::size_t k = 0; k < 3; ++k)
        out[3 * row + column] += a[3 * row + k] * b[3 * k + column];
    }
  }
  return out;
}

std::optional<Matrix> inverse(const Matrix& m) {
  const double a = m[4] * m[8] - m[5] * m[7], b = m[5] * m[6] - m[3] * m[8], c = m[3] * m[7] - m[4] * m[6];
  const double determinant = m[0] * a + m[1] * b + m[2] * c;
  if (!(std::abs(determinant) > 1e-6)) return std::nullopt;
  Matrix out = {a, m[2] * m[7] - m[1] * m[8], m[1] * m[5] - m[2] * m[4],
                b, m[0] * m[8] - m[2] * m[6], m[2] * m[3] - m[0] * m[5],
                c, m[1] * m[6] - m[0] * m[7], m[0] * m[4] - m[1] * m[3]};
  for (double& value : out)
    value /= determinant;
  return out;
}

/// Linear file primaries -> XYZ, adapted to D50 as profiles hold it.
std::optional<Matrix> colourants(cmsHPROFILE profile) {
  constexpr std::array<cmsTagSignature, 3> kTags = {cmsSigRedColorantTag, cmsSigGreenColorantTag,
                                                    cmsSigBlueColorantTag};
  Matrix out{};
  for (std::size_t column = 0; column < 3; ++column) {
    const auto* xyz = static_cast<const cmsCIEXYZ*>(cmsReadTag(profile, kTags[column]));
    if (xyz == nullptr) return std::nullopt;
    out[column] = xyz->X, out[3 + column] = xyz->Y, out[6 + column] = xyz->Z;
  }
  return out;
}

Profile profile_of(const Primaries& primaries, const std::optional<double>& gamma) {
  const cmsCIExyY white{primaries.white[0], primaries.white[1], 1};
  const cmsCIExyYTRIPLE corners{{primaries.red[0], primaries.red[1], 1},
                                {primaries.green[0], primaries.green[1], 1},
                                {primaries.blue[0], primaries.blue[1], 1}};
  // IEC 61966-2-1 as lcms's parametric type 4.
  constexpr std::array<cmsFloat64Number, 5> kSrgb = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  const Curve curve(gamma ? cmsBuildGamma(nullptr, *gamma) : cmsBuildParametricToneCurve(nullptr, 4, kSrgb.data()));
  if (!curve) return nullptr;
  const std::array<cmsToneCurve*, 3> curves = {curve.get(), curve.get(), curve.get()};
  return Profile(cmsCreateRGBProfile(&white, &corners, curves.data()));
}

/// The tone curve as a table, nothing when it cannot be one of a photo.
std::optional<std::array<float, 256>> table_of(const cmsToneCurve* curve) {
  if (curve == nullptr) return std::nullopt;
  std::array<float, 256> table{};
  for (std::size_t value = 0; value < table.size(); ++value) {
    const float linear = cmsEvalToneCurveFloat(curve, static_cast<float>(value) / 255.0F);
    if (!std::isfinite(linear) || linear < -0.001F || linear > 1.001F) return std::nullopt;
    if (value > 0 && linear < table[value - 1]) return std::nullopt;
    table[value] = std::clamp(linear, 0.0F, 1.0F);
  }
  // Gammas from 0.7 to 4: mid-grey of anything that is meant to be looked at lies in between.
  if (table[255] < 0.98F || table[128] < 0.06F || table[128] > 0.62F) return std::nullopt;
  return table;
}

/// The profile's three curves as one: they are the same in every profile of a camera or of a display standard.
std::optional<std::array<float, 256>> shared_table(cmsHPROFILE profile) {
  const auto read = [&](cmsTagSignature tag) {
    return table_of(static_cast<const cmsToneCurve*>(cmsReadTag(profile, tag)));
  };
  const auto red = read(cmsSigRedTRCTag), green = read(cmsSigGreenTRCTag), blue = read(cmsSigBlueTRCTag);
  if (!red || !green || !blue) return std::nullopt;
  for (std::size_t value = 0; value < green->size(); ++value) {
    const auto [low, high] = std::minmax({(*red)[value], (*green)[value], (*blue)[value]});
    if (high - low > 0.01F) return std::nullopt;
  }
  return green;
}

std::string name_of(cmsHPROFILE profile) {
  std::array<char, 128> letters{};
  cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", letters.data(),
                         static_cast<cmsUInt32Number>(letters.size()));
  letters.back() = 0;
  std::string name = letters.data();
  std::erase_if(name, [](char c) { return c < ' ' || c > '~'; });
  return name;
}

/// To sRGB primaries; close to none at all becomes none: profiles round their colourants to 1/65536 and to other
/// whites.
std::optional<std::array<float, 9>> matrix_to_srgb(const Matrix& file_to_d50) {
  constexpr double kSameAsNone = 0.003;
  constexpr Matrix kIdentity = {1, 0, 0, 0, 1, 0, 0, 0, 1};
  const Profile srgb = profile_of(kSrgbPrimaries, std::nullopt);
  const std::optional<Matrix> srgb_to_d50 = srgb ? colourants(srgb.get()) : std::nullopt;
  const std::optional<Matrix> d50_to_srgb = srgb_to_d50 ? inverse(*srgb_to_d50) : std::nullopt;
  if (!d50_to_srgb) return std::nullopt;
  Matrix matrix = multiply(*d50_to_srgb, file_to_d50);
  double from_identity = 0, largest = 0;
  for (std::size_t i = 0; i < matrix.size(); ++i) {
    if (!std::isfinite(matrix[i])) return std::nullopt;
    from_identity = std::max(from_identity, std::abs(matrix[i] - kIdentity[i]));
    largest = std::max(largest, std::abs(matrix[i]));
  }
  // White must stay white, and no camera's primaries lie further out than ProPhoto RGB's (largest element 2.03).
  for (std::size_t row = 0; row < 9; row += 3) {
    if (std::abs(matrix[row] + matrix[row + 1] + matrix[row + 2] - 1) > 0.1) return std::nullopt;
  }
  if (largest > 4 || !inverse(matrix)) return std::nullopt;
  if (from_identity < kSameAsNone) matrix = kIdentity;
  std::array<float, 9> out{};
  std::transform(matrix.begin(), matrix.end(), out.begin(), [](double value) { return static_cast<float>(value); });
  return out;
}

std::optional<ColourSpace> space_from(cmsHPROFILE profile, bool grey_file) {
  ColourSpace space;
  space.name = name_of(profile);
  if (cmsGetColorSpace(profile) == cmsSigGrayData && grey_file) {
    const auto table = table_of(static_cast<const cmsToneCurve*>(cmsReadTag(profile, cmsSigGrayTRCTag)));
    if (!table) return std::nullopt;
    space.linear = *table;
    return space;
  }
  if (cmsGetColorSpace(profile) != cmsSigRgbData || !cmsIsMatrixShaper(profile)) return std::nullopt;
  const std::optional<Matrix> file_to_d50 = colourants(profile);
  const auto table = shared_table(profile);
  const auto to_srgb = file_to_d50 ? matrix_to_srgb(*file_to_d50) : std::nullopt;
  if (!table || !to_srgb) return std::nullopt;
  space.linear = *table;
  space.to_srgb = *to_srgb;
  return space;
}

}  // namespace

ColourReading read_colour(const ColourClaim& claim, bool grey_file) {
  if (!claim.icc.empty() || claim.torn_icc) {
    const Profile profile(cmsOpenProfileFromMem(claim.icc.data(), static_cast<cmsUInt32Number>(claim.icc.size())));
    if (profile && !claim.torn_icc) {
      if (auto space = space_from(profile.get(), grey_file)) return {*std::move(space), std::nullopt};
    }
    return {srgb_space(), profile ? "the colour profile is of a kind that is not read; colours are taken as sRGB"
                                  : "the colour profile is damaged; colours are taken as sRGB"};
  }
  if (claim.high_dynamic_range) {
    return {srgb_space(),
            "the photo is high dynamic range (HDR) and is read as sRGB; switch HDR off or export it as JPEG"};
  }
  if (!claim.primaries && !claim.gamma) return {srgb_space(), std::nullopt};
  const Profile profile = profile_of(claim.primaries.value_or(kSrgbPrimaries), claim.gamma);
  if (profile) {
    if (auto space = space_from(profile.get(), grey_file)) {
      space->name = "named in the file";
      return {*std::move(space), std::nullopt};
    }
  }
  return {srgb_space(), "the colours that the file names cannot be right; they are taken as sRGB"};
}

}  // namespace lotwear
