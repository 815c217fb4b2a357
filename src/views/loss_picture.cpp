#include <png.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <opencv2/imgproc.hpp>

#include "base/trouble.hpp"
#include "views/fit.hpp"
#include "views/lettering.hpp"
#include "views/marking_pictures.hpp"

namespace lotwear {

namespace {

constexpr int kLongSide = 760;       // px
constexpr int kUsualLongSide = 420;  // px; a small map is enlarged to this, four times at most
constexpr int kGreys = 64;           // first entries of the palette
constexpr int kMargin = 12, kSwatchWidth = 22, kSwatchHeight = 14, kKeyRow = 22;
constexpr double kKeyLetters = 12;

constexpr unsigned char grey_index(int grey) { return static_cast<unsigned char>(std::clamp(grey, 0, 255) / 4); }
constexpr unsigned char kPaper = grey_index(255), kEdge = grey_index(24);

unsigned char fill_index(std::size_t key) { return static_cast<unsigned char>(kGreys + 2 * static_cast<int>(key)); }

/// Whether the pattern's ink lies at a pixel of the picture; pitches in pixels, so a pattern looks the same at any
/// scale.
bool inked(Texture texture, int x, int y) {
  switch (texture) {
    case Texture::upright_lines:
      return x % 5 == 0;
    case Texture::dots:
      return (x + (y / 4 % 2) * 3) % 6 < 2 && y % 4 < 2;
    case Texture::slanted_lines:
      return (x + y) % 7 < 2;
    case Texture::level_lines:
      return y % 6 < 2;
    case Texture::checks:
      return (x / 4 + y / 4) % 2 == 0;
    default:
      return false;
  }
}

struct Look {
  unsigned char fill = 0, ink = 0;
  Texture texture = Texture::plain;
  unsigned char at(int x, int y) const { return inked(texture, x, y) ? ink : fill; }
};

/// How each value of LossMap::what is drawn.
std::array<Look, 8> looks() {
  std::array<Look, 8> all{};
  for (std::size_t k = 0; k < kKeySpots.size(); ++k) {
    const auto fill = fill_index(k);
    all[static_cast<std::size_t>(kKeySpots[k])] = {fill, static_cast<unsigned char>(fill + 1),
                                                   texture_of(kKeySpots[k])};
  }
  return all;
}

std::vector<Ink> inks() {
  std::vector<Ink> all;
  for (int i = 0; i < kGreys; ++i) {
    const auto v = static_cast<std::uint8_t>(i * 255 / (kGreys - 1));
    all.push_back({v, v, v});
  }
  for (const Spot spot : kKeySpots)
    all.insert(all.end(), {fill_of(spot), texture_ink(spot)});
  return all;
}

/// The map at the size of the picture. Nearest spots: an average of causes is no cause, and shares stay what they are.
cv::Mat draw_map(const LossMap& map, std::array<bool, 8>& seen) {
  const auto [from, size, times] = fit(map.what.size(), kLongSide, kUsualLongSide);
  const cv::Rect used({0, 0}, from);
  cv::Mat grey, small, what;
  cv::resize(map.plan(used), small, size, 0, 0, times < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  cv::cvtColor(small, grey, cv::COLOR_RGB2GRAY);
  cv::resize(map.what(used), what, size, 0, 0, cv::INTER_NEAREST);

  const std::array<Look, 8> look = looks();
  cv::Mat index(size, CV_8U);
  for (int y = 0; y < size.height; ++y) {
    const auto* w = what.ptr<unsigned char>(y);
    const auto* above = what.ptr<unsigned char>(std::max(0, y - 1));
    const auto* below = what.ptr<unsigned char>(std::min(size.height - 1, y + 1));
    const auto* g = grey.ptr<unsigned char>(y);
    auto* out = index.ptr<unsigned char>(y);
    for (int x = 0; x < size.width; ++x) {
      const std::size_t spot = std::min<std::size_t>(w[x], look.size() - 1);
      if (spot != 0) {
        seen[spot] = true;
        out[x] = look[spot].at(x, y);
      } else if (above[x] != 0 || below[x] != 0 || w[std::max(0, x - 1)] != 0 ||
                 w[std::min(size.width - 1, x + 1)] != 0) {
        out[x] = kEdge;  // the footprint's edge lies outside it and hides nothing
      } else {
        // flattened, in few steps: the surroundings stay behind the fills, in grey print too, and cost few bytes
        out[x] = grey_index((148 + (g[x] - 128) / 3) & ~7);
      }
    }
  }
  return index;
}

void draw_words(cv::Mat& index, const cv::Mat& mask, cv::Point at) {
  const cv::Rect on = cv::Rect(at, mask.size()) & cv::Rect({0, 0}, index.size());
  for (int y = on.y; y < on.y + on.height; ++y) {
    for (int x = on.x; x < on.x + on.width; ++x) {
      index.at<unsigned char>(y, x) = grey_index(255 - mask.at<unsigned char>(y - at.y, x - at.x) * 225 / 255);
    }
  }
}

struct Key {
  std::vector<Spot> spots;
  std::vector<cv::Mat> words;
  int column = 0;  ///< px wide
};

Key key_of(const std::array<bool, 8>& seen) {
  Key key;
  for (const Spot spot : kKeySpots) {
    if (!seen[static_cast<std::size_t>(spot)] && spot != Spot::paint) continue;
    key.spots.push_back(spot);
    key.words.push_back(lettering(key_words(spot), kKeyLetters));
    key.column = std::max(key.column, kSwatchWidth + 8 + key.words.back().cols + kMargin);
  }
  return key;
}

void draw_key(cv::Mat& index, const Key& key, cv::Point at, int columns) {
  const std::array<Look, 8> look = looks();
  for (std::size_t i = 0; i < key.spots.size(); ++i) {
    const int column = static_cast<int>(i) % columns, row = static_cast<int>(i) / columns;
    const cv::Point corner = at + cv::Point(column * key.column, row * kKeyRow + 4);
    for (int y = 0; y < kSwatchHeight; ++y) {
      for (int x = 0; x < kSwatchWidth; ++x) {
        const bool rim = x == 0 || y == 0 || x == kSwatchWidth - 1 || y == kSwatchHeight - 1;
        const Look& l = look[static_cast<std::size_t>(key.spots[i])];
        index.at<unsigned char>(corner.y + y, corner.x + x) = rim ? kEdge : l.at(x, y);
      }
    }
    draw_words(index, key.words[i], corner + cv::Point(kSwatchWidth + 8, (kSwatchHeight - key.words[i].rows) / 2));
  }
}

}  // namespace

IndexedPicture loss_picture(const LossMap& map) {
  require(map.what.type() == CV_8U && !map.what.empty(), "a loss map holds spots");
  require(map.plan.type() == CV_8UC3 && map.plan.size() == map.what.size(),
          "a loss map's plan has the size of its spots");
  std::array<bool, 8> seen{};
  const cv::Mat drawn = draw_map(map, seen);
  const Key key = key_of(seen);
  const int entries = static_cast<int>(key.spots.size());

  const bool beside = drawn.rows > drawn.cols + drawn.cols / 5;
  const int columns = beside ? 1 : std::clamp((std::max(drawn.cols, key.column) - kMargin) / key.column, 1, entries);
  const cv::Size key_size(columns * key.column + kMargin, (entries + columns - 1) / columns * kKeyRow + kMargin);
  const cv::Size sheet = beside ? cv::Size(drawn.cols + key_size.width, std::max(drawn.rows, key_size.height))
                                : cv::Size(std::max(drawn.cols, key_size.width), drawn.rows + key_size.height);
  cv::Mat index(sheet, CV_8U, cv::Scalar(kPaper));
  drawn.copyTo(index(cv::Rect(beside ? 0 : (sheet.width - drawn.cols) / 2, 0, drawn.cols, drawn.rows)));
  draw_key(index, key, beside ? cv::Point(drawn.cols + kMargin, 0) : cv::Point(kMargin, drawn.rows + 4), columns);
  return {index, inks()};
}

std::string png_bytes(const IndexedPicture& picture) {
  require(picture.index.type() == CV_8U && picture.index.isContinuous() && picture.inks.size() <= 256,
          "an indexed picture holds at most 256 inks");
  std::vector<unsigned char> colours;
  for (const Ink ink : picture.inks)
    colours.insert(colours.end(), {ink.r, ink.g, ink.b});
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(picture.index.cols);
  image.height = static_cast<png_uint_32>(picture.index.rows);
  image.format = PNG_FORMAT_RGB_COLORMAP;
  image.flags = PNG_IMAGE_FLAG_FAST;
  image.colormap_entries = static_cast<png_uint_32>(picture.inks.size());
  png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(image);
  std::string bytes(size, '\0');
  const int written = png_image_write_to_memory(&image, bytes.data(), &size, 0, picture.index.data,
                                                static_cast<png_int_32>(picture.index.step), colours.data());
  require(written != 0, "libpng wrote the picture");
  bytes.resize(size);
  return bytes;
}

}  // namespace lotwear
