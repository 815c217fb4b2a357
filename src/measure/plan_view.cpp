#include "measure/plan_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <opencv2/imgproc.hpp>

namespace lotwear {
namespace {

constexpr unsigned char kTop = 253;
constexpr int kShift = 8;  // fillPoly's fixed-point bits

/// Ground direction of the longest edge: plans of long markings lie along x.
double main_direction(const std::vector<GroundRing>& rings) {
  double longest = -1, turn = 0;
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint edge = ring[(i + 1) % ring.size()] - ring[i];
      if (length(edge) > longest) {
        longest = length(edge);
        turn = std::atan2(edge.y, edge.x);
      }
    }
  }
  if (turn > std::numbers::pi / 2) turn -= std::numbers::pi;
  if (turn <= -std::numbers::pi / 2) turn += std::numbers::pi;
  return turn;
}

struct Box {
  double left = std::numeric_limits<double>::max(), top = left, right = -left, bottom = -left;
  void reach(double x, double y) {
    left = std::min(left, x), right = std::max(right, x);
    top = std::min(top, y), bottom = std::max(bottom, y);
  }
};

GroundPoint turned(GroundPoint p, double angle) {
  const double c = std::cos(angle), s = std::sin(angle);
  return {p.x * c - p.y * s, p.x * s + p.y * c};
}

/// Millimetres of ground a photo pixel covers (root of the area) at a ground point; nothing behind the horizon.
std::optional<double> pixel_mm(const Ground& ground, GroundPoint g) {
  if (ground.image_from_ground.depth(g) == 0) return std::nullopt;
  const double h = 1.0;
  const ImagePoint p = ground.image_from_ground(g);
  const ImagePoint px = ground.image_from_ground({g.x + h, g.y}) - p;
  const ImagePoint py = ground.image_from_ground({g.x, g.y + h}) - p;
  const double area = std::abs(cross(px, py));
  if (!(area > 1e-9) || !std::isfinite(area)) return std::nullopt;
  return 1 / std::sqrt(area);
}

bool in_picture(const Photo& photo, ImagePoint p) {
  return p.x >= 0 && p.y >= 0 && p.x < photo.rgb.cols && p.y < photo.rgb.rows;
}

/// Ring filled into `mask` (1), plan coordinates.
void fill(cv::Mat& mask, const GroundRing& ring, const PlanView& plan) {
  std::vector<cv::Point> points;
  points.reserve(ring.size());
  for (const GroundPoint& g : ring) {
    const GroundPoint local = turned(g - plan.origin, -plan.turn_rad);
    const double limit = 1 << 20;
    const double x = std::clamp(local.x / plan.mm_per_pixel - 0.5, -limit, limit);
    const double y = std::clamp(local.y / plan.mm_per_pixel - 0.5, -limit, limit);
    points.emplace_back(cv::saturate_cast<int>(std::lround(x * (1 << kShift))),
                        cv::saturate_cast<int>(std::lround(y * (1 << kShift))));
  }
  if (points.size() >= 3)
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1), cv::LINE_8, kShift);
}

/// Distance to the nearest outline, millimetres; exact to a small part of a pixel near the edges that matter, as
/// distances to pixel centres are off by up to half a pixel.
void refine_near_edges(cv::Mat& signed_mm, const std::vector<GroundRing>& rings, const PlanView& plan) {
  const double reach = 2.5 * plan.mm_per_pixel;
  struct Edge {
    GroundPoint a, b;
  };
  cv::Mat exact(signed_mm.size(), CV_32F, cv::Scalar(1e9));
  for (const GroundRing& ring : rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint a = turned(ring[i] - plan.origin, -plan.turn_rad);
      const GroundPoint b = turned(ring[(i + 1) % ring.size()] - plan.origin, -plan.turn_rad);
      const GroundPoint ab = b - a;
      const double long2 = dot(ab, ab);
      const double mm = plan.mm_per_pixel;
      const int top = std::max(0, static_cast<int>((std::min(a.y, b.y) - reach) / mm));
      const int bottom = std::min(signed_mm.rows - 1, static_cast<int>((std::max(a.y, b.y) + reach) / mm));
      for (int r = top; r <= bottom; ++r) {
        const double y = (r + 0.5) * mm;
        // The stretch of the edge within reach of this row bounds the columns.
        double t0 = 0, t1 = 1;
        if (std::abs(ab.y) > 1e-9) {
          const double u = (y - reach - a.y) / ab.y, v = (y + reach - a.y) / ab.y;
          t0 = std::clamp(std::min(u, v), 0.0, 1.0), t1 = std::clamp(std::max(u, v), 0.0, 1.0);
        }
        const double x0 = a.x + t0 * ab.x, x1 = a.x + t1 * ab.x;
        const int left = std::max(0, static_cast<int>((std::min(x0, x1) - reach) / mm));
        const int right = std::min(signed_mm.cols - 1, static_cast<int>((std::max(x0, x1) + reach) / mm));
        float* row = exact.ptr<float>(r);
        for (int c = left; c <= right; ++c) {
          const GroundPoint p{(c + 0.5) * mm, y};
          const double t = long2 > 0 ? std::clamp(dot(p - a, ab) / long2, 0.0, 1.0) : 0.0;
          const double d = length(p - (a + ab * t));
          row[c] = std::min(row[c], static_cast<float>(d));
        }
      }
    }
  }
  for (int r = 0; r < signed_mm.rows; ++r) {
    float* coarse = signed_mm.ptr<float>(r);
    const float* fine = exact.ptr<float>(r);
    for (int c = 0; c < signed_mm.cols; ++c) {
      if (static_cast<double>(fine[c]) < reach) coarse[c] = std::copysign(fine[c], coarse[c]);
    }
  }
}

