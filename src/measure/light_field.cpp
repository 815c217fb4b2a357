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

/// Pixels of every block that count in it, block after block.
struct PixelLooks {
  struct Pixel {
    Look look;
    bool ours = false;
  };
  int rows = 0, cols = 0;  ///< of blocks
  std::vector<Pixel> all;
  std::vector<int> count;  ///< a block each, row-major
};

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
  return full(cv::Rect(0, 0, plan.light.cols, plan.light.rows));
}

namespace {

constexpr int kShares = 5;       // shares of paint a pixel is tried with
constexpr int kMostLevels = 24;  // room for 18, in whole vectors

/// Loops over levels and over blocks in a row are what most of the time goes into: built for wide vectors as well, and
/// for every processor with the same result, as each element is worked out by itself.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__SANITIZE_ADDRESS__)
#define LOTWEAR_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define LOTWEAR_WIDE
#endif

using LevelRow = std::array<float, kMostLevels>;

/// Light levels between shade and sun, evenly apart in the log, and how bare pavement looks under each.
struct Levels {
  std::vector<cv::Vec3f> bare;
  std::array<LevelRow, kShares> log_light{}, red{}, blue{};  ///< looks of a share of paint, a column a level
  double step = 0.14;
};
Levels levels_of(const PavementLook& look, const PaintGuess& paint, float low, float high) {
  Levels levels;
  const int count = std::clamp(static_cast<int>(std::ceil((high - low) / 0.14F)) + 1, 3, 18);
  levels.step = static_cast<double>(high - low) / (count - 1);
  const auto light = [](const std::array<double, 3>& c) { return 0.2126 * c[0] + 0.7152 * c[1] + 0.0722 * c[2]; };
  const double sun = light(look.sun), shade = light(look.shade);
  for (std::size_t i = 0; i < static_cast<std::size_t>(count); ++i) {
    const double wanted = std::exp(static_cast<double>(low) + static_cast<double>(i) * levels.step);
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
    for (std::size_t f = 0; f < kShares; ++f) {
      cv::Vec3f v;
      for (int k = 0; k < 3; ++k)
        v[k] = bare[k] * static_cast<float>(1 + static_cast<double>(f) / (kShares - 1.0) *
                                                    (paint.over_pavement[static_cast<std::size_t>(k)] - 1));
      const Look seen = look_at(v);
      levels.log_light[f][i] = seen.log_light, levels.red[f][i] = seen.red, levels.blue[f][i] = seen.blue;
    }
  }
  return levels;
}

/// Numbers for every block and level: a row of blocks holds its levels one after the other, each as a run over the row.
struct BlockLevels {
  int rows = 0, cols = 0, levels = 0;
  std::vector<float> values;
  BlockLevels(int r, int c, int k) : rows(r), cols(c), levels(k), values(static_cast<std::size_t>(r) * c * k, 0.0F) {}
  float* row(int r) { return values.data() + static_cast<std::size_t>(r) * cols * levels; }
  const float* row(int r) const { return values.data() + static_cast<std::size_t>(r) * cols * levels; }
  float at(int r, int c, std::size_t l) const { return row(r)[l * static_cast<std::size_t>(cols) + c]; }
  std::size_t run() const { return static_cast<std::size_t>(cols) * levels; }
};

/// The sum of three, rows and columns changed over; in squares, as either order alone would miss the cache.
void turn_over(const BlockLevels& one, const BlockLevels& two, const BlockLevels& three, BlockLevels& to) {
  constexpr int kSide = 16;
  for (int top = 0; top < one.rows; top += kSide) {
    const int bottom = std::min(one.rows, top + kSide);
    for (int l = 0; l < one.levels; ++l) {
      for (int left = 0; left < one.cols; left += kSide) {
        const int right = std::min(one.cols, left + kSide);
        std::array<std::array<float, kSide>, kSide> sum{};
        for (int r = top; r < bottom; ++r) {
          const std::size_t at = static_cast<std::size_t>(r) * one.run() + static_cast<std::size_t>(l) * one.cols +
                                 static_cast<std::size_t>(left);
          auto& own = sum[static_cast<std::size_t>(r - top)];
          for (std::size_t c = 0; c < static_cast<std::size_t>(right - left); ++c)
            own[c] = one.values[at + c] + two.values[at + c] + three.values[at + c];
        }
        for (int c = left; c < right; ++c) {
          float* out = to.values.data() + static_cast<std::size_t>(c) * to.run() +
                       static_cast<std::size_t>(l) * to.cols + static_cast<std::size_t>(top);
          for (std::size_t r = 0; r < static_cast<std::size_t>(bottom - top); ++r)
            out[r] = sum[r][static_cast<std::size_t>(c - left)];
        }
      }
    }
  }
}

struct PixelCost {
  std::array<float, kShares> width_weight{}, base{};
  float chroma_weight = 0;
};

/// Adds what each of `count` levels costs this pixel to `own`.
LOTWEAR_WIDE void add_pixel_cost(float log_light, float red, float blue, std::size_t shares, const Levels& levels,
                                 const PixelCost& cost, LevelRow& own) {
  constexpr float kWorst = 14, kOdd = 5;
  const std::size_t count = (levels.bare.size() + 7) / 8 * 8;  // whole vectors; those too many are not read
  LevelRow best;
  best.fill(kWorst);
  for (std::size_t f = 0; f < shares; ++f) {
    const LevelRow &as_log = levels.log_light[f], &as_red = levels.red[f], &as_blue = levels.blue[f];
    const float width = cost.width_weight[f], base = cost.base[f] + 4, chroma = cost.chroma_weight;
    for (std::size_t l = 0; l < count; ++l) {
      const float dl = log_light - as_log[l], dr = red - as_red[l], db = blue - as_blue[l];
      const float light = width * dl * dl, tint = chroma * (dr * dr + db * db);
      // light / (1 + light / kOdd) + tint / (1 + tint / kOdd), with one division
      const float down = (kOdd + light) * (kOdd + tint);
      const float both = kOdd * (light * (kOdd + tint) + tint * (kOdd + light)) / down + base;
      best[l] = both < best[l] ? both : best[l];
    }
  }
  for (std::size_t l = 0; l < count; ++l)
    own[l] += best[l];
}

/// What each light level costs each block.
BlockLevels block_costs(const PixelLooks& pixels, const PavementLook& look, const PaintGuess& paint,
                        const Levels& levels) {
  BlockLevels costs(pixels.rows, pixels.cols, static_cast<int>(levels.bare.size()));
  const double chroma = std::hypot(look.chroma_spread, 0.012);
  PixelCost cost;
  cost.chroma_weight = static_cast<float>(0.5 / (chroma * chroma));
  for (std::size_t f = 0; f < kShares; ++f) {
    const double t = static_cast<double>(f) / (kShares - 1.0);
    const double spread = std::hypot((1 - t) * look.texture + t * paint.spread, 0.04 + 0.5 * levels.step * 0.5);
    cost.width_weight[f] = static_cast<float>(0.5 / (spread * spread));
    // Pixels half covered are rarer than covered or bare ones.
    cost.base[f] = static_cast<float>(std::log(spread) + (f == 0 || f == kShares - 1 ? 0.0 : 1.2));
  }
  std::size_t next = 0;
  for (int br = 0; br < costs.rows; ++br) {
    float* out = costs.row(br);
    for (int bc = 0; bc < costs.cols; ++bc) {
      LevelRow own{};
      const int n = pixels.count[static_cast<std::size_t>(br) * costs.cols + bc];
      for (int i = 0; i < n; ++i, ++next) {
        const PixelLooks::Pixel& p = pixels.all[next];
        add_pixel_cost(p.look.log_light, p.look.red, p.look.blue, p.ours ? kShares : 1, levels, cost, own);
      }
      // Neighbouring pixels share stones and demosaicing: a block is worth about a quarter of its pixels.
      const float worth = n > 0 ? std::min(4.0F, static_cast<float>(n) / 4) / static_cast<float>(n) : 0;
      for (int l = 0; l < costs.levels; ++l)
        out[static_cast<std::size_t>(l) * costs.cols + bc] = own[static_cast<std::size_t>(l)] * worth;
    }
  }
  return costs;
}

/// Light inside a marking is as a rule the light that falls beside it; it may differ as much as light differs there.
/// Without this, paint worn by half looks like whole paint in a shade that ends where the marking ends.
void lean_on_beside(BlockLevels& costs, const Grid& grid, const PlanView& plan, double low, double step) {
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
    float* own = costs.row(r);
    for (int c = 0; c < costs.cols; ++c) {
      if (grid.share.at<float>(r, c) > 0.3F) continue;
      const cv::Vec2f m = beside.at<cv::Vec2f>(r, c);
      const double spread2 = std::max(0.0, static_cast<double>(m[1] - m[0] * m[0])) + kMottle * kMottle;
      for (int l = 0; l < costs.levels; ++l) {
        const double off = low + l * step - static_cast<double>(m[0]), cost = 0.5 * off * off / spread2;
        own[static_cast<std::size_t>(l) * static_cast<std::size_t>(costs.cols) + static_cast<std::size_t>(c)] +=
            static_cast<float>(cost / (1 + cost / kOwnShadow));
      }
    }
  }
}

