#pragma once
// What every light level costs every block of the plan: how badly the block's pixels, as bare, part or whole paint, fit
// what they would look like under that level (halves of squared deviations, capped), and how far the level is from the
// light beside the marking. The lower, the likelier.

#include <vector>

#include "measure/light_levels.hpp"
#include "measure/light_look.hpp"
#include "measure/pavement_blocks.hpp"
#include "measure/plan_view.hpp"

namespace lotwear {

/// Pixels of every block that count in it, block after block.
struct PixelLooks {
  struct Pixel {
    LightLook look;
    bool ours = false;
  };
  int rows = 0, cols = 0;  ///< of blocks
  std::vector<Pixel> all;
  std::vector<int> count;  ///< a block each, row-major
};

/// `side`: of a block, plan pixels; about `taps` pixels each way stand for a block.
PixelLooks looks_of(const PlanView& plan, int side, int taps);

/// What each light level costs each block, by its own pixels.
BlockLevels block_costs(const PixelLooks& pixels, const PavementLook& look, const PaintGuess& paint,
                        const LightLevels& levels);

/// Light inside a marking is as a rule the light that falls beside it; it may differ as much as light differs there.
/// Without this, paint worn by half looks like whole paint in a shade that ends where the marking ends.
/// `low`: log light of the first level; `step`: between levels.
void lean_on_beside(BlockLevels& costs, const PavementBlocks& grid, const PlanView& plan, double low, double step);

}  // namespace lotwear
