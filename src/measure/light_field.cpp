#include "measure/light_field.hpp"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <vector>

namespace lotwear {
namespace {

constexpr double kBlockMm = 8;  // smaller than the smallest dapple that can be seen as one
constexpr double kBrokenRange =
    0.45;  // spread of log light beside the marking above which there is more than one light
constexpr float kDark = 1e-4F;

float luminance(const cv::Vec3f& v) { return 0.2126F * v[0] + 0.7152F * v[1] + 0.0722F * v[2]; }

struct Look {
  float log_light = 0, red = 0,
        blue = 0;  // log luminance; shares of red and of blue, which stay calm where a channel is dark
};
Look look_at(const cv::Vec3f& v) {
  const float sum = std::max(3 * kDark, v[0] + v[1] + v[2]);
  return {std::log(std::max(kDark, luminance(v))), v[0] / sum, v[2] / sum};
}

int block_side(const PlanView& plan) {
  return std::max(3, static_cast<int>(std::lround(kBlockMm / plan.mm_per_pixel)));
}

struct Grid {
  int side = 1;
  cv::Mat mean;   // CV_32FC3, mean light of the pavement pixels of the block
  cv::Mat share;  // CV_32F, share of the block that is pavement beside the marking
};
Grid pavement_blocks(const PlanView& plan) {
  Grid grid;
  grid.side = block_side(plan);
  const int rows = (plan.light.rows + grid.side - 1) / grid.side, cols = (plan.light.cols + grid.side - 1) / grid.side;
  grid.mean = cv::Mat::zeros(rows, cols, CV_32FC3);
  grid.share = cv::Mat::zeros(rows, cols, CV_32F);
  for (int r = 0; r < plan.light.rows; ++r) {
    const auto* light = plan.light.ptr<cv::Vec3f>(r);
    const auto* beside = plan.beside.ptr<unsigned char>(r);
    auto* mean = grid.mean.ptr<cv::Vec3f>(r / grid.side);
    float* share = grid.share.ptr<float>(r / grid.side);
    for (int c = 0; c < plan.light.cols; ++c) {
      if (beside[c] == 0) continue;
      mean[c / grid.side] += light[c];
      share[c / grid.side] += 1;
    }
  }
  const float whole = static_cast<float>(grid.side * grid.side);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const float n = grid.share.at<float>(r, c);
      if (n > 0) grid.mean.at<cv::Vec3f>(r, c) *= 1 / n;
      grid.share.at<float>(r, c) = n / whole;
    }
  }
  return grid;
}

template <class T>
T quantile(std::vector<T>& values, double share) {
  const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

}  // namespace

cv::Mat carried(const cv::Mat& values, const cv::Mat& weight, double mm, double scale_mm) {
  const int channels = values.channels();
  cv::Mat sum = cv::Mat::zeros(values.size(), CV_32FC(channels)), norm = cv::Mat::zeros(values.size(), CV_32F);
  std::vector<cv::Mat> planes(static_cast<std::size_t>(channels)), sums(static_cast<std::size_t>(channels));
  cv::split(values, planes);
  for (std::size_t k = 0; k < planes.size(); ++k) {
    planes[k] = planes[k].mul(weight);
    sums[k] = cv::Mat::zeros(values.size(), CV_32F);
  }
  // Each coarser blur speaks a hundred times softer: it decides only where the finer ones have nothing to say.
  double loud = 1;
  for (double sigma = scale_mm / mm;; sigma *= 3, loud *= 0.01) {
    const bool last = sigma * 3 > std::max(values.cols, values.rows) || loud < 1e-7;
    // Blurs wider than a few cells run on a shrunken grid: same result to a percent, cost independent of the width.
    const double shrink = std::max(1.0, sigma / 3);
    const cv::Size small(std::max(1, static_cast<int>(std::lround(values.cols / shrink))),
                         std::max(1, static_cast<int>(std::lround(values.rows / shrink))));
    const auto blurred = [&](const cv::Mat& m) {
      cv::Mat s, b;
      cv::resize(m, s, small, 0, 0, cv::INTER_AREA);
      cv::GaussianBlur(s, s, {}, std::max(0.5, sigma / shrink), std::max(0.5, sigma / shrink), cv::BORDER_CONSTANT);
      cv::resize(s, b, m.size(), 0, 0, cv::INTER_LINEAR);
      return b;
    };
    norm += loud * blurred(weight);
    for (std::size_t k = 0; k < planes.size(); ++k)
      sums[k] += loud * blurred(planes[k]);
    if (last) break;
  }
  cv::max(norm, 1e-20, norm);
  for (cv::Mat& s : sums)
    s /= norm;
  cv::merge(sums, sum);
  return sum;
}

