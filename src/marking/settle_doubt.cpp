#include "marking/settle_doubt.hpp"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace lotwear {

namespace {

/// Local mean colour of the cells that `weight` trusts, and how much trust there is near by.
struct LocalColour {
  cv::Mat mean;    ///< CV_32FC3
  cv::Mat trust;   ///< CV_32F
};

LocalColour local_colour(const cv::Mat& picture, const cv::Mat& weight, int reach) {
  cv::Mat weights, weighted, sum, total;
  cv::merge(std::vector<cv::Mat>{weight, weight, weight}, weights);
  cv::multiply(picture, weights, weighted);
  // two box filters: a bell without the cost of a wide one
  const cv::Size box(2 * reach + 1, 2 * reach + 1);
  cv::blur(weighted, sum, box, {-1, -1}, cv::BORDER_REPLICATE);
  cv::blur(sum, sum, box, {-1, -1}, cv::BORDER_REPLICATE);
  cv::blur(weights, total, box, {-1, -1}, cv::BORDER_REPLICATE);
  cv::blur(total, total, box, {-1, -1}, cv::BORDER_REPLICATE);
  LocalColour local;
  cv::divide(sum, total + 1e-6, local.mean);
  cv::extractChannel(total, local.trust, 0);
  return local;
}

}  // namespace

cv::Mat settle_doubt(const PaintMap& paint) {
  cv::Mat picture;
  paint.picture.convertTo(picture, CV_32F);
  cv::Mat sure_paint, sure_bare;
  cv::pow(paint.top_coat, 6, sure_paint);
  cv::pow(paint.pavement, 6, sure_bare);
  constexpr int kReach = 16;   // cells: a stripe and its surroundings; much wider and sun and shade are averaged together
  const LocalColour coat = local_colour(picture, sure_paint, kReach), bare = local_colour(picture, sure_bare, kReach);

  cv::Mat settled = paint.footprint.clone();
  for (int r = 0; r < picture.rows; ++r) {
    for (int c = 0; c < picture.cols; ++c) {
      float& share = settled.at<float>(r, c);
      if (coat.trust.at<float>(r, c) < 0.01F || bare.trust.at<float>(r, c) < 0.01F) continue;
      const cv::Vec3f across = coat.mean.at<cv::Vec3f>(r, c) - bare.mean.at<cv::Vec3f>(r, c);
      const float contrast = across.dot(across);
      if (contrast < 15.0F * 15.0F) continue;   // paint and pavement look alike here: colour has nothing to say
      const float like_paint = std::clamp((picture.at<cv::Vec3f>(r, c) - bare.mean.at<cv::Vec3f>(r, c)).dot(across) / contrast, 0.0F, 1.0F);
      const float doubt = 4 * share * (1 - share);
      share = std::clamp(share + 0.8F * doubt * (like_paint - 0.5F), 0.0F, 1.0F);
    }
  }
  return settled;
}

}  // namespace lotwear
