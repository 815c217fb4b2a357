#include "rendering/letters.hpp"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "rendering/fill.hpp"

namespace lotwear::rendering {
namespace {

TEST(Legend, HasTheAskedHeightAndStandsInTheMiddle) {
  for (const char* words : {"STOP", "ONLY", "FIRE LANE"}) {
    double left = 1e9, right = -1e9, top = 1e9, bottom = -1e9;
    for (const GroundRing& ring : legend(words, 600, 0.5, 70)) {
      for (const GroundPoint& p : ring) {
        left = std::min(left, p.x), right = std::max(right, p.x), top = std::min(top, p.y),
        bottom = std::max(bottom, p.y);
      }
    }
    EXPECT_NEAR(bottom - top, 600, 45) << words;
    EXPECT_NEAR(bottom + top, 0, 45) << words;
    EXPECT_NEAR(left + right, 0, 60) << words;
  }
}

TEST(Legend, PiecesNeverOverlapAndHaveNoHoles) {
  // areas of rings that cross themselves or each other would not add up to what they cover
  for (const char* words : {"STOP", "ONLY", "SLOW", "NO/PARKING", "FIRE LANE", "LOADING", "PICKUP", "CLINIC"}) {
    const std::vector<GroundRing> rings = legend(words, 400, 0.6, 52);
    cv::Mat covered = cv::Mat::zeros(1600, 5200, CV_8U);
    double sum = 0;
    for (GroundRing ring : rings) {
      sum += area(ring);
      for (GroundPoint& p : ring)
        p = {p.x + 2600, p.y + 800};
      fill(covered, ring, 255);
    }
    EXPECT_NEAR(cv::countNonZero(covered), sum, 0.01 * sum) << words;
  }
}

TEST(Legend, RefusesLettersWithoutAStencil) { EXPECT_THROW(legend("Zebra", 400, 0.6, 50), Broken); }

}  // namespace
}  // namespace lotwear::rendering
