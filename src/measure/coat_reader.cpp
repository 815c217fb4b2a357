#include "measure/coat_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <utility>
#include <vector>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {
namespace {

constexpr int kMultiple = 32;  // the network halves its maps five times

int rounded_up(int side) { return (side + kMultiple - 1) / kMultiple * kMultiple; }

double logistic(float logit) { return 1 / (1 + std::exp(-static_cast<double>(logit))); }

bool are_maps(const cv::Mat& maps, int count, cv::Size size) {
  return maps.dims == 4 && maps.size[1] == count && maps.size[2] == size.height && maps.size[3] == size.width;
}

}  // namespace

struct CoatReader::Shelf {
  std::filesystem::path file;
  std::string bytes;
  std::mutex guard;
  std::vector<std::unique_ptr<cv::dnn::Net>> idle;

  explicit Shelf(std::filesystem::path model) : file(std::move(model)), bytes(read_file(file, std::size_t{16} << 20)) {
    give_back(take());  // what is damaged is told at once
  }

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
      throw Failure(fmt::format("{}: the network cannot be read; install lotwear again", file.string()));
    }
  }
  void give_back(std::unique_ptr<cv::dnn::Net> net) {
    const std::lock_guard lock(guard);
    idle.push_back(std::move(net));
  }
  std::vector<cv::Mat> ask(const cv::Mat& shown, const std::vector<cv::String>& outputs) {
    std::unique_ptr<cv::dnn::Net> net = take();
    net->setInput(shown);
    std::vector<cv::Mat> said;
    net->forward(said, outputs);
    for (cv::Mat& one : said)
      one = one.clone();  // the net's own memory
    give_back(std::move(net));
    return said;
  }
};

CoatReader::CoatReader(const std::filesystem::path& models) : shelf_(std::make_unique<Shelf>(models / "coats.onnx")) {}

CoatReader::~CoatReader() = default;

CoatAnswer CoatReader::look(const cv::Mat& input) const {
  require(input.type() == CV_32FC4, "the coat reader is shown a coat view");
  const cv::Size size = input.size(), padded(rounded_up(size.width), rounded_up(size.height));
  cv::Mat whole;  // beyond the view: dark and outside, as in training
  cv::copyMakeBorder(input, whole, 0, padded.height - size.height, 0, padded.width - size.width, cv::BORDER_CONSTANT,
                     cv::Scalar(-3.5, -3.5, -3.5, -1));
  const cv::Mat shown = cv::dnn::blobFromImage(whole);
  const std::vector<cv::Mat> said = shelf_->ask(shown, {"coats", "whole"});
  require(said.size() == 2 && said[1].total() == 1, "the coat network answers with maps and one number");
  require(are_maps(said[0], 4, padded), "the coat network answers four maps of the size it was shown");
  CoatAnswer answer{cv::Mat(size, CV_32FC3), cv::Mat(size, CV_32F), logistic(said[1].ptr<float>()[0])};
  for (int r = 0; r < size.height; ++r) {
    const auto row = [&](int map) { return said[0].ptr<float>(0, map) + r * padded.width; };
    const float *bare = row(0), *top = row(1), *older = row(2), *let_go = row(3);
    for (int c = 0; c < size.width; ++c) {
      const float most = std::max({bare[c], top[c], older[c]});
      const cv::Vec3f e(std::exp(bare[c] - most), std::exp(top[c] - most), std::exp(older[c] - most));
      answer.chances.at<cv::Vec3f>(r, c) = e * (1 / (e[0] + e[1] + e[2]));
      answer.flaked.at<float>(r, c) = static_cast<float>(logistic(let_go[c]));
    }
  }
  return answer;
}

}  // namespace lotwear
