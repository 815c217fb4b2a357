#include "support/paint_scene.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace lotwear::paint_scene {
namespace {

constexpr double kRasterMm = 0.8;

cv::Mat white_noise(cv::RNG& dice, cv::Size size) {
  cv::Mat n(size, CV_32F);
  dice.fill(n, cv::RNG::NORMAL, 0, 1);
  return n;
}

/// Zero mean, unit spread, blobs of about `mm`.
cv::Mat smooth_noise(cv::RNG& dice, cv::Size size, double mm) {
  const double sigma = mm / 2.5 / kRasterMm;
  const double shrink = std::max(1.0, sigma / 3);
  const cv::Size small(std::max(4, static_cast<int>(size.width / shrink)),
                       std::max(4, static_cast<int>(size.height / shrink)));
  cv::Mat n = white_noise(dice, small), mean, spread;
  cv::GaussianBlur(n, n, {}, sigma / shrink, sigma / shrink, cv::BORDER_REFLECT);
  cv::resize(n, n, size, 0, 0, cv::INTER_CUBIC);
  cv::meanStdDev(n, mean, spread);
  return (n - mean.at<double>(0)) / std::max(1e-6, spread.at<double>(0));
}

/// The value below which `share` of the pixels under `mask` lie.
float quantile(const cv::Mat& map, const cv::Mat& mask, double share) {
  std::vector<float> values;
  for (int r = 0; r < map.rows; ++r)
    for (int c = 0; c < map.cols; ++c)
      if (mask.at<unsigned char>(r, c) != 0) values.push_back(map.at<float>(r, c));
  if (values.empty()) return 0;
  const auto at = static_cast<std::ptrdiff_t>(std::clamp(share, 0.0, 1.0) * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), values.begin() + at, values.end());
  return values[static_cast<std::size_t>(at)];
}

/// Stones: nearest of jittered points; returns height (rounded tops) and a number a stone.
void stones(cv::RNG& dice, cv::Size size, double mm, cv::Mat& height, cv::Mat& shade) {
  const double cell = mm / kRasterMm;
  const int cols = static_cast<int>(size.width / cell) + 3, rows = static_cast<int>(size.height / cell) + 3;
  cv::Mat spots(rows, cols, CV_32FC4);
  for (int r = 0; r < rows; ++r)
    for (int c = 0; c < cols; ++c)
      spots.at<cv::Vec4f>(r, c) = {static_cast<float>((c - 1 + dice.uniform(0.05, 0.95)) * cell),
                                   static_cast<float>((r - 1 + dice.uniform(0.05, 0.95)) * cell),
                                   static_cast<float>(dice.gaussian(1)), static_cast<float>(dice.gaussian(1))};
  height.create(size, CV_32F);
  shade.create(size, CV_32F);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const int cc = static_cast<int>(x / cell) + 1, cr = static_cast<int>(y / cell) + 1;
      float best = 1e9F, second = 1e9F;
      cv::Vec4f mine;
      for (int r = std::max(0, cr - 1); r <= std::min(rows - 1, cr + 1); ++r)
        for (int c = std::max(0, cc - 1); c <= std::min(cols - 1, cc + 1); ++c) {
          const cv::Vec4f& s = spots.at<cv::Vec4f>(r, c);
          const float d = std::hypot(s[0] - static_cast<float>(x), s[1] - static_cast<float>(y));
          if (d < best)
            second = best, best = d, mine = s;
          else
            second = std::min(second, d);
        }
      const float rim = std::min(1.0F, (second - best) / static_cast<float>(0.5 * cell));
      height.at<float>(y, x) = 0.5F * mine[2] + 1.6F * std::sqrt(rim);
      shade.at<float>(y, x) = (rim < 0.18F ? -1.3F : mine[3]);
    }
  }
}

