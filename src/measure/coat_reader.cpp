#include "measure/coat_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {
namespace {

constexpr int kMultiple = 32;        // the network halves its maps five times

int rounded_up(int side) { return (side + kMultiple - 1) / kMultiple * kMultiple; }

}  // namespace

struct CoatReader::Shelf {
  std::filesystem::path file;
  std::string bytes;
  std::mutex guard;
  std::vector<std::unique_ptr<cv::dnn::Net>> idle;

  std::unique_ptr<cv::dnn::Net> take() {
    {
      const std::lock_guard lock(guard);
      if (!idle.empty()) {
        std::unique_ptr<cv::dnn::Net> net = std::move(idle.back());
        idle.pop_back();
        return net;
      }
    }
    try {
      auto net = std::make_unique<cv::dnn::Net>(cv::dnn::readNetFromONNX(bytes.data(), bytes.size()));
      net->setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
      net->setPreferableTarget(cv::dnn::DNN_TARGET_CPU);
      return net;
    } catch (const cv::Exception&) {
      throw Failure(fmt::format("{}: the coat network cannot be read; install lotwear again", file.string()));
    }
  }
  void give_back(std::unique_ptr<cv::dnn::Net> net) {
    const std::lock_guard lock(guard);
    idle.push_back(std::move(net));
  }
};

CoatReader::CoatReader(const std::filesystem::path& models) : shelf_(std::make_unique<Shelf>()) {
  shelf_->file = models / "coats.onnx";
  shelf_->bytes = read_file(shelf_->file, std::size_t{16} << 20);
  shelf_->give_back(shelf_->take());  // what is damaged is told at once
}

CoatReader::~CoatReader() = default;

CoatAnswer CoatReader::look(const cv::Mat& input) const {
  require(input.type() == CV_32FC4, "the coat reader is shown a coat view");
  const cv::Size size = input.size(), padded(rounded_up(size.width), rounded_up(size.height));
  cv::Mat whole;  // beyond the view: dark and outside, as in training
  cv::copyMakeBorder(input, whole, 0, padded.height - size.height, 0, padded.width - size.width, cv::BORDER_CONSTANT,
                     cv::Scalar(-3.5, -3.5, -3.5, -1));
  std::unique_ptr<cv::dnn::Net> net = shelf_->take();
  net->setInput(cv::dnn::blobFromImage(whole));
  std::vector<cv::Mat> said;
  net->forward(said, std::vector<cv::String>{"coats", "whole"});
  require(said.size() == 2 && said[1].total() == 1, "the coat network answers with maps and one number");
  const cv::Mat& logits = said[0];
  require(logits.dims == 4 && logits.size[1] == 3 && logits.size[2] == padded.height && logits.size[3] == padded.width,
          "the coat network answers three maps of the size it was shown");
  CoatAnswer answer{cv::Mat(size, CV_32FC3), 1 / (1 + std::exp(-static_cast<double>(said[1].ptr<float>()[0])))};
  for (int r = 0; r < size.height; ++r) {
    const float *bare = logits.ptr<float>(0, 0) + r * padded.width, *top = logits.ptr<float>(0, 1) + r * padded.width,
                *older = logits.ptr<float>(0, 2) + r * padded.width;
    for (int c = 0; c < size.width; ++c) {
      const float most = std::max({bare[c], top[c], older[c]});
      const cv::Vec3f e(std::exp(bare[c] - most), std::exp(top[c] - most), std::exp(older[c] - most));
      answer.chances.at<cv::Vec3f>(r, c) = e * (1 / (e[0] + e[1] + e[2]));
    }
  }
  shelf_->give_back(std::move(net));
  return answer;
}

}  // namespace lotwear