/// One message from every block of a row to its neighbour in the next: the least cost of each level there, where a step
/// of a level costs `slope` and any number of them `most`.
LOTWEAR_WIDE void pass_on(const float* own, const float* in, float* out, float* sum, float* least, int cols, int levels,
                          float slope, float most) {
  const auto n = static_cast<std::size_t>(cols), k = static_cast<std::size_t>(levels);
  for (std::size_t i = 0; i < n * k; ++i)
    sum[i] = own[i] + in[i];
  for (std::size_t c = 0; c < n; ++c)
    least[c] = sum[c];
  for (std::size_t l = 1; l < k; ++l) {
    float *here = sum + l * n, *before = here - n;
    for (std::size_t c = 0; c < n; ++c) {
      least[c] = here[c] < least[c] ? here[c] : least[c];
      const float stepped = before[c] + slope;
      here[c] = stepped < here[c] ? stepped : here[c];
    }
  }
  for (std::size_t l = k; l-- > 0;) {
    float *here = sum + l * n, *after = here + n, *to = out + l * n;
    if (l + 1 < k) {
      for (std::size_t c = 0; c < n; ++c) {
        const float stepped = after[c] + slope;
        here[c] = stepped < here[c] ? stepped : here[c];
      }
    }
    for (std::size_t c = 0; c < n; ++c) {
      const float limit = least[c] + most;
      to[c] = (here[c] < limit ? here[c] : limit) - least[c];
    }
  }
}