/// Convex chips scattered over the raster until `share` of `mask` is covered.
cv::Mat chips(cv::RNG& dice, const cv::Mat& mask, double share) {
  cv::Mat lost(mask.size(), CV_8U, cv::Scalar(0));
  const double wanted = share * cv::countNonZero(mask);
  const int centre_x = dice.uniform(0, mask.cols), centre_y = dice.uniform(0, mask.rows);
  for (int tries = 0; tries < 4000 && cv::countNonZero(lost & mask) < wanted; ++tries) {
    const double radius = std::exp(dice.uniform(std::log(5.0), std::log(32.0))) / kRasterMm;
    const bool near = dice.uniform(0.0, 1.0) < 0.6;
    const double x = near ? centre_x + dice.gaussian(120 / kRasterMm) : dice.uniform(0.0, 1.0 * mask.cols);
    const double y = near ? centre_y + dice.gaussian(60 / kRasterMm) : dice.uniform(0.0, 1.0 * mask.rows);
    std::vector<cv::Point> shape;
    const int corners = dice.uniform(5, 10);
    for (int i = 0; i < corners; ++i) {
      const double a = 2 * std::numbers::pi * (i + dice.uniform(-0.3, 0.3)) / corners,
                   rr = radius * dice.uniform(0.55, 1.1);
      shape.emplace_back(static_cast<int>(x + rr * std::cos(a)), static_cast<int>(y + rr * std::sin(a)));
    }
    cv::fillPoly(lost, std::vector<std::vector<cv::Point>>{shape}, cv::Scalar(1));
  }
  return lost & mask;
}

cv::Mat cracks(cv::RNG& dice, const cv::Mat& mask, double share) {
  cv::Mat lost(mask.size(), CV_8U, cv::Scalar(0));
  const double wanted = share * cv::countNonZero(mask);
  for (int tries = 0; tries < 60 && cv::countNonZero(lost & mask) < wanted; ++tries) {
    double x = dice.uniform(0.0, 1.0 * mask.cols), y = dice.uniform(0.0, 1.0 * mask.rows), a = dice.uniform(0.0, 6.28);
    const int thick = dice.uniform(1, 4);
    for (int i = 0; i < 90; ++i) {
      a += dice.gaussian(0.25);
      const double nx = x + 6 * std::cos(a), ny = y + 6 * std::sin(a);
      cv::line(lost, cv::Point(static_cast<int>(x), static_cast<int>(y)),
               cv::Point(static_cast<int>(nx), static_cast<int>(ny)), cv::Scalar(1), thick);
      x = nx, y = ny;
    }
  }
  return lost & mask;
}

/// 1 in the sun, 0 in the shade.
cv::Mat sun(cv::RNG& dice, cv::Size size, const Spec& spec) {
  cv::Mat s(size, CV_32F, cv::Scalar(1));
  if (spec.light == Light::even) return s;
  if (spec.light == Light::edge) {
    const double a = dice.uniform(0.0, 6.28), nx = std::cos(a), ny = std::sin(a);
    const double at = nx * size.width * dice.uniform(0.3, 0.7) + ny * size.height * dice.uniform(0.3, 0.7);
    const double soft = std::max(1.0, spec.penumbra_mm / kRasterMm);
    for (int r = 0; r < size.height; ++r)
      for (int c = 0; c < size.width; ++c)
        s.at<float>(r, c) = static_cast<float>(std::clamp(0.5 + (nx * c + ny * r - at) / soft, 0.0, 1.0));
    return s;
  }
  const cv::Mat leaves =
      smooth_noise(dice, size, dice.uniform(50, 140)) + 0.7 * smooth_noise(dice, size, dice.uniform(18, 40));
  const float cut = static_cast<float>(dice.uniform(-0.5, 0.6));
  const auto soft = static_cast<float>(spec.penumbra_mm / 60);
  for (int r = 0; r < size.height; ++r)
    for (int c = 0; c < size.width; ++c)
      s.at<float>(r, c) = std::clamp(0.5F + (leaves.at<float>(r, c) - cut) / std::max(0.05F, soft), 0.0F, 1.0F);
  cv::GaussianBlur(s, s, {}, spec.penumbra_mm / 3 / kRasterMm);
  return s;
}

