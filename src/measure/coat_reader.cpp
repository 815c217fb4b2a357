#include "measure/coat_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <mutex>
#include <opencv2/dnn.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "measure/coat_step.hpp"
#include "measure/coat_view.hpp"

namespace lotwear {
namespace {

constexpr int kMultiple = 32;        // the network halves its maps five times
// Chances as trained, where six markings of ten lie over an older coat: more than on most lots.
constexpr double kLayered = 0.95;     // from here on an older coat is told where its step shows
constexpr double kOpen = 0.8;         // from here on it is an open question where it does not show
constexpr double kLeastShare = 0.03;  // of the marking; less was seen where there was none
constexpr double kShareError = 0.06;  // standard deviation of the share on markings not learned from
constexpr double kCoarsest = 3;       // mm a photo pixel; coarser photos, stretched to the view, look worn in patches
constexpr float kInside = 0.1F;       // 2 mm within the outline, as the figures of the training are taken

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

CoatReading read_older_coat(const CoatReader& reader, const PlanView& plan, const cv::Mat& bare, double core_mm) {
  if (plan.photo_px_mm > kCoarsest) return {};
  const CoatView view = coat_view(plan, core_mm);
  if (view.input.empty()) return {};
  const CoatAnswer answer = reader.look(view.input);
  if (answer.layered < kOpen) return {};
  // The chances of single spots are low; their sum is right. As many spots as it says are taken, the likeliest first.
  std::vector<float> likeliest;
  double sum = 0;
  for (int r = 0; r < view.input.rows; ++r) {
    for (int c = 0; c < view.input.cols; ++c) {
      if (view.input.at<cv::Vec4f>(r, c)[3] <= kInside) continue;
      likeliest.push_back(answer.chances.at<cv::Vec3f>(r, c)[2]);
      sum += static_cast<double>(likeliest.back());
    }
  }
  if (likeliest.empty()) return {};
  const auto all = static_cast<double>(likeliest.size());
  const auto at = likeliest.begin() + static_cast<std::ptrdiff_t>(std::min(sum, all - 1));
  std::nth_element(likeliest.begin(), at, likeliest.end(), std::greater<>());
  const float least = *at;
  OlderCoat older;
  older.share = sum / all;
  if (answer.layered < kLayered || older.share < kLeastShare ||
      !step_between(view.input, answer.chances, least).shows())
    return {std::nullopt, older.share};
  older.error = kShareError;
  older.map = cv::Mat::zeros(plan.light.size(), CV_32F);
  cv::Mat chance, on_plan;
  cv::extractChannel(answer.chances, chance, 2);
  cv::resize(chance, on_plan, view.at.size(), 0, 0, cv::INTER_LINEAR);
  double got = 0;
  cv::Vec3d ratio(0, 0, 0);
  for (int r = 0; r < on_plan.rows; ++r) {
    for (int c = 0; c < on_plan.cols; ++c) {
      const int row = r + view.at.y, col = c + view.at.x;
      if (plan.ours.at<unsigned char>(row, col) == 0 || on_plan.at<float>(r, c) < least) continue;
      older.map.at<float>(row, col) = 1;
      if (plan.inside_mm.at<float>(row, col) <= static_cast<float>(core_mm)) continue;
      got += 1;
      const cv::Vec3f light = plan.light.at<cv::Vec3f>(row, col), under = bare.at<cv::Vec3f>(row, col);
      for (int k = 0; k < 3; ++k)
        ratio[k] += static_cast<double>(light[k] / std::max(1e-4F, under[k]));
    }
  }
  for (int k = 0; k < 3; ++k)
    older.over_pavement[static_cast<std::size_t>(k)] = ratio[k] / std::max(1.0, got);
  return {older, 0};
}

}  // namespace lotwear
