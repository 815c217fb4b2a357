#include "detect/detect.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "detect/chance.hpp"
#include "detect/finder_description.hpp"
#include "detect/grow_coats.hpp"

namespace lotwear {

namespace {

/// Input size for a photo: long side as the network was trained, sides rounded up to the network's multiple.
struct InputSize {
  cv::Size picture;  ///< the photo after resizing
  cv::Size padded;
};

InputSize input_size(cv::Size photo, const FinderDescription& about) {
  const double long_side = std::max(photo.width, photo.height);
  // small pictures are enlarged at most twice: beyond that there is nothing to see but interpolation
  const double scale = std::min(about.long_side / long_side, 2.0);
  const auto scaled = [&](int side) { return std::max(1, static_cast<int>(std::lround(side * scale))); };
  const auto up = [&](int side) { return (side + about.multiple - 1) / about.multiple * about.multiple; };
  const cv::Size picture(scaled(photo.width), scaled(photo.height));
  return {picture, {up(picture.width), up(picture.height)}};
}

/// Channel `c` of a 1 x C x H x W blob as its own matrix, cut to the part that is photo and not padding.
cv::Mat channel(const cv::Mat& blob, int c, cv::Size keep) {
  const cv::Mat whole(blob.size[2], blob.size[3], CV_32F, const_cast<float*>(blob.ptr<float>(0, c)));
  return whole(cv::Rect({0, 0}, keep)).clone();
}

cv::Size cells(cv::Size picture, int stride) {
  return {(picture.width + stride - 1) / stride, (picture.height + stride - 1) / stride};
}

}  // namespace

struct Finder::Network {
  FinderDescription about;
  cv::dnn::Net net;
};

Finder::Finder(const std::filesystem::path& models) : network_(std::make_unique<Network>()) {
  network_->about = load_finder_description(models / "finder.json");
  const std::string bytes = read_file(models / "finder.onnx", std::size_t{64} << 20);
  try {
    network_->net = cv::dnn::readNetFromONNX(bytes.data(), bytes.size());
  } catch (const cv::Exception&) {
    throw Failure(fmt::format("{}: the finder network cannot be read; install lotwear again",
                              (models / "finder.onnx").string()));
  }
  network_->net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
  network_->net.setPreferableTarget(cv::dnn::DNN_TARGET_CPU);
}

Finder::~Finder() = default;
Finder::Finder(Finder&&) noexcept = default;
Finder& Finder::operator=(Finder&&) noexcept = default;

PaintMap Finder::look(const Photo& photo) {
  const FinderDescription& about = network_->about;
  const InputSize size = input_size(photo.rgb.size(), about);
  cv::Mat small;
  cv::resize(photo.rgb, small, size.picture, 0, 0,
             size.picture.width <= photo.rgb.cols ? cv::INTER_AREA : cv::INTER_LINEAR);
  cv::copyMakeBorder(small, small, 0, size.padded.height - small.rows, 0, size.padded.width - small.cols,
                     cv::BORDER_REPLICATE);
  network_->net.setInput(cv::dnn::blobFromImage(small, 1.0 / 255.0));
  std::vector<cv::Mat> outputs;
  network_->net.forward(outputs, std::vector<cv::String>{about.layers_output, about.kinds_output});
  require(outputs.size() == 2 && outputs[0].dims == 4 && outputs[1].dims == 4 &&
              outputs[0].size[1] == 7 && outputs[1].size[1] == kFinderKinds,
          "the finder network has two outputs of the shapes in finder.json");

  PaintMap map;
  const int layer_stride = size.padded.width / outputs[0].size[3], kind_stride = size.padded.width / outputs[1].size[3];
  const cv::Size layer_cells = cells(size.picture, layer_stride), kind_cells = cells(size.picture, kind_stride);
  cv::Mat* const layers[7] = {&map.pavement,     &map.not_ground,  &map.top_coat,    &map.older_coat,
                              &map.lost_abraded, &map.lost_flaked, &map.lost_cracked};
  for (int c = 0; c < 7; ++c) *layers[c] = channel(outputs[0], c, layer_cells);
  Chance chance = chance_of_paint(map, about);
  map.footprint = std::move(chance.footprint);
  map.guess = std::move(chance.guess);
  for (int c = 0; c < kFinderKinds; ++c) map.kinds.push_back(channel(outputs[1], c, kind_cells));
  cv::resize(small(cv::Rect({0, 0}, size.picture)), map.picture, layer_cells, 0, 0, cv::INTER_AREA);
  const double photo_per_input = static_cast<double>(photo.rgb.cols) / size.picture.width;
  map.photo_per_cell = photo_per_input * layer_stride;
  map.photo_per_kind_cell = photo_per_input * kind_stride;
  grow_coats(map);
  return map;
}

}  // namespace lotwear