cv::Mat signed_distance(const std::vector<GroundRing>& rings, const PlanView& plan) {
  cv::Mat inside(plan.light.size(), CV_8U, cv::Scalar(0));
  for (const GroundRing& ring : rings)
    fill(inside, ring, plan);
  cv::Mat in, out, both;
  cv::distanceTransform(inside, in, cv::DIST_L2, cv::DIST_MASK_5);
  cv::distanceTransform(1 - inside, out, cv::DIST_L2, cv::DIST_MASK_5);
  both.create(inside.size(), CV_32F);
  const auto mm = static_cast<float>(plan.mm_per_pixel);
  for (int r = 0; r < inside.rows; ++r) {
    for (int c = 0; c < inside.cols; ++c) {
      both.at<float>(r, c) = inside.at<unsigned char>(r, c) != 0 ? std::max(0.0F, in.at<float>(r, c) - 0.5F) * mm
                                                                 : -std::max(0.01F, out.at<float>(r, c) - 0.5F) * mm;
    }
  }
  refine_near_edges(both, rings, plan);
  return both;
}

bool within(GroundPoint p, const GroundRing& ring) {
  bool in = false;
  for (std::size_t i = 0, j = ring.size() - 1; i < ring.size(); j = i++) {
    if ((ring[i].y > p.y) != (ring[j].y > p.y) &&
        p.x < (ring[j].x - ring[i].x) * (p.y - ring[i].y) / (ring[j].y - ring[i].y) + ring[i].x) {
      in = !in;
    }
  }
  return in;
}