std::optional<PavementLook> look_of_pavement(const PlanView& plan) {
  const Grid grid = pavement_blocks(plan);
  std::vector<float> lights;
  std::vector<cv::Vec3f> means;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) < 0.6F) continue;
      means.push_back(grid.mean.at<cv::Vec3f>(r, c));
      lights.push_back(look_at(means.back()).log_light);
    }
  }
  if (lights.size() < 24) return std::nullopt;

  PavementLook look;
  // Coarse stones make single blocks differ; light differs over several.
  const cv::Mat calm = carried(grid.mean, grid.share, grid.side * plan.mm_per_pixel, 1.2 * kBlockMm);
  std::vector<float> sorted;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) >= 0.6F) sorted.push_back(look_at(calm.at<cv::Vec3f>(r, c)).log_light);
    }
  }
  const float low = quantile(sorted, 0.04), high = quantile(sorted, 0.96);
  look.broken = high - low > static_cast<float>(kBrokenRange);
  // Two means of the log light; their trimmed colours are sun and shade.
  float dark = low, bright = high;
  for (int turn = 0; turn < 8; ++turn) {
    double d = 0, b = 0;
    int nd = 0, nb = 0;
    for (const float l : lights) {
      if (std::abs(l - dark) < std::abs(l - bright))
        d += static_cast<double>(l), ++nd;
      else
        b += static_cast<double>(l), ++nb;
    }
    if (nd > 0) dark = static_cast<float>(d / nd);
    if (nb > 0) bright = static_cast<float>(b / nb);
  }
  const auto colour_near = [&](float at, float within) {
    std::array<double, 3> sum{};
    int n = 0;
    for (std::size_t i = 0; i < lights.size(); ++i) {
      if (std::abs(lights[i] - at) > within) continue;
      for (int k = 0; k < 3; ++k)
        sum[static_cast<std::size_t>(k)] += static_cast<double>(means[i][k]);
      ++n;
    }
    for (double& s : sum)
      s = n > 0 ? std::max(1e-4, s / n) : 1e-4;
    return sum;
  };
  if (look.broken) {
    look.sun = colour_near(bright, 0.25F * (bright - dark));
    look.shade = colour_near(dark, 0.25F * (bright - dark));
  } else {
    look.sun = look.shade = colour_near((low + high) / 2, high - low + 1);
  }

  // Texture: spread within a block, so that light does not count.
  std::vector<float> brightness, chroma;
  const int stride = std::max(1, static_cast<int>(std::sqrt(static_cast<double>(plan.light.total()) / 60000.0)));
  double inside = 0, beside = 0;
  for (int r = 0; r < plan.light.rows; r += stride) {
    for (int c = 0; c < plan.light.cols; c += stride) {
      inside += plan.ours.at<unsigned char>(r, c);
      if (plan.beside.at<unsigned char>(r, c) == 0) continue;
      ++beside;
      const int br = r / grid.side, bc = c / grid.side;
      if (grid.share.at<float>(br, bc) < 0.6F) continue;
      const Look pixel = look_at(plan.light.at<cv::Vec3f>(r, c)), block = look_at(grid.mean.at<cv::Vec3f>(br, bc));
      brightness.push_back(std::abs(pixel.log_light - block.log_light));
      chroma.push_back(std::abs(pixel.red - block.red));
      chroma.push_back(std::abs(pixel.blue - block.blue));
    }
  }
  if (brightness.size() < 50) return std::nullopt;
  look.texture = std::clamp(1.4826 * static_cast<double>(quantile(brightness, 0.5)), 0.02, 0.8);
  look.chroma_spread = std::clamp(1.4826 * static_cast<double>(quantile(chroma, 0.5)), 0.003, 0.1);
  look.share_seen = inside > 0 ? beside / inside : 0;
  return look;
}

cv::Mat even_light(const PlanView& plan, double scale_mm) {
  const Grid grid = pavement_blocks(plan);
  const double cell = grid.side * plan.mm_per_pixel;
  const cv::Mat field = carried(grid.mean, grid.share, cell, scale_mm);
  cv::Mat full;
  // Blocks reach past the plan's edge, so the grid is enlarged to whole blocks and cut.
  cv::resize(field, full, {field.cols * grid.side, field.rows * grid.side}, 0, 0, cv::INTER_LINEAR);
  return full(cv::Rect(0, 0, plan.light.cols, plan.light.rows)).clone();
}

