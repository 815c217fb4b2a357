#pragma once
// Which blurred, perhaps sharpened, step explains an edge profile best.

#include <array>

#include "capture/edge_profile.hpp"

namespace lotwear {

constexpr int kSigmas = 24;
constexpr std::size_t kSharpenings = 13;

/// Sigma of the grid that is searched, 0.3 to 8.2 pixels; any index in between.
double sigma_at(double index);

struct StepFit {
  double sigma = 0;      ///< pixels
  double contrast = 0;   ///< encoded values
  double explained = 0;  ///< share of the profile's variance, 0..1
  double residual = 1;   ///< variance left over, of a step of contrast 1
};

/// `sharpening`: 0 none, else unsharp masks of several strengths and radii, up to kSharpenings - 1.
StepFit fit_step(const EdgeProfile& profile, std::size_t sharpening);

}  // namespace lotwear
