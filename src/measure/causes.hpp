#pragma once
// How the lost paint went, from the shape of what is bare.
//   abraded   fine, on the stone tops, thinning out gradually: bare spots no wider than a stone, paint between them
//   flaked    compact patches with sharp edges, bare through and through, sound paint around them; an older coat laid
//   bare
//             counts as flaked
//   cracked   thin long lines through sound paint
// Every patch gets a likelihood of being a flake from its width, from how whole the paint around it is, near and
// farther off, from how much of that paint is specks, and from how bare it is; where the coat reader has looked, what
// it says counts as much. Likelihoods share out the lost area, no patch is all or nothing.

#include <opencv2/core/mat.hpp>
#include <optional>

#include "base/condition.hpp"
#include "measure/plan_view.hpp"
#include "measure/separation.hpp"

namespace lotwear {

struct Causes {
  Losses loss;                  ///< relative shares of the lost area, sum 1 (0 when nothing is lost)
  double unsure = 0;            ///< share of the lost area whose cause is open (likelihood near one half)
  cv::Mat flake_likelihood;     ///< CV_32F, 0 where nothing is lost in a patch
  cv::Mat crack;                ///< CV_8U, 1 on cracks
  double typical_flake_mm = 0;  ///< largest dimension of the largest flakes numerous enough to be typical
};

/// `core_mm`: as in separate; loss is shared out by what is seen farther inside than that.
Causes find_causes(const PlanView& plan, const Separation& paint, double core_mm);

}  // namespace lotwear