namespace {

constexpr int kShares = 5;  // shares of paint a pixel is tried with

/// Light levels between shade and sun, evenly apart in the log, and how bare pavement looks under each.
struct Levels {
  std::vector<cv::Vec3f> bare;
  std::vector<std::array<Look, kShares>> looks;
  double step = 0.14;
};
Levels levels_of(const PavementLook& look, const PaintGuess& paint, float low, float high) {
  Levels levels;
  const int count = std::clamp(static_cast<int>(std::ceil((high - low) / 0.14F)) + 1, 3, 18);
  levels.step = static_cast<double>(high - low) / (count - 1);
  const auto light = [](const std::array<double, 3>& c) { return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]; };
  const double sun = light(look.sun), shade = light(look.shade);
  for (int i = 0; i < count; ++i) {
    const double wanted = std::exp(static_cast<double>(low) + i * levels.step);
    // Sun adds to skylight, so colours between the two lie on a line in linear light.
    const double s = std::clamp((wanted - shade) / std::max(1e-6, sun - shade), 0.0, 1.0);
    cv::Vec3f bare;
    double now = 0;
    std::array<double, 3> mix{};
    for (std::size_t k = 0; k < 3; ++k)
      mix[k] = look.shade[k] + s * (look.sun[k] - look.shade[k]);
    now = light(mix);
    for (int k = 0; k < 3; ++k)
      bare[k] = static_cast<float>(mix[static_cast<std::size_t>(k)] * wanted / now);
    levels.bare.push_back(bare);
    std::array<Look, kShares> looks;
    for (int f = 0; f < kShares; ++f) {
      cv::Vec3f v;
      for (int k = 0; k < 3; ++k)
        v[k] = bare[k] *
               static_cast<float>(1 + f / (kShares - 1.0) * (paint.over_pavement[static_cast<std::size_t>(k)] - 1));
      looks[static_cast<std::size_t>(f)] = look_at(v);
    }
    levels.looks.push_back(looks);
  }
  return levels;
}

struct Costs {
  int rows = 0, cols = 0, labels = 0;
  std::vector<float> own;  // rows x cols x labels
  float* at(int r, int c) { return own.data() + (static_cast<std::size_t>(r) * cols + c) * labels; }
};

/// What each light level costs each block.
Costs block_costs(const PlanView& plan, const PavementLook& look, const PaintGuess& paint, const Levels& levels,
                  int side, int taps) {
  Costs costs;
  costs.rows = (plan.light.rows + side - 1) / side, costs.cols = (plan.light.cols + side - 1) / side;
  costs.labels = static_cast<int>(levels.bare.size());
  costs.own.assign(static_cast<std::size_t>(costs.rows) * costs.cols * costs.labels, 0.0F);
  const int stride = std::max(1, side / taps);
  const double chroma = std::hypot(look.chroma_spread, 0.012);
  const auto chroma_weight = static_cast<float>(0.5 / (chroma * chroma));
  std::array<float, kShares> width_weight{}, base{};
  for (int f = 0; f < kShares; ++f) {
    const double t = f / (kShares - 1.0);
    const double spread = std::hypot((1 - t) * look.texture + t * paint.spread, 0.04 + 0.5 * levels.step * 0.5);
    width_weight[static_cast<std::size_t>(f)] = static_cast<float>(0.5 / (spread * spread));
    // Pixels half covered are rarer than covered or bare ones.
    base[static_cast<std::size_t>(f)] = static_cast<float>(std::log(spread) + (f == 0 || f == kShares - 1 ? 0.0 : 1.2));
  }
  constexpr float kWorst = 14, kOdd = 5;
  for (int br = 0; br < costs.rows; ++br) {
    for (int bc = 0; bc < costs.cols; ++bc) {
      float* own = costs.at(br, bc);
      int n = 0;
      for (int r = br * side; r < std::min(plan.light.rows, (br + 1) * side); r += stride) {
        for (int c = bc * side; c < std::min(plan.light.cols, (bc + 1) * side); c += stride) {
          const bool ours = plan.ours.at<unsigned char>(r, c) != 0;
          if (!ours && plan.beside.at<unsigned char>(r, c) == 0) continue;
          ++n;
          const Look pixel = look_at(plan.light.at<cv::Vec3f>(r, c));
          for (int l = 0; l < costs.labels; ++l) {
            float best = kWorst;
            for (int f = 0; f < (ours ? kShares : 1); ++f) {
              const Look& as = levels.looks[static_cast<std::size_t>(l)][static_cast<std::size_t>(f)];
              const float dl = pixel.log_light - as.log_light, dr = pixel.red - as.red, db = pixel.blue - as.blue;
              const float light = width_weight[static_cast<std::size_t>(f)] * dl * dl,
                          tint = chroma_weight * (dr * dr + db * db);
              const float cost =
                  light / (1 + light / kOdd) + tint / (1 + tint / kOdd) + base[static_cast<std::size_t>(f)] + 4;
              best = std::min(best, cost);
            }
            own[l] += best;
          }
        }
      }
      // Neighbouring pixels share stones and demosaicing: a block is worth about a quarter of its pixels.
      const float worth = n > 0 ? std::min(4.0F, static_cast<float>(n) / 4) / static_cast<float>(n) : 0;
      for (int l = 0; l < costs.labels; ++l)
        own[l] *= worth;
    }
  }
  return costs;
}