std::vector<GroundRing> outline_of(const Spec& spec, double left, double top) {
  const double l = spec.length_mm, w = spec.width_mm;
  if (!spec.arrow) return {{{left, top}, {left + l, top}, {left + l, top + w}, {left, top + w}}};
  const double mid = top + w / 2, shaft = w * 0.22;
  return {{{left, mid - shaft / 2},
           {left + 0.6 * l, mid - shaft / 2},
           {left + 0.6 * l, top},
           {left + l, mid},
           {left + 0.6 * l, top + w},
           {left + 0.6 * l, mid + shaft / 2},
           {left, mid + shaft / 2}}};
}

cv::Mat encode(const cv::Mat& linear, const Spec& spec, cv::RNG& dice) {
  cv::Mat noise(linear.size(), CV_32FC3), rgb(linear.size(), CV_8UC3);
  dice.fill(noise, cv::RNG::NORMAL, 0, 1);
  for (int r = 0; r < linear.rows; ++r)
    for (int c = 0; c < linear.cols; ++c)
      for (int k = 0; k < 3; ++k) {
        auto v = static_cast<double>(linear.at<cv::Vec3f>(r, c)[k]);
        v += spec.noise * std::sqrt(std::max(0.0, v) + 0.01) * static_cast<double>(noise.at<cv::Vec3f>(r, c)[k]);
        v = std::clamp(v, 0.0, 1.0);
        double e = v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055;
        e += spec.curve * e * (1 - e) * (2 * e - 1);
        rgb.at<cv::Vec3b>(r, c)[k] = cv::saturate_cast<unsigned char>(e * 255);
      }
  if (spec.sharpen > 0) {
    cv::Mat soft;
    cv::GaussianBlur(rgb, soft, {}, 1.2);
    cv::addWeighted(rgb, 1 + spec.sharpen, soft, -spec.sharpen, 0, rgb);
  }
  std::vector<unsigned char> bytes;
  cv::Mat bgr;
  cv::cvtColor(rgb, bgr, cv::COLOR_RGB2BGR);
  cv::imencode(".jpg", bgr, bytes, {cv::IMWRITE_JPEG_QUALITY, spec.jpeg_quality});
  cv::cvtColor(cv::imdecode(bytes, cv::IMREAD_COLOR), rgb, cv::COLOR_BGR2RGB);
  return rgb;
}

}  // namespace

