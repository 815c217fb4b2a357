#pragma once
// What a file says about its colours -> ColourSpace. An ICC profile wins over the primaries and the tone curve that PNG
// (gAMA, cHRM) and HEIC (nclx) can name, and those over EXIF's Adobe RGB mark; without any of them it is sRGB.

#include <array>
#include <optional>
#include <string>

#include "capture/bytes.hpp"
#include "capture/photo.hpp"

namespace lotwear {

/// CIE xy chromaticities.
struct Primaries {
  std::array<double, 2> white{}, red{}, green{}, blue{};
};
extern const Primaries kSrgbPrimaries;       ///< IEC 61966-2-1
extern const Primaries kDisplayP3Primaries;  ///< SMPTE RP 431-2 with D65
extern const Primaries kAdobeRgbPrimaries;   ///< Adobe RGB (1998), version 2005-05
extern const Primaries kBt2020Primaries;     ///< ITU-R BT.2020-2

struct ColourClaim {
  Bytes icc{};            ///< empty: no profile
  bool torn_icc = false;  ///< there was one, and it cannot be put together
  std::optional<Primaries> primaries{};
  std::optional<double> gamma{};    ///< linear = encoded^gamma; nothing: the sRGB curve
  bool high_dynamic_range = false;  ///< PQ or HLG tone curve
};

struct ColourReading {
  ColourSpace space;
  std::optional<std::string> advice;  ///< why sRGB was taken instead of what the file says
};

/// `grey_file`: the file has no colour channels, so a grey profile fits it too.
ColourReading read_colour(const ColourClaim& claim, bool grey_file);

}  // namespace lotwear