/// Light inside a marking is as a rule the light that falls beside it; it may differ as much as light differs there.
/// Without this, paint worn by half looks like whole paint in a shade that ends where the marking ends.
void lean_on_beside(Costs& costs, const Grid& grid, const PlanView& plan, double low, double step) {
  constexpr double kMottle = 0.08;  // blocks of pavement in one light differ by about this much in log light
  constexpr double kOwnShadow = 8;  // what a shadow that lies on the marking alone costs a block at most
  cv::Mat moments(grid.share.size(), CV_32FC2, cv::Scalar(0, 0));
  for (int r = 0; r < grid.share.rows; ++r) {
    for (int c = 0; c < grid.share.cols; ++c) {
      if (grid.share.at<float>(r, c) <= 0) continue;
      const float l = look_at(grid.mean.at<cv::Vec3f>(r, c)).log_light;
      moments.at<cv::Vec2f>(r, c) = {l, l * l};
    }
  }
  const cv::Mat beside = carried(moments, grid.share, grid.side * plan.mm_per_pixel, 1.2 * kBlockMm);
  for (int r = 0; r < costs.rows; ++r) {
    for (int c = 0; c < costs.cols; ++c) {
      if (grid.share.at<float>(r, c) > 0.3F) continue;
      const cv::Vec2f m = beside.at<cv::Vec2f>(r, c);
      const double spread2 = std::max(0.0, static_cast<double>(m[1] - m[0] * m[0])) + kMottle * kMottle;
      float* own = costs.at(r, c);
      for (int l = 0; l < costs.labels; ++l) {
        const double off = low + l * step - static_cast<double>(m[0]), cost = 0.5 * off * off / spread2;
        own[l] += static_cast<float>(cost / (1 + cost / kOwnShadow));
      }
    }
  }
}

/// Min-sum belief propagation with truncated linear smoothness, sweeps in four directions; returns the expected level.
cv::Mat settled_levels(Costs& costs, double step, int turns) {
  const int rows = costs.rows, cols = costs.cols, k = costs.labels;
  const auto slope = static_cast<float>(0.55 * step / 0.14), most = 2.2F;
  const std::size_t total = static_cast<std::size_t>(rows) * cols * k;
  std::array<std::vector<float>, 4> in;  // messages into a block from the left, right, above, below
  for (auto& m : in)
    m.assign(total, 0.0F);
  const auto index = [&](int r, int c) { return (static_cast<std::size_t>(r) * cols + c) * k; };
  std::vector<float> sum(static_cast<std::size_t>(k));
  const auto send = [&](int r, int c, int tr, int tc, std::size_t into, std::size_t except) {
    const std::size_t from = index(r, c);
    float least = 1e30F;
    for (int l = 0; l < k; ++l) {
      float s = costs.own[from + l];
      for (std::size_t m = 0; m < 4; ++m)
        s += m == except ? 0.0F : in[m][from + l];
      sum[static_cast<std::size_t>(l)] = s;
      least = std::min(least, s);
    }
    for (int l = 1; l < k; ++l)
      sum[static_cast<std::size_t>(l)] =
          std::min(sum[static_cast<std::size_t>(l)], sum[static_cast<std::size_t>(l - 1)] + slope);
    for (int l = k - 2; l >= 0; --l)
      sum[static_cast<std::size_t>(l)] =
          std::min(sum[static_cast<std::size_t>(l)], sum[static_cast<std::size_t>(l + 1)] + slope);
    float* out = in[into].data() + index(tr, tc);
    for (int l = 0; l < k; ++l)
      out[l] = std::min(sum[static_cast<std::size_t>(l)], least + most) - least;
  };
  for (int turn = 0; turn < turns; ++turn) {
    for (int r = 0; r < rows; ++r) {
      for (int c = 0; c + 1 < cols; ++c)
        send(r, c, r, c + 1, 0, 1);
      for (int c = cols - 1; c > 0; --c)
        send(r, c, r, c - 1, 1, 0);
    }
    for (int c = 0; c < cols; ++c) {
      for (int r = 0; r + 1 < rows; ++r)
        send(r, c, r + 1, c, 2, 3);
      for (int r = rows - 1; r > 0; --r)
        send(r, c, r - 1, c, 3, 2);
    }
  }
  cv::Mat level(rows, cols, CV_32F);
  for (int r = 0; r < rows; ++r) {
    for (int c = 0; c < cols; ++c) {
      const std::size_t at = index(r, c);
      float least = 1e30F;
      for (int l = 0; l < k; ++l) {
        float s = costs.own[at + l];
        for (const auto& m : in)
          s += m[at + l];
        sum[static_cast<std::size_t>(l)] = s;
        least = std::min(least, s);
      }
      double weight = 0, mean = 0;
      for (int l = 0; l < k; ++l) {
        const double w = std::exp(-2.0 * static_cast<double>(sum[static_cast<std::size_t>(l)] - least));
        weight += w, mean += w * l;
      }
      level.at<float>(r, c) = static_cast<float>(mean / weight);
    }
  }
  return level;
}

}  // namespace