Scene make(const Spec& spec) {
  cv::RNG dice(spec.seed * 7919 + 17);
  const double margin = 260;
  const cv::Size size(static_cast<int>((spec.length_mm + 2 * margin) / kRasterMm),
                      static_cast<int>((spec.width_mm + 2 * margin) / kRasterMm));
  Scene scene;
  scene.footprint.rings = outline_of(spec, margin, margin);
  scene.footprint.kind = spec.arrow ? Kind::arrow_straight : Kind::line;
  scene.footprint.length_mm = spec.length_mm;
  scene.footprint.width_mm = spec.arrow ? 0.22 * spec.width_mm : spec.width_mm;
  scene.footprint.edge_error = {1.0};

  cv::Mat mask(size, CV_8U, cv::Scalar(0));
  for (const GroundRing& ring : scene.footprint.rings) {
    std::vector<cv::Point> points;
    for (const GroundPoint& g : ring)
      points.emplace_back(static_cast<int>(std::lround(g.x / kRasterMm)),
                          static_cast<int>(std::lround(g.y / kRasterMm)));
    cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1));
  }
  cv::Mat height, shade;
  stones(dice, size, spec.stone_mm, height, shade);
  const cv::Mat stain = smooth_noise(dice, size, 300), film = smooth_noise(dice, size, 25),
                rough = white_noise(dice, size);

  cv::Mat wear = height + 1.2 * spec.wheel_path * smooth_noise(dice, size, 260) + 0.25 * smooth_noise(dice, size, 4);
  const float cut = quantile(wear, mask, 1 - spec.abraded);
  const cv::Mat flakes = chips(dice, mask, spec.flaked), splits = cracks(dice, mask, spec.cracked);
  const cv::Mat under = smooth_noise(dice, size, 120);
  const float older_cut = quantile(under, mask, spec.older_share);
  cv::Mat lit = sun(dice, size, spec);
  const cv::Mat dirt = smooth_noise(dice, size, 180);

  cv::Mat ground(size, CV_32FC3);
  double inside = 0, kept = 0, worn = 0, flaked = 0, cracked = 0, older = 0;
  const double track = dice.uniform(0.3, 0.7) * size.width;
  for (int r = 0; r < size.height; ++r) {
    for (int c = 0; c < size.width; ++c) {
      const bool in = mask.at<unsigned char>(r, c) != 0;
      const bool split = splits.at<unsigned char>(r, c) != 0, flake = flakes.at<unsigned char>(r, c) != 0;
      const bool rubbed = spec.abraded > 0 && wear.at<float>(r, c) > cut;
      const bool coat = in && !split && !flake && !rubbed;
      const bool beneath = in && flake && !split && under.at<float>(r, c) < older_cut && spec.older_share > 0;
      inside += in, kept += coat, cracked += in && split, flaked += in && !split && flake,
          worn += in && !split && !flake && rubbed, older += beneath;
      const auto at = [&](const cv::Mat& map) { return static_cast<double>(map.at<float>(r, c)); };
      const double stone = std::exp(spec.texture * at(shade) + 0.05 * at(stain) + 0.04 * at(rough));
      const double relief = std::exp(0.02 * (at(height) - 1) + 0.025 * at(film) + 0.02 * at(rough));
      double dim = 1;
      if (spec.soil > 0) dim *= 1 - spec.soil * std::clamp(0.5 + 0.6 * at(dirt), 0.0, 1.0);
      if (spec.tyre > 0) dim *= 1 - spec.tyre * std::exp(-std::pow((c - track) * kRasterMm / 90, 4));
      const double s = at(lit);
      for (int k = 0; k < 3; ++k) {
        double reflectance = spec.pavement[static_cast<std::size_t>(k)] * stone * (split ? 0.4 : 1.0);
        if (coat) reflectance = spec.paint[static_cast<std::size_t>(k)] * relief * dim;
        if (beneath) reflectance = spec.older[static_cast<std::size_t>(k)] * relief;
        if (!coat && !beneath) reflectance *= 0.4 + 0.6 * dim;
        const double shade_k = spec.shade * (1 + spec.tint * (k - 1));
        ground.at<cv::Vec3f>(r, c)[k] = static_cast<float>(reflectance * (shade_k + s * (1 - shade_k)));
      }
    }
  }
  scene.remaining = kept / inside, scene.any_coat = (kept + older) / inside, scene.abraded = worn / inside;
  scene.flaked = flaked / inside, scene.cracked = cracked / inside, scene.older = older / inside;

  // Pinhole over the middle of the raster, tilted about the photo's x axis.
  const double tilt = spec.tilt_deg * std::numbers::pi / 180, turn = spec.turn_deg * std::numbers::pi / 180;
  const double f = 1400, away = f * spec.pixel_mm;
  const double cx = size.width * kRasterMm / 2, cy = size.height * kRasterMm / 2;
  const int wide = static_cast<int>(1.25 * size.width * kRasterMm / spec.pixel_mm),
            high = static_cast<int>(
                1.25 * (size.height * kRasterMm * std::cos(tilt) + spec.length_mm * std::abs(std::sin(turn))) /
                spec.pixel_mm);
  const cv::Matx33d place(1, 0, -cx, 0, 1, -cy, 0, 0, 1),
      spin(std::cos(turn), -std::sin(turn), 0, std::sin(turn), std::cos(turn), 0, 0, 0, 1);
  const cv::Matx33d look(f, 0, 0, 0, f * std::cos(tilt), 0, 0, -std::sin(tilt), away);
  const cv::Matx33d shift(1, 0, wide / 2.0, 0, 1, high / 2.0, 0, 0, 1);
  const cv::Matx33d h = shift * look * spin * place;
  std::array<double, 9> matrix{};
  std::copy(h.val, h.val + 9, matrix.begin());
  scene.ground.image_from_ground = ImageFromGround(matrix);
  scene.ground.ground_from_image = scene.ground.image_from_ground.inverse();
  scene.ground.source = "scale-sheet";
  scene.ground.scale_error = Fraction{0.01};
  scene.ground.tilt_deg = spec.tilt_deg;

  const int fine = std::max(2, static_cast<int>(std::lround(spec.pixel_mm / kRasterMm)) + 1);
  const cv::Matx33d raster(kRasterMm, 0, 0.5 * kRasterMm, 0, kRasterMm, 0.5 * kRasterMm, 0, 0, 1);
  const cv::Matx33d zoom(fine, 0, -0.5, 0, fine, -0.5, 0, 0, 1);
  cv::Mat big, small;
  cv::warpPerspective(ground, big, zoom * h * raster, {wide * fine, high * fine}, cv::INTER_LINEAR,
                      cv::BORDER_REPLICATE);
  cv::resize(big, small, {wide, high}, 0, 0, cv::INTER_AREA);
  if (spec.blur_px > 0) cv::GaussianBlur(small, small, {}, spec.blur_px);
  double brightest = 0;
  for (int k = 0; k < 3; ++k)
    brightest =
        std::max({brightest, spec.paint[static_cast<std::size_t>(k)], spec.pavement[static_cast<std::size_t>(k)]});
  small *= 0.8 * spec.exposure / std::max(0.45, brightest);

  Photo& photo = scene.photo;
  photo.rgb = encode(small, spec, dice);
  photo.file = "scene.jpg";
  for (int i = 0; i < 256; ++i) {
    const double e = i / 255.0;
    photo.space.linear[static_cast<std::size_t>(i)] =
        static_cast<float>(e <= 0.04045 ? e / 12.92 : std::pow((e + 0.055) / 1.055, 2.4));
  }
  photo.quality.blur_px = spec.blur_px;
  return scene;
}