/// Nearly all corners of `upper` lie inside rings of `lower`.
bool lies_on(const Footprint& upper, const Footprint& lower) {
  double corners = 0, inside = 0;
  for (const GroundRing& ring : upper.rings) {
    for (const GroundPoint& p : ring) {
      corners += 1;
      for (const GroundRing& outer : lower.rings) {
        if (outer.size() >= 3 && within(p, outer)) {
          inside += 1;
          break;
        }
      }
    }
  }
  return corners > 0 && inside >= 0.9 * corners;
}

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
  void cover(const Box& box) {
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
std::optional<Box> in_photo(const PhotoFromPlan& at, const cv::Rect& part) {
  Box box;
  for (const int u : {part.x, part.x + part.width}) {
    for (const int v : {part.y, part.y + part.height}) {
      const double w = at.w(u, v);
      if (w * at.sign <= 0) return std::nullopt;
      box.reach(at.x(u, v) / w - 0.5, at.y(u, v) / w - 0.5);
    }
  }
  return box;
}

/// The photo looked up at every plan pixel, averaged in linear light over `taps` x `taps` spots of it; part after part,
/// so that every photo pixel is made linear once and stays near.
void sample_photo(const Photo& photo, const Ground& ground, int taps, PlanView& plan, cv::Mat& seen) {
  constexpr int kPart = 48;
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
  seen.setTo(0);
  const cv::Rect whole({0, 0}, plan.light.size());
  const Box photo_box{-0.5, -0.5, photo.rgb.cols - 0.5, photo.rgb.rows - 0.5};
  const auto sample_band = [&](int top, LightPart& part_light) {
    for (int left = 0; left < whole.width; left += kPart) {
      const cv::Rect part = cv::Rect(left, top, kPart, kPart) & whole;
      const std::optional<Box> box = in_photo(at, part);
      if (!box) continue;
      const Box in{std::max(box->left, photo_box.left), std::max(box->top, photo_box.top),
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
}

}  // namespace

namespace {

/// What takes a Gaussian blur out again, one van Cittert step: 2 - G. More would make noise and the phone's own
/// sharpening look like brighter paint.
cv::Mat unblur_kernel(double sigma_px) {
  const int reach = std::clamp(static_cast<int>(std::ceil(2.5 * sigma_px)), 1, 6), size = 2 * reach + 1;
  const cv::Mat once = cv::getGaussianKernel(size, sigma_px, CV_32F);
  cv::Mat kernel = -once * once.t();
  kernel.at<float>(reach, reach) += 2;
  return kernel;
}

/// Where plan pixels are means over many of the photo's, worn paint shows no pure pixel; in the photo it often does.
/// One photo pixel for every few plan pixels is enough to find the level of pure paint.
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

}  // namespace

GroundPoint PlanView::ground_at(double column, double row) const {
  return origin + turned({column * mm_per_pixel, row * mm_per_pixel}, turn_rad);
}

namespace {

/// Takes what is surely not bare pavement out of `beside`: vegetation, and paint of this marking's colour that belongs
/// to no footprint (a second line beside it). Judged on small blocks by chromaticity, which shadows hardly change.
void clean_beside(PlanView& plan) {
  const int side = std::max(2, static_cast<int>(std::lround(6 / plan.mm_per_pixel)));
  const int rows = (plan.light.rows + side - 1) / side, cols = (plan.light.cols + side - 1) / side;
  cv::Mat sum = cv::Mat::zeros(rows, cols, CV_32FC3), count = cv::Mat::zeros(rows, cols, CV_32F);
  std::vector<double> red_inside, blue_inside, light_inside;
  for (int r = 0; r < plan.light.rows; ++r) {
    for (int c = 0; c < plan.light.cols; ++c) {
      const cv::Vec3f v = plan.light.at<cv::Vec3f>(r, c);
      if (plan.ours.at<unsigned char>(r, c) != 0 && (r + c) % 4 == 0) {
        const float all = std::max(1e-6F, v[0] + v[1] + v[2]);
        red_inside.push_back(static_cast<double>(v[0] / all)), blue_inside.push_back(static_cast<double>(v[2] / all));
        light_inside.push_back(static_cast<double>(all));
      }
      if (plan.beside.at<unsigned char>(r, c) == 0) continue;
      sum.at<cv::Vec3f>(r / side, c / side) += v;
      count.at<float>(r / side, c / side) += 1;
    }
  }
  const auto chroma = [](const cv::Vec3d& v) {
    const double all = std::max(1e-9, v[0] + v[1] + v[2]);
    return cv::Vec2d(v[0] / all, v[2] / all);
  };
  const auto whole = [](const cv::Vec3d& v) { return v[0] + v[1] + v[2]; };
  std::vector<double> red, blue, light;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      if (count.at<float>(r, c) <= 0) continue;
      const cv::Vec3d block(sum.at<cv::Vec3f>(r, c));
      const cv::Vec2d k = chroma(block);
      red.push_back(k[0]), blue.push_back(k[1]);
      light.push_back(whole(block) / static_cast<double>(count.at<float>(r, c)));
    }
  }
  if (red.size() < 24 || red_inside.empty()) return;
  const auto median = [](std::vector<double>& v) {
    const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), mid, v.end());
    return *mid;
  };
  const cv::Vec2d usual(median(red), median(blue)), toward = cv::Vec2d(median(red_inside), median(blue_inside)) - usual;
  const double usual_light = median(light), light_of_paint = median(light_inside);
  // Shade is bluer than sun by up to 0.13; paint that is to be told from pavement by colour alone must differ by more,
  // by colour and brightness together by less.
  const double apart = cv::norm(toward);
  const bool by_colour = apart > 0.14, by_both = apart > 0.05;
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      if (count.at<float>(r, c) <= 0) continue;
      const cv::Vec2d off = chroma(cv::Vec3d(sum.at<cv::Vec3f>(r, c))) - usual;
      const double green = -off[0] - off[1];
      const double brighter =
          (whole(cv::Vec3d(sum.at<cv::Vec3f>(r, c))) / static_cast<double>(count.at<float>(r, c)) - usual_light) /
          (light_of_paint - usual_light);
      const bool painted =
          off.dot(toward) > 0.5 * toward.dot(toward) && (by_colour || (by_both && brighter > 0.5 && brighter < 2));
      if (!painted && green < 0.06) continue;
      plan.beside(cv::Rect(c * side, r * side, std::min(side, plan.beside.cols - c * side),
                           std::min(side, plan.beside.rows - r * side))) = 0;
    }
  }
}