/// Messages down and up the rows, each way with what came in along that way before.
void sweep(const BlockLevels& own, BlockLevels& from_above, BlockLevels& from_below, float slope, float most) {
  std::vector<float> sum(own.run()), least(static_cast<std::size_t>(own.cols));
  for (int r = 0; r + 1 < own.rows; ++r)
    pass_on(own.row(r), from_above.row(r), from_above.row(r + 1), sum.data(), least.data(), own.cols, own.levels, slope,
            most);
  for (int r = own.rows - 1; r > 0; --r)
    pass_on(own.row(r), from_below.row(r), from_below.row(r - 1), sum.data(), least.data(), own.cols, own.levels, slope,
            most);
}

/// The least cost of every block of a row.
void cheapest(const float* costs, int cols, int levels, float* least) {
  const auto n = static_cast<std::size_t>(cols);
  std::copy(costs, costs + n, least);
  for (std::size_t l = 1; l < static_cast<std::size_t>(levels); ++l) {
    for (std::size_t c = 0; c < n; ++c)
      least[c] = std::min(least[c], costs[l * n + c]);
  }
}

/// Min-sum belief propagation with truncated linear smoothness, sweeps in four directions; returns the expected level.
/// Rows do not speak to each other while messages run along them, so a sweep carries a whole column of blocks at once:
/// for those along the rows everything is turned over.
cv::Mat settled_levels(const BlockLevels& costs, double step, int turns) {
  const int rows = costs.rows, cols = costs.cols, k = costs.levels;
  const auto slope = static_cast<float>(0.55 * step / 0.14), most = 2.2F;
  BlockLevels left(cols, rows, k), right(cols, rows, k), above(rows, cols, k), below(rows, cols, k);
  BlockLevels over(cols, rows, k), along(cols, rows, k), across(rows, cols, k);
  turn_over(costs, above, below, over);  // no messages yet
  for (int turn = 0; turn < turns; ++turn) {
    if (turn > 0) turn_over(costs, above, below, along);
    sweep(turn > 0 ? along : over, left, right, slope, most);
    turn_over(over, left, right, across);
    sweep(across, above, below, slope, most);
  }
  BlockLevels& sum = across;
  for (std::size_t i = 0; i < sum.values.size(); ++i)
    sum.values[i] += above.values[i] + below.values[i];
  cv::Mat level(rows, cols, CV_32F);
  std::vector<float> least(static_cast<std::size_t>(cols)), all(least.size()), mean(least.size());
  for (int r = 0; r < rows; ++r) {
    float* const own = sum.row(r);
    cheapest(own, cols, k, least.data());
    for (int l = 0; l < k; ++l) {
      float* const here = own + static_cast<std::size_t>(l) * static_cast<std::size_t>(cols);
      for (std::size_t c = 0; c < least.size(); ++c)
        here[c] = std::max(-2.0F * (here[c] - least[c]), -40.0F);
    }
    const cv::Mat weights(1, cols * k, CV_32F, own);
    cv::exp(weights, weights);
    std::fill(all.begin(), all.end(), 0.0F);
    std::fill(mean.begin(), mean.end(), 0.0F);
    for (int l = 0; l < k; ++l) {
      const float* const here = own + static_cast<std::size_t>(l) * static_cast<std::size_t>(cols);
      for (std::size_t c = 0; c < least.size(); ++c)
        all[c] += here[c], mean[c] += here[c] * static_cast<float>(l);
    }
    for (int c = 0; c < cols; ++c)
      level.at<float>(r, c) = mean[static_cast<std::size_t>(c)] / all[static_cast<std::size_t>(c)];
  }
  return level;
}