BrokenLight broken_light(const PlanView& plan, const PavementLook& look, const PaintGuess& paint, Effort effort) {
  const Grid grid = pavement_blocks(plan);
  std::vector<float> lights;
  for (int r = 0; r < grid.mean.rows; ++r) {
    for (int c = 0; c < grid.mean.cols; ++c) {
      if (grid.share.at<float>(r, c) >= 0.6F) lights.push_back(look_at(grid.mean.at<cv::Vec3f>(r, c)).log_light);
    }
  }
  // Things that are not bare pavement (unlisted paint, leaves, a drain) must not stretch the range.
  const auto log_of = [](const std::array<double, 3>& c) {
    return look_at({static_cast<float>(c[0]), static_cast<float>(c[1]), static_cast<float>(c[2])}).log_light;
  };
  const float low = std::max(quantile(lights, 0.01), log_of(look.shade) - 0.5F) - 0.05F;
  const float high = std::min(quantile(lights, 0.99), log_of(look.sun) + 0.35F) + 0.05F;
  const Levels levels = levels_of(look, paint, low, high);
  Costs costs = block_costs(plan, look, paint, levels, grid.side, effort == Effort::glance ? 2 : 4);
  lean_on_beside(costs, grid, plan, static_cast<double>(low), levels.step);
  const cv::Mat level = settled_levels(costs, levels.step, effort == Effort::glance ? 1 : 3);

  cv::Mat field(level.size(), CV_32FC3);
  double misfit = 0;
  int inside = 0;
  for (int r = 0; r < level.rows; ++r) {
    for (int c = 0; c < level.cols; ++c) {
      const float l = level.at<float>(r, c);
      const auto i =
          static_cast<std::size_t>(std::clamp(static_cast<int>(l), 0, static_cast<int>(levels.bare.size()) - 2));
      const float t = l - static_cast<float>(i);
      if (grid.share.at<float>(r, c) == 0) {
        const float* own = costs.at(r, c);
        const float cost = own[i] * (1 - t) + own[i + 1] * t;
        if (cost > 0) misfit += static_cast<double>(cost), ++inside;
      }
      field.at<cv::Vec3f>(r, c) = levels.bare[i] * (1 - t) + levels.bare[i + 1] * t;
    }
  }
  // What the levels leave over beside the marking (stains, vignetting) is carried inward smoothly.
  cv::Mat rest(level.size(), CV_32FC3, cv::Scalar::all(1));
  for (int r = 0; r < level.rows; ++r) {
    for (int c = 0; c < level.cols; ++c) {
      if (grid.share.at<float>(r, c) <= 0) continue;
      for (int k = 0; k < 3; ++k) {
        rest.at<cv::Vec3f>(r, c)[k] =
            std::clamp(grid.mean.at<cv::Vec3f>(r, c)[k] / std::max(kDark, field.at<cv::Vec3f>(r, c)[k]), 0.6F, 1.6F);
      }
    }
  }
  field = field.mul(carried(rest, grid.share, grid.side * plan.mm_per_pixel, 60));
  cv::Mat full;
  cv::resize(field, full, {field.cols * grid.side, field.rows * grid.side}, 0, 0, cv::INTER_LINEAR);
  return {full(cv::Rect(0, 0, plan.light.cols, plan.light.rows)).clone(), inside > 0 ? misfit / inside : 0};
}

}  // namespace lotwear
