#include "measure/plan_light.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

#include "measure/bounds.hpp"

namespace lotwear {
namespace {

constexpr unsigned char kTop = 253;  // of 255: a channel that may hold more light than it says

/// Phones add contrast to the standard curve; pixels part paint part pavement would read too full without taking it
/// out. A fifth of a smooth step is a middling amount (common practice, no source): half of what cameras differ by
/// remains.
std::array<float, 256> flat_tones(const ColourSpace& space) {
  constexpr double kContrast = 0.2;
  std::array<float, 256> flat{};
  for (int i = 0; i < 256; ++i) {
    const double seen = i / 255.0;
    double low = 0, high = 1;
    for (int turn = 0; turn < 30; ++turn) {
      const double e = (low + high) / 2;
      (e + kContrast * (e * e * (3 - 2 * e) - e) < seen ? low : high) = e;
    }
    const double at = 255 * (low + high) / 2;
    const auto below = static_cast<std::size_t>(std::min(254.0, std::floor(at)));
    const auto part = static_cast<float>(at - static_cast<double>(below));
    flat[static_cast<std::size_t>(i)] = space.linear[below] * (1 - part) + space.linear[below + 1] * part;
  }
  return flat;
}

/// A projective map, written out along the plan's rows: every coordinate is a line in the column.
struct PhotoFromPlan {
  struct Line {
    double at_origin = 0, a_column = 0, a_row = 0;
    double operator()(double column, double row) const { return at_origin + column * a_column + row * a_row; }
  };
  Line x, y, w;
  double sign = 1;  ///< of w in front of the camera

  PhotoFromPlan(const Ground& ground, const PlanView& plan) {
    const auto& h = ground.image_from_ground.matrix();
    const double cosine = std::cos(plan.turn_rad) * plan.mm_per_pixel,
                 sine = std::sin(plan.turn_rad) * plan.mm_per_pixel;
    const auto line = [&](std::size_t i) {
      return Line{h[i] * plan.origin.x + h[i + 1] * plan.origin.y + h[i + 2], h[i] * cosine + h[i + 1] * sine,
                  h[i + 1] * cosine - h[i] * sine};
    };
    x = line(0), y = line(3), w = line(6);
    sign = w(plan.light.cols / 2.0, plan.light.rows / 2.0);
  }
};

/// A part of the photo in linear light, four numbers a pixel, so that looking a spot up is four sums of vectors.
class LightPart {
 public:
  using Light = float __attribute__((vector_size(16)));  ///< red, green, blue, nothing

  LightPart(const cv::Mat& rgb, const std::array<float, 256>& linear) : rgb_(rgb), linear_(linear) {}

  /// Makes ready for spots within `box` (pixels, their centres at whole numbers) as far as it lies in the photo.
  void cover(const Bounds& box) {
    // half a pixel of the border has no neighbour on its other side: a frame of copies around the photo
    left_ = std::clamp(static_cast<int>(std::floor(std::clamp(box.left, -1.0, 1e6))), -1, rgb_.cols);
    top_ = std::clamp(static_cast<int>(std::floor(std::clamp(box.top, -1.0, 1e6))), -1, rgb_.rows);
    const int right = std::clamp(static_cast<int>(std::clamp(box.right, -2.0, 1e6)) + 2, left_, rgb_.cols + 1);
    const int bottom = std::clamp(static_cast<int>(std::clamp(box.bottom, -2.0, 1e6)) + 2, top_, rgb_.rows + 1);
    cols_ = right - left_;
    light_.resize(static_cast<std::size_t>(cols_) * (bottom - top_));
    clipped_.resize(light_.size());
    std::size_t next = 0;
    for (int y = top_; y < bottom; ++y) {
      const unsigned char* row = rgb_.ptr<unsigned char>(std::clamp(y, 0, rgb_.rows - 1));
      for (int x = left_; x < right; ++x, ++next) {
        const unsigned char* p = row + std::ptrdiff_t{3} * std::clamp(x, 0, rgb_.cols - 1);
        light_[next] = Light{linear_[p[0]], linear_[p[1]], linear_[p[2]], 0};
        clipped_[next] =
            static_cast<unsigned char>((p[0] >= kTop ? 1 : 0) | (p[1] >= kTop ? 2 : 0) | (p[2] >= kTop ? 4 : 0));
      }
    }
  }
  /// Adds the light at a spot within the box to `sum`; false outside the photo.
  bool add(double x, double y, Light& sum, unsigned char& clipped) const {
    if (!(x >= -0.5 && y >= -0.5 && x < rgb_.cols - 0.5 && y < rgb_.rows - 0.5)) return false;
    const int left = static_cast<int>(x + 1) - 1, up = static_cast<int>(y + 1) - 1;  // floor: neither is below -1
    const auto ax = static_cast<float>(x - left), ay = static_cast<float>(y - up);
    const std::size_t at = static_cast<std::size_t>(up - top_) * cols_ + (left - left_);
    const Light *upper = light_.data() + at, *lower = upper + cols_;
    sum += (1 - ax) * (1 - ay) * upper[0] + ax * (1 - ay) * upper[1] + (1 - ax) * ay * lower[0] + ax * ay * lower[1];
    clipped |= clipped_[at];
    return true;
  }

