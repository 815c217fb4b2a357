#include "views/evidence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <system_error>

#include "base/files.hpp"
#include "base/trouble.hpp"

namespace lotwear {

namespace {

constexpr int kJpegQuality = 88;  // below 85 the edges of flakes begin to ring

std::string jpeg_bytes(const cv::Mat& rgb) {
  cv::Mat bgr;
  cv::cvtColor(rgb, bgr, cv::COLOR_RGB2BGR);
  std::vector<unsigned char> bytes;
  require(cv::imencode(".jpg", bgr, bytes, {cv::IMWRITE_JPEG_QUALITY, kJpegQuality}), "the JPEG encoder works");
  return {bytes.begin(), bytes.end()};
}

bool names_a_file(const std::string& id) {
  return !id.empty() && id.size() < 64 && std::all_of(id.begin(), id.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

}  // namespace

EvidenceFiles write_evidence(const Photo& photo, const std::vector<ImageRing>& outline, const LossMap& map,
                             const std::string& id, const std::filesystem::path& survey_folder, PlanScale scale,
                             const std::string& tag) {
  require(names_a_file(id), "a marking's id can stand in a file name");
  const EvidenceFiles files{fmt::format("evidence/{}-photo.jpg", id), fmt::format("evidence/{}-plan.jpg", id),
                            fmt::format("evidence/{}-loss.png", id)};
  std::error_code error;
  std::filesystem::create_directories(survey_folder / "evidence", error);
  if (error) {
    throw Failure(fmt::format("{}: cannot be made ({}); check that the survey folder is writable",
                              (survey_folder / "evidence").string(), error.message()));
  }
  write_file(survey_folder / files.photo, jpeg_bytes(photo_picture(photo, outline, tag)));
  write_file(survey_folder / files.plan, jpeg_bytes(plan_picture(map, scale)));
  write_file(survey_folder / files.loss, png_bytes(loss_picture(map)));
  return files;
}

}  // namespace lotwear