PixelLooks looks_of(const PlanView& plan, int side, int taps) {
  PixelLooks looks;
  looks.rows = (plan.light.rows + side - 1) / side, looks.cols = (plan.light.cols + side - 1) / side;
  const int stride = std::max(1, side / taps);
  looks.count.reserve(static_cast<std::size_t>(looks.rows) * looks.cols);
  for (int br = 0; br < looks.rows; ++br) {
    for (int bc = 0; bc < looks.cols; ++bc) {
      const std::size_t before = looks.all.size();
      for (int r = br * side; r < std::min(plan.light.rows, (br + 1) * side); r += stride) {
        for (int c = bc * side; c < std::min(plan.light.cols, (bc + 1) * side); c += stride) {
          const bool ours = plan.ours.at<unsigned char>(r, c) != 0;
          if (!ours && plan.beside.at<unsigned char>(r, c) == 0) continue;
          looks.all.push_back({look_at(plan.light.at<cv::Vec3f>(r, c)), ours});
        }
      }
      looks.count.push_back(static_cast<int>(looks.all.size() - before));
    }
  }
  return looks;
}

}  // namespace

struct LightSearch::Seen {
  const PlanView& plan;
  PavementLook look;
  Grid grid;
  float low = 0, high = 0;  ///< log light, the range of levels
  std::optional<PixelLooks> glanced, full;

  const PixelLooks& pixels(Effort effort) {
    std::optional<PixelLooks>& looks = effort == Effort::glance ? glanced : full;
    if (!looks) looks = looks_of(plan, grid.side, effort == Effort::glance ? 2 : 4);
    return *looks;
  }
};

LightSearch::LightSearch(const PlanView& plan, const PavementLook& look)
    : seen_(std::make_unique<Seen>(Seen{plan, look, pavement_blocks(plan), 0, 0, {}, {}})) {
  const Grid& grid = seen_->grid;
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
  seen_->low = std::max(quantile(lights, 0.01), log_of(look.shade) - 0.5F) - 0.05F;
  seen_->high = std::min(quantile(lights, 0.99), log_of(look.sun) + 0.35F) + 0.05F;
}

LightSearch::~LightSearch() = default;

BrokenLight LightSearch::under(const PaintGuess& paint, Effort effort) {
  const PlanView& plan = seen_->plan;
  const Grid& grid = seen_->grid;
  const Levels levels = levels_of(seen_->look, paint, seen_->low, seen_->high);
  BlockLevels costs = block_costs(seen_->pixels(effort), seen_->look, paint, levels);
  lean_on_beside(costs, grid, plan, static_cast<double>(seen_->low), levels.step);
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
        const float cost = costs.at(r, c, i) * (1 - t) + costs.at(r, c, i + 1) * t;
        if (cost > 0) misfit += static_cast<double>(cost), ++inside;
      }
      field.at<cv::Vec3f>(r, c) = levels.bare[i] * (1 - t) + levels.bare[i + 1] * t;
    }
  }
  if (effort == Effort::glance) return {{}, inside > 0 ? misfit / inside : 0};
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
  return {full(cv::Rect(0, 0, plan.light.cols, plan.light.rows)), inside > 0 ? misfit / inside : 0};
}

}  // namespace lotwear