 private:
  const cv::Mat& rgb_;
  const std::array<float, 256>& linear_;
  int left_ = 0, top_ = 0, cols_ = 0;
  std::vector<Light> light_;
  std::vector<unsigned char> clipped_;  ///< bits 1, 2, 4: red, green, blue at the top of the scale
};

/// Where a part of the plan lies in the photo; nothing when some of it lies behind the camera.
std::optional<Bounds> in_photo(const PhotoFromPlan& at, const cv::Rect& part) {
  Bounds box;
  for (const int u : {part.x, part.x + part.width}) {
    for (const int v : {part.y, part.y + part.height}) {
      const double w = at.w(u, v);
      if (w * at.sign <= 0) return std::nullopt;
      box.reach(at.x(u, v) / w - 0.5, at.y(u, v) / w - 0.5);
    }
  }
  return box;
}

/// What takes a Gaussian blur out again, one van Cittert step: 2 - G. More would make noise and the phone's own
/// sharpening look like brighter paint.
cv::Mat unblur_kernel(double sigma_px) {
  const int reach = std::clamp(static_cast<int>(std::ceil(2.5 * sigma_px)), 1, 6), size = 2 * reach + 1;
  const cv::Mat once = cv::getGaussianKernel(size, sigma_px, CV_32F);
  cv::Mat kernel = -once * once.t();
  kernel.at<float>(reach, reach) += 2;
  return kernel;
}

}  // namespace

cv::Mat sample_photo(const Photo& photo, const Ground& ground, int taps, PlanView& plan) {
  constexpr int kPart = 48;  // part after part, so that every photo pixel is made linear once and stays near
  const std::array<float, 256> linear = flat_tones(photo.space);
  const std::array<float, 9>& m = photo.space.to_srgb;
  const bool plain = m == std::array<float, 9>{1, 0, 0, 0, 1, 0, 0, 0, 1};
  const PhotoFromPlan at(ground, plan);
  const float share = 1.0F / static_cast<float>(taps * taps);
  std::array<double, 3> offsets{};
  for (int i = 0; i < taps; ++i)
    offsets[static_cast<std::size_t>(i)] = (i + 0.5) / taps;
  const auto look = [&](const LightPart& part, int r, int c, LightPart::Light& sum, unsigned char& clipped) {
    for (int j = 0; j < taps; ++j) {
      for (int i = 0; i < taps; ++i) {
        const double u = c + offsets[static_cast<std::size_t>(i)], v = r + offsets[static_cast<std::size_t>(j)];
        const double down = 1 / at.w(u, v);
        if (!part.add(at.x(u, v) * down - 0.5, at.y(u, v) * down - 0.5, sum, clipped)) return false;
      }
    }
    return true;
  };
  plan.light.setTo(cv::Scalar::all(0));
  plan.clipped.setTo(0);
  cv::Mat seen(plan.light.size(), CV_8U, cv::Scalar(0));
  const cv::Rect whole({0, 0}, plan.light.size());
  const Bounds photo_box{-0.5, -0.5, photo.rgb.cols - 0.5, photo.rgb.rows - 0.5};
  const auto sample_band = [&](int top, LightPart& part_light) {
    for (int left = 0; left < whole.width; left += kPart) {
      const cv::Rect part = cv::Rect(left, top, kPart, kPart) & whole;
      const std::optional<Bounds> box = in_photo(at, part);
      if (!box) continue;
      const Bounds in{std::max(box->left, photo_box.left), std::max(box->top, photo_box.top),
                      std::min(box->right, photo_box.right), std::min(box->bottom, photo_box.bottom)};
      if (in.left >= in.right || in.top >= in.bottom) continue;
      part_light.cover(in);
      for (int r = part.y; r < part.y + part.height; ++r) {
        for (int c = part.x; c < part.x + part.width; ++c) {
          LightPart::Light sum{};
          unsigned char clipped = 0;
          if (!look(part_light, r, c, sum, clipped)) continue;
          seen.at<unsigned char>(r, c) = 1;
          plan.clipped.at<unsigned char>(r, c) = clipped;
          const float red = sum[0] * share, green = sum[1] * share, blue = sum[2] * share;
          plan.light.at<cv::Vec3f>(r, c) =
              plain ? cv::Vec3f(red, green, blue)
                    : cv::Vec3f(m[0] * red + m[1] * green + m[2] * blue, m[3] * red + m[4] * green + m[5] * blue,
                                m[6] * red + m[7] * green + m[8] * blue);
        }
      }
    }
  };
  // a person waits for this in the review: its bands go to as many cores as OpenCV may use
  cv::parallel_for_(cv::Range(0, (whole.height + kPart - 1) / kPart), [&](const cv::Range& bands) {
    LightPart part_light(photo.rgb, linear);
    for (int band = bands.start; band < bands.end; ++band)
      sample_band(band * kPart, part_light);
  });
  return seen;
}

void sample_single_pixels(const Photo& photo, const Ground& ground, PlanView& plan) {
  constexpr double kMostSamples =
      60'000;  // of a plan: the places of modes are then known to a small part of their width
  plan.sample_step = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(plan.light.total()) / kMostSamples)));
  if (plan.mm_per_pixel < 1.25 * plan.photo_px_mm) return;
  const std::array<float, 256> linear = flat_tones(photo.space);
  const auto& m = photo.space.to_srgb;
  const double blur_px = 0.85 * std::hypot(std::clamp(photo.quality.blur_px, 0.4, 2.5), 0.35);
  const cv::Mat kernel = unblur_kernel(blur_px);
  const int reach = kernel.rows / 2;
  plan.fine = cv::Mat::zeros(plan.light.size(), CV_32FC3);
  const auto sample_row = [&](int r) {
    for (int c = 0; c < plan.light.cols; c += plan.sample_step) {
      if (plan.ours.at<unsigned char>(r, c) == 0 && plan.beside.at<unsigned char>(r, c) == 0) continue;
      const ImagePoint at = ground.image_from_ground(plan.ground_at(c + 0.5, r + 0.5));
      const int x = static_cast<int>(at.x), y = static_cast<int>(at.y);
      cv::Vec3f sum(0, 0, 0);
      for (int j = -reach; j <= reach; ++j) {
        const float* weight = kernel.ptr<float>(j + reach);
        const unsigned char* row = photo.rgb.ptr<unsigned char>(std::clamp(y + j, 0, photo.rgb.rows - 1));
        for (int i = -reach; i <= reach; ++i) {
          const unsigned char* pixel = row + 3 * std::clamp(x + i, 0, photo.rgb.cols - 1);
          const float w = weight[i + reach];
          sum += cv::Vec3f(w * linear[pixel[0]], w * linear[pixel[1]], w * linear[pixel[2]]);
        }
      }
      cv::Vec3f& out = plan.fine.at<cv::Vec3f>(r, c);
      for (int k = 0; k < 3; ++k) {
        const auto row = static_cast<std::size_t>(3 * k);
        out[k] = std::max(0.0F, m[row] * sum[0] + m[row + 1] * sum[1] + m[row + 2] * sum[2]);
      }
    }
  };
  const int step = plan.sample_step;
  cv::parallel_for_(cv::Range(0, (plan.light.rows + step - 1) / step), [&](const cv::Range& rows) {
    for (int i = rows.start; i < rows.end; ++i)
      sample_row(i * step);
  });
}

}  // namespace lotwear