Spec random_spec(std::uint64_t seed, int tier) {
  cv::RNG dice(seed * 104729 + 3 + static_cast<std::uint64_t>(tier) * 7);
  const auto chance = [&](double p) { return dice.uniform(0.0, 1.0) < p; };
  Spec s;
  s.seed = seed;
  s.arrow = chance(0.3);
  s.width_mm = s.arrow ? dice.uniform(400, 800) : (chance(0.7) ? dice.uniform(90, 160) : dice.uniform(200, 500));
  s.length_mm = s.arrow ? dice.uniform(1000, 1800) : dice.uniform(900, 2200);
  const double colour = dice.uniform(0.0, 1.0), vary = dice.uniform(0.8, 1.1);
  s.paint = colour < 0.5 ? kWhite : colour < 0.85 ? kYellow : colour < 0.95 ? kBlue : kRed;
  s.pavement = chance(0.55) ? kAsphalt : chance(0.5) ? kOldAsphalt : kConcrete;
  const double base = dice.uniform(0.8, 1.2);
  for (std::size_t k = 0; k < 3; ++k) {
    s.paint[k] *= vary * dice.uniform(0.95, 1.05);
    s.pavement[k] *= base * dice.uniform(0.97, 1.03);
    if (chance(0.35)) continue;
  }
  const double faded = chance(0.3) ? dice.uniform(0.1, 0.35) : 0.0;
  for (std::size_t k = 0; k < 3; ++k)
    s.paint[k] = s.paint[k] * (1 - faded) + faded * (0.1 + s.pavement[k]);
  s.texture = s.pavement[0] > 0.25 ? dice.uniform(0.05, 0.12) : dice.uniform(0.12, 0.32);
  s.stone_mm = dice.uniform(4, 11);
  const double kind = dice.uniform(0.0, 1.0);
  const double most = tier == 2 ? 0.94 : 0.8;
  if (kind < 0.15)
    s.abraded = dice.uniform(0.0, 0.02);
  else if (kind < 0.55)
    s.abraded = dice.uniform(0.03, most);
  else if (kind < 0.85)
    s.flaked = dice.uniform(0.03, 0.5), s.abraded = chance(0.4) ? dice.uniform(0.0, 0.1) : 0.0;
  else
    s.abraded = dice.uniform(0.05, 0.4), s.flaked = dice.uniform(0.05, 0.25), s.cracked = dice.uniform(0.0, 0.04);
  if (chance(0.2)) s.cracked = dice.uniform(0.01, 0.05);
  if (chance(0.25)) s.older_share = dice.uniform(0.3, 1.0);
  if (chance(0.5)) s.older = s.paint[2] > 0.3 ? Reflectance{0.52, 0.36, 0.08} : Reflectance{0.5, 0.5, 0.46};
  s.wheel_path = dice.uniform(0.0, 1.2);
  s.light = tier == 0   ? Light::even
            : tier == 1 ? (chance(0.5) ? Light::edge : Light::even)
                        : (chance(0.75) ? Light::dapple : Light::edge);
  s.shade = dice.uniform(0.15, 0.4), s.tint = dice.uniform(0.05, 0.35), s.penumbra_mm = dice.uniform(4, 30);
  s.soil = tier == 0   ? (chance(0.3) ? 0.15 : 0.0)
           : tier == 1 ? (chance(0.4) ? dice.uniform(0.05, 0.25) : 0.0)
                       : (chance(0.6) ? dice.uniform(0.1, 0.4) : 0.0);
  s.tyre = tier == 2 && chance(0.4) ? dice.uniform(0.2, 0.5) : 0.0;
  s.pixel_mm = tier == 2 ? dice.uniform(0.9, 3.2) : dice.uniform(0.7, 2.4);
  s.tilt_deg = tier == 2 ? dice.uniform(10, 58) : dice.uniform(5, 45), s.turn_deg = dice.uniform(-25, 25);
  s.blur_px = tier == 2 ? dice.uniform(0.5, 1.8) : dice.uniform(0.4, 1.1), s.noise = dice.uniform(0.003, 0.015);
  s.sharpen = dice.uniform(0.0, 0.8), s.curve = dice.uniform(-0.1, 0.35), s.exposure = dice.uniform(0.6, 1.15);
  s.jpeg_quality = dice.uniform(80, 97);
  return s;
}

Footprint grown(const Footprint& footprint, double by_mm) {
  Footprint moved = footprint;
  for (GroundRing& ring : moved.rings) {
    double twice = 0;
    for (std::size_t i = 0; i < ring.size(); ++i)
      twice += cross(ring[i], ring[(i + 1) % ring.size()]);
    const double side = twice > 0 ? 1 : -1;
    const GroundRing was = ring;
    for (std::size_t i = 0; i < ring.size(); ++i) {
      const GroundPoint a = was[(i + was.size() - 1) % was.size()], b = was[i], c = was[(i + 1) % was.size()];
      const GroundPoint u = (b - a) * (1 / length(b - a)), v = (c - b) * (1 / length(c - b));
      const GroundPoint n{side * (u.y + v.y), -side * (u.x + v.x)};
      const double cosine = std::max(0.3, (1 + dot(u, v)) / 2);
      ring[i] = b + n * (by_mm / 2 / cosine);
    }
  }
  return moved;
}

}  // namespace lotwear::paint_scene
