#include "review/study.hpp"

#include <algorithm>
#include <cmath>

#include "marking/footprints.hpp"
#include "measure/measure.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kMostHeld = 4;  // 12 MP take about 45 MB each

/// One standard deviation of an edge drawn by hand, photo pixels: a corner is dropped about a pixel off, and an edge
/// has two of them.
constexpr double kHandPixels = 0.7;

Ground ground_of(const Photo& photo, const PaintMap& paint, const SurveyPhoto& entry) {
  Ground ground;
  // the sheet and the tilt's error are not in the survey; the same photo gives them again
  if (const Result<Ground> seen = find_ground(photo, paint)) {
    ground.sheet = seen->sheet;
    ground.shape_error = seen->shape_error;
    ground.tilt_deg = seen->tilt_deg;
  }
  ground.ground_from_image = GroundFromImage(entry.plane->image_to_ground);
  ground.image_from_ground = ground.ground_from_image.inverse();
  ground.source = entry.plane->source;
  if (entry.plane->scale_error_percent) ground.scale_error = Fraction{*entry.plane->scale_error_percent / 100};
  return ground;
}

bool made_of_bars(Kind kind) {
  return kind == Kind::line || kind == Kind::stop_line || kind == Kind::crosswalk || kind == Kind::hatching ||
         kind == Kind::curb;
}

}  // namespace

Result<Footprint> footprint_by_hand(const Ground& ground, Kind kind, const std::vector<ImageRing>& outline,
                                    const std::string& photo) {
  Footprint footprint;
  footprint.kind = kind;
  footprint.kind_confidence = Fraction{1};
  double pixel_mm = 0, corners = 0;
  for (const ImageRing& ring : outline) {
    for (const ImagePoint& p : ring) {
      if (!(ground.ground_from_image.depth(p) > 0))
        return Problem{photo, "a corner lies above the horizon, where there is no pavement"};
      const GroundPixel pixel = ground_pixel(ground, p);
      pixel_mm += std::sqrt(pixel.across_mm * pixel.along_mm);
      corners += 1;
    }
    footprint.rings.push_back(ground.ground_from_image(ring));
  }
  footprint.edge_error = Millimetres{kHandPixels * pixel_mm / std::max(1.0, corners)};
  const Extent whole = extent_of(footprint.rings);
  footprint.length_mm = whole.length_mm;
  footprint.width_mm = whole.width_mm;
  if (footprint.rings.size() > 1 && made_of_bars(kind)) {
    double width = 0, along = 0;
    for (const GroundRing& ring : footprint.rings) {
      const Extent one = extent_of({ring});
      width += one.width_mm * one.length_mm;
      along += one.length_mm;
    }
    footprint.width_mm = width / std::max(1.0, along);
  }
  return footprint;
}

StudyShelf::StudyShelf(std::filesystem::path models)
    : models_(std::move(models)), worker_([this](const std::stop_token& stop) { work(stop); }) {}

StudyShelf::~StudyShelf() { ending_ = true; }

StudyShelf::Held StudyShelf::make(const Wanted& wanted) {
  if (!wanted.photo.plane)
    return Problem{wanted.photo.file,
                   "shows no pavement that could be measured on; the outline is kept without numbers"};
  Result<Photo> photo = read_photo(wanted.file);
  if (!photo) return photo.problem();
  if (photo->sha256 != wanted.photo.sha256)
    return Problem{wanted.photo.file,
                   "is another photo than the one that was assessed; put the old one back or assess again"};
  auto study = std::make_shared<Study>();
  study->photo = *std::move(photo);
  {
    const std::lock_guard lock(finding_);  // one network serves one at a time
    if (!finder_) finder_.emplace(models_);
    study->paint = finder_->look(study->photo);
    if (!coats_) coats_ = std::make_shared<const CoatReader>(models_);
    study->coats = coats_;
  }
  study->ground = ground_of(study->photo, study->paint, wanted.photo);
  std::vector<Footprint> found;
  std::vector<std::string> ids;
  for (const SurveyMarking& marking : wanted.markings) {
    if (marking.person().added.value_or(false)) continue;
    Result<Footprint> footprint = footprint_by_hand(study->ground, marking.kind, marking.outline, wanted.photo.file);
    if (!footprint) continue;
    found.push_back(*std::move(footprint));
    ids.push_back(marking.id);
  }
  for (std::size_t i = 0; i < found.size(); ++i) {
    if (ending_) return Problem{wanted.photo.file, "was not looked at: the review is ending"};
    if (const auto seen = measure(study->photo, study->paint, study->ground, found, i, study->coats.get()))
      study->paints.emplace_back(ids[i], seen->paint);
  }
  return std::shared_ptr<const Study>(std::move(study));
}

StudyShelf::Held StudyShelf::study(const Wanted& wanted) {
  std::promise<Held> promise;
  std::shared_future<Held> future;
  bool ours = false;
  {
    const std::lock_guard lock(guard_);
    const auto at =
        std::find_if(held_.begin(), held_.end(), [&](const auto& one) { return one.first == wanted.photo.sha256; });
    ours = at == held_.end();
    if (ours) {
      future = promise.get_future().share();
      held_.emplace_front(wanted.photo.sha256, future);
      if (held_.size() > kMostHeld) held_.pop_back();
    } else {
      held_.splice(held_.begin(), held_, at);
      future = held_.front().second;
    }
  }
  if (ours) {
    try {
      promise.set_value(make(wanted));
    } catch (...) {
      promise.set_exception(std::current_exception());
    }
  }
  const auto forget = [&] {  // a photo that is put back is tried again
    const std::lock_guard lock(guard_);
    if (ours) std::erase_if(held_, [&](const auto& one) { return one.first == wanted.photo.sha256; });
  };
  try {
    Held held = future.get();
    if (!held) forget();
    return held;
  } catch (...) {
    forget();
    throw;
  }
}

void StudyShelf::foresee(Wanted wanted) {
  {
    const std::lock_guard lock(guard_);
    next_ = std::move(wanted);
  }
  wished_.notify_one();
}

void StudyShelf::work(const std::stop_token& stop) {
  for (;;) {
    std::optional<Wanted> wanted;
    {
      std::unique_lock lock(guard_);
      wished_.wait(lock, stop, [&] { return next_.has_value(); });
      if (stop.stop_requested()) return;
      wanted = std::exchange(next_, std::nullopt);
    }
    try {
      (void)study(*wanted);
    } catch (const std::exception&) {  // whoever asks for it will be told
    }
  }
}

}  // namespace lotwear