/// Photo pixels across a stripe at the middle of what the photo shows of it: seen along its length it is wider than its
/// pixels are large, and its near end fills most of it.
double stripe_pixels(const GroundRing& ring, double turn_rad, double width_mm, const Ground& ground) {
  const GroundPoint across = turned({0, width_mm / 2}, turn_rad);
  std::vector<std::pair<double, double>> seen;  // pixels across, weight
  double all = 0;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    for (double t = 0.02; t < 1; t += 0.04) {
      const GroundPoint here = ring[i] * (1 - t) + ring[(i + 1) % ring.size()] * t,
                        next = here + (ring[(i + 1) % ring.size()] - ring[i]) * 0.04;
      const double pixels = length(ground.image_from_ground(here + across) - ground.image_from_ground(here - across));
      seen.emplace_back(pixels, pixels * length(ground.image_from_ground(next) - ground.image_from_ground(here)));
      all += seen.back().second;
    }
  }
  std::sort(seen.begin(), seen.end());
  double sum = 0;
  for (const auto& [pixels, weight] : seen) {
    if ((sum += weight) >= all / 2) return pixels;
  }
  return 0;
}

}  // namespace

Result<PlanView> look_down(const Photo& photo, const PaintMap& paint, const Ground& ground,
                           const std::vector<Footprint>& all, std::size_t which, const PlanSettings& settings) {
  require(which < all.size(), "the marking to measure is one of the footprints");
  const Footprint& footprint = all[which];
  double whole = 0, around = 0;
  for (const GroundRing& ring : footprint.rings) {
    whole += area(ring);
    around += perimeter(ring);
  }
  if (!(whole > 0)) return Problem{photo.file, "a marking without area cannot be measured; correct its outline"};
  // Area over half the perimeter is the width of anything long, and about half the width of compact shapes.
  const double width = footprint.width_mm > 0 ? std::min(footprint.width_mm, 4 * whole / around) : 2 * whole / around;

  std::vector<double> pixel;
  for (const GroundRing& ring : footprint.rings) {
    for (std::size_t i = 0; i < ring.size(); ++i) {
      for (const double t : {0.0, 0.25, 0.5, 0.75}) {
        const GroundPoint g = ring[i] * (1 - t) + ring[(i + 1) % ring.size()] * t;
        if (!in_picture(photo, ground.image_from_ground(g))) continue;
        if (const auto mm = pixel_mm(ground, g)) pixel.push_back(*mm);
      }
    }
  }
  if (pixel.empty())
    return Problem{photo.file, "a marking lies outside the picture; step back until the whole of it is in view"};
  std::sort(pixel.begin(), pixel.end());
  PlanView plan;
  plan.photo_px_mm = pixel[pixel.size() / 2];
  plan.turn_rad = main_direction(footprint.rings);
  plan.pixels_across = footprint.rings.size() == 1 && whole > 5 * width * width
                           ? stripe_pixels(footprint.rings.front(), plan.turn_rad, width, ground)
                           : width / plan.photo_px_mm;
  if (plan.pixels_across < settings.fewest_pixels_across) {
    return Problem{photo.file, "a marking is too small in the picture to be measured; take the photo from closer by"};
  }

  const double margin = std::clamp(0.9 * width, settings.least_margin_mm, settings.most_margin_mm);
  Box box;
  for (const GroundRing& ring : footprint.rings) {
    for (const GroundPoint& g : ring) {
      const GroundPoint local = turned(g, -plan.turn_rad);
      box.reach(local.x, local.y);
    }
  }
  const double wide = box.right - box.left + 2 * margin, high = box.bottom - box.top + 2 * margin;
  const double at_most = std::sqrt(wide * high / settings.most_pixels);
  plan.mm_per_pixel = std::max({settings.finest_mm, pixel[pixel.size() / 4], at_most});
  plan.origin = turned({box.left - margin, box.top - margin}, plan.turn_rad);
  const int cols = std::max(8, static_cast<int>(std::ceil(wide / plan.mm_per_pixel)));
  const int rows = std::max(8, static_cast<int>(std::ceil(high / plan.mm_per_pixel)));
  plan.light.create(rows, cols, CV_32FC3);
  plan.clipped.create(rows, cols, CV_8U);
  cv::Mat seen(rows, cols, CV_8U);
  const int taps = std::clamp(static_cast<int>(std::lround(plan.mm_per_pixel / pixel.front())), 1, 3);
  sample_photo(photo, ground, taps, plan, seen);
  plan.inside_mm = signed_distance(footprint.rings, plan);

  cv::Mat sheet(rows, cols, CV_8U, cv::Scalar(0));
  if (ground.sheet.size() >= 3) fill(sheet, ground.ground_from_image(ground.sheet), plan);
  // A marking painted on a painted field (a symbol on its ground coat) has the field for its pavement; the field in
  // turn is not measured under the symbol.
  cv::Mat others(rows, cols, CV_8U, cv::Scalar(0)), upon(rows, cols, CV_8U, cv::Scalar(0));
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (i == which) continue;
    if (lies_on(footprint, all[i])) {
      plan.on_field = true;
      continue;
    }
    const bool on_us = lies_on(all[i], footprint);
    for (const GroundRing& ring : all[i].rings) {
      fill(others, ring, plan);
      if (on_us) fill(upon, ring, plan);
    }
  }
  const auto grown = [&](const cv::Mat& mask, double by_mm) {
    const int radius = std::clamp(static_cast<int>(std::ceil(by_mm / plan.mm_per_pixel)), 1, 40);
    cv::Mat wider;
    cv::dilate(mask, wider, cv::getStructuringElement(cv::MORPH_RECT, {2 * radius + 1, 2 * radius + 1}));
    return wider;
  };
  const cv::Mat taken = grown(others, 12.0) | grown(sheet, 6.0);
  const cv::Mat foreign = on_plan(paint.not_ground, paint.photo_per_cell, plan, ground);
  const cv::Mat painted = on_plan(paint.footprint, paint.photo_per_cell, plan, ground);
  const double clear = std::max({4.0, 2 * plan.photo_px_mm, 1.5 * footprint.edge_error.value});
  plan.ours.create(rows, cols, CV_8U);
  plan.beside.create(rows, cols, CV_8U);
  const auto open_to = [](const cv::Mat& map, int r) { return map.empty() ? nullptr : map.ptr<float>(r); };
  int inside = 0, inside_seen = 0;
  for (int r = 0; r < rows; ++r) {
    const auto *on_sheet = sheet.ptr<unsigned char>(r), *in_photo_row = seen.ptr<unsigned char>(r),
               *beneath_row = upon.ptr<unsigned char>(r), *taken_row = taken.ptr<unsigned char>(r);
    const float *depth = plan.inside_mm.ptr<float>(r), *foreign_row = open_to(foreign, r),
                *painted_row = plan.on_field ? nullptr : open_to(painted, r);
    auto *ours = plan.ours.ptr<unsigned char>(r), *beside = plan.beside.ptr<unsigned char>(r);
    for (int c = 0; c < cols; ++c) {
      const auto d = static_cast<double>(depth[c]);
      const bool open = in_photo_row[c] != 0 && on_sheet[c] == 0, within_it = d > 0 && beneath_row[c] == 0;
      ours[c] = within_it && open ? 1 : 0;
      inside += within_it ? 1 : 0;
      inside_seen += ours[c];
      const bool odd = (foreign_row != nullptr && foreign_row[c] > 0.5F) ||
                       (painted_row != nullptr && d < -20 && painted_row[c] > 0.5F);
      beside[c] = d < -clear && d > -margin && open && taken_row[c] == 0 && !odd ? 1 : 0;
    }
  }
  plan.seen = inside > 0 ? static_cast<double>(inside_seen) / inside : 0;
  clean_beside(plan);
  sample_single_pixels(photo, ground, plan);
  return plan;
}

cv::Mat on_plan(const cv::Mat& map, double photo_per_cell, const PlanView& plan, const Ground& ground) {
  if (map.empty() || !(photo_per_cell > 0)) return {};
  const auto& h = ground.image_from_ground.matrix();
  const double c = std::cos(plan.turn_rad) * plan.mm_per_pixel, s = std::sin(plan.turn_rad) * plan.mm_per_pixel;
  // OpenCV's warps put the first pixel's centre at (0, 0), on both sides.
  const cv::Matx33d ground_from_plan(c, -s, plan.origin.x + 0.5 * (c - s), s, c, plan.origin.y + 0.5 * (s + c), 0, 0,
                                     1);
  const cv::Matx33d photo_from_ground(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8]);
  const double k = 1 / photo_per_cell;
  const cv::Matx33d cell_from_photo(k, 0, -0.5, 0, k, -0.5, 0, 0, 1);
  cv::Mat plan_map;
  cv::warpPerspective(map, plan_map, cell_from_photo * photo_from_ground * ground_from_plan, plan.light.size(),
                      cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  return plan_map;
}

}  // namespace lotwear
