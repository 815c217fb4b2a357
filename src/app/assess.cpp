#include "app/assess.hpp"

#include <fmt/format.h>
#include <fmt/ostream.h>

#include <algorithm>
#include <map>
#include <memory>
#include <mutex>
#include <opencv2/core/utility.hpp>
#include <optional>
#include <regex>
#include <set>
#include <thread>

#include "app/models.hpp"
#include "app/nothing_painted.hpp"
#include "app/walk_findings.hpp"
#include "base/files.hpp"
#include "base/parallel.hpp"
#include "capture/photo.hpp"
#include "detect/detect.hpp"
#include "ground/ground.hpp"
#include "marking/marking.hpp"
#include "measure/fading.hpp"
#include "measure/measure.hpp"
#include "overlap/seen_again.hpp"
#include "policy/policy.hpp"
#include "survey/journal.hpp"
#include "survey/photo_folders.hpp"
#include "survey/survey.hpp"
#include "views/evidence.hpp"
#include "views/sketch.hpp"


namespace lotwear {

namespace fs = std::filesystem;

namespace {

/// What every photo needs and nobody changes.
struct Models {
  std::vector<Shape> shapes;
  Policy policy;
  std::string policy_text;
  CoatReader coats;
  bool walk = false;  ///< more than one photo
};

SurveyPhoto survey_photo(const Photo& photo) {
  SurveyPhoto entry;
  entry.file = photo.file;
  entry.sha256 = photo.sha256;
  entry.width = photo.rgb.cols;
  entry.height = photo.rgb.rows;
  entry.taken = photo.taken;
  if (photo.position) entry.position = {photo.position->lat, photo.position->lon, photo.position->error_m};
  entry.sharpness = photo.quality.sharpness.value;
  entry.clipped_percent = percent(photo.quality.clipped);
  entry.advice = photo.quality.advice;
  return entry;
}

void advise(SurveyPhoto& entry, const Ground& ground, const std::vector<Footprint>& footprints) {
  if (ground.tilt_deg > 65) entry.advice.emplace_back("retake: the angle is very flat; step closer and point the phone further down");
  if (std::any_of(footprints.begin(), footprints.end(), [](const Footprint& f) { return f.cut_off; })) {
    entry.advice.emplace_back("a marking leaves the picture; if no other photo shows the rest, step back and take it again");
  }
}

/// The name pictures are written under until the marking's id is known: photo index and place in it.
std::string working_name(std::size_t photo, std::size_t place) { return fmt::format("P{:04}-{:03}", photo + 1, place + 1); }

/// One picture a stage: the first thing to look at when an answer is wrong.
void sketch(const Photo& photo, const PaintMap& paint, const Markings& seen,
            const std::vector<std::optional<Interval>>& remaining, const std::vector<LossMap>& maps,
            const std::vector<std::string>& captions, const fs::path& folder) {
  write_sketch(folder, photo, "1-capture", sketch_capture(photo));
  write_sketch(folder, photo, "2-detect", sketch_finder(photo, paint));
  write_sketch(folder, photo, "3-kinds", sketch_kinds(photo, paint));
  write_sketch(folder, photo, "4-ground", sketch_ground(photo, seen.ground));
  write_sketch(folder, photo, "5-marking", sketch_markings(photo, seen, remaining));
  if (!maps.empty()) write_sketch(folder, photo, "6-measure", sketch_plans(maps, captions));
}

PhotoFindings assess_photo(const Photo& photo, std::size_t index, Finder& finder, const Models& models,
                           const AssessOptions& options) {
  PhotoFindings findings;
  findings.photo = survey_photo(photo);
  const PaintMap paint = finder.look(photo);
  const Result<Ground> flat = find_ground(photo, paint);
  if (!flat) {
    findings.problems.push_back(flat.problem());
    return findings;
  }
  const Markings seen = find_markings(photo, paint, *flat, models.shapes);
  const Ground& ground = seen.ground;
  SurveyPhoto::Plane plane{ground.source, ground.ground_from_image.matrix(), std::nullopt};
  if (ground.scale_error) plane.scale_error_percent = percent(*ground.scale_error);
  findings.photo.plane = plane;
  findings.walk = {photo.camera, photo.taken, ground.height_seen};
  findings.height_assumed = ground.height_assumed;
  advise(findings.photo, ground, seen.footprints);

  std::vector<LossMap> maps;
  std::vector<std::string> captions;
  std::vector<PaintOverPavement> paints;
  std::vector<std::optional<Interval>> remaining(seen.footprints.size());
  for (std::size_t i = 0; i < seen.footprints.size(); ++i) {
    const Footprint& footprint = seen.footprints[i];
    const Result<Measurement> measured = measure(photo, paint, ground, seen.footprints, i, &models.coats);
    if (!measured) {
      findings.problems.push_back(measured.problem());
      continue;
    }
    remaining[i] = measured->condition.remaining;
    if (nothing_says_painted(measured->condition, footprint.kind_confidence)) continue;
    SurveyMarking marking;
    marking.photo = photo.file;
    marking.kind = footprint.kind;
    marking.kind_confidence = footprint.kind_confidence.value;
    marking.words = footprint.text;
    marking.outline = in_photo(ground, footprint.rings);
    marking.condition = measured->condition;
    marking.person_json = "null";
    const EvidenceFiles files =
        write_evidence(photo, marking.outline, measured->map, working_name(index, i), options.survey,
                       plan_scale(ground));
    marking.evidence_photo = files.photo;
    marking.evidence_plan = files.plan;
    marking.evidence_loss = files.loss;
    if (!options.sketch.empty()) {
      maps.push_back(measured->map);
      captions.push_back(fmt::format("{} {:.0f} %", word(marking.kind), percent(marking.condition.remaining.value)));
    }
    const Interval& left = marking.condition.remaining;
    findings.seen.markings.push_back({footprint.rings, footprint.cut_off, marking.condition.in_doubt,
                                      left.high.value - left.low.value + 1 - footprint.kind_confidence.value});
    findings.markings.push_back(std::move(marking));
    paints.push_back(measured->paint);
  }
  // one photo, one pavement: how faded each marking is, all of them tell together
  const std::vector<Interval> faded = fading_of(paints);
  for (std::size_t i = 0; i < faded.size(); ++i) {
    SurveyMarking& marking = findings.markings[i];
    marking.condition.faded = faded[i];
    marking.condition.appearance.faded = faded[i].value;
    marking.decision = decide(marking.condition, marking.kind, models.policy);
  }
  if (!options.sketch.empty()) sketch(photo, paint, seen, remaining, maps, captions, options.sketch);
  findings.seen.taken = photo.taken, findings.seen.position = photo.position, findings.seen.size = photo.rgb.size();
  findings.seen.image_from_ground = ground.image_from_ground;
  if (models.walk) findings.seen.look = look_at_ground(photo, ground, seen.footprints);
  return findings;
}

/// Finders are costly to load and serve one thread at a time: lent out, given back.
class FinderShelf {
 public:
  explicit FinderShelf(fs::path models) : models_(std::move(models)) {}
  std::unique_ptr<Finder> take() {
    {
      const std::lock_guard lock(guard_);
      if (!idle_.empty()) {
        std::unique_ptr<Finder> finder = std::move(idle_.back());
        idle_.pop_back();
        return finder;
      }
    }
    return std::make_unique<Finder>(models_);
  }
  void give_back(std::unique_ptr<Finder> finder) {
    const std::lock_guard lock(guard_);
    idle_.push_back(std::move(finder));
  }

 private:
  fs::path models_;
  std::mutex guard_;
  std::vector<std::unique_ptr<Finder>> idle_;
};

void remove_evidence(const PhotoFindings& findings, const fs::path& folder) {
  std::error_code ignored;
  for (const SurveyMarking& m : findings.markings) {
    for (const std::string& file : {m.evidence_photo, m.evidence_plan, m.evidence_loss}) fs::remove(folder / file, ignored);
  }
}

/// Pictures that have not got their marking's name when the run ends, however it ends, are taken away.
class WorkingPictures {
 public:
  explicit WorkingPictures(fs::path folder) : folder_(std::move(folder)) {}
  WorkingPictures(const WorkingPictures&) = delete;
  WorkingPictures& operator=(const WorkingPictures&) = delete;
  ~WorkingPictures() {
    static const std::regex working(R"(P\d{4}-\d{3}-(photo\.jpg|plan\.jpg|loss\.png))");
    std::error_code ignored;
    for (fs::directory_iterator at(folder_, ignored), end; !ignored && at != end; at.increment(ignored)) {
      if (std::regex_match(at->path().filename().string(), working)) fs::remove(at->path(), ignored);
    }
  }

 private:
  fs::path folder_;
};

/// Evidence pictures take their marking's final name.
void name_evidence(SurveyMarking& marking, const fs::path& folder) {
  for (auto& [file, ending] : {std::pair<std::string&, const char*>{marking.evidence_photo, "photo.jpg"},
                               {marking.evidence_plan, "plan.jpg"},
                               {marking.evidence_loss, "loss.png"}}) {
    if (file.empty()) continue;
    const std::string named = fmt::format("evidence/{}-{}", marking.id, ending);
    // a marking that a person made or kept brings its own picture, or has lost it
    if (file == named) continue;
    std::error_code error;
    if (!fs::exists(folder / file, error)) {
      file.clear();
      continue;
    }
    fs::rename(folder / file, folder / named, error);
    if (error) throw Failure(fmt::format("{}: cannot be written ({})", (folder / named).string(), error.message()));
    file = named;
  }
}

}  // namespace

namespace {

PhotoFindings with_problem(Problem problem) {
  PhotoFindings findings;
  findings.problems.push_back(std::move(problem));
  return findings;
}

/// A photo that breaks something in us is one line, never the run.
PhotoFindings assess_file(const fs::path& file, std::size_t index, FinderShelf& finders, const Models& models,
                          const AssessOptions& options) {
  const std::string name = file.filename().string();
  try {
    const Result<Photo> photo = read_photo(file);
    if (!photo) return with_problem(photo.problem());
    std::unique_ptr<Finder> finder = finders.take();
    PhotoFindings findings = assess_photo(*photo, index, *finder, models, options);
    finders.give_back(std::move(finder));
    return findings;
  } catch (const Failure&) {
    throw;
  } catch (const std::exception& error) {
    return with_problem({name, fmt::format("could not be assessed ({}); please report this with the photo", error.what())});
  }
}

/// Puts the photos' findings together in the photos' order; copies of a photo under another name are left out.
Survey compose(std::vector<PhotoFindings> all, const std::vector<SeenAgain>& again, const AssessOptions& options, const Models& models) {
  Survey survey;
  std::vector<std::size_t> first_of(all.size(), 0);  // a photo's markings begin here
  survey.made_by_version = LOTWEAR_VERSION;
  survey.site = {options.site, options.client, options.address};
  survey.policy_json = models.policy_text;
  std::map<std::string, std::string> first_name;
  for (std::size_t i = 0; i < all.size(); ++i) {
    PhotoFindings& findings = all[i];
    first_of[i] = survey.markings.size();
    if (!findings.photo.sha256.empty()) {
      const auto [at, fresh] = first_name.emplace(findings.photo.sha256, findings.photo.file);
      if (!fresh) {
        survey.problems.push_back({findings.photo.file, fmt::format("the same photo as {}; it was left out, delete one of the two", at->second)});
        remove_evidence(findings, options.survey);
        continue;
      }
      survey.photos.push_back(std::move(findings.photo));
    }
    for (SurveyMarking& marking : findings.markings) {
      marking.id = fmt::format("M{:03}", survey.markings.size() + 1);
      survey.markings.push_back(std::move(marking));
    }
    survey.problems.insert(survey.problems.end(), findings.problems.begin(), findings.problems.end());
  }
  const auto at = [&](const MarkingAt& which) -> SurveyMarking& { return survey.markings[first_of[which.photo] + which.marking]; };
  for (const SeenAgain& one : again) {
    SurveyMarking &marking = at(one.which), &counted = at(one.better);
    compare_views(counted, marking);
    marking.same_as = counted.id;
    marking.same_as_confidence = one.confidence;
    marking.decision.needs_review = one.confidence < kSureFrom;  // its own questions are the counted one's
    marking.decision.reasons.push_back(fmt::format("the same paint is in {}, which shows it better: it is counted there", counted.photo));
  }
  return survey;
}

/// Pictures of earlier runs that no marking refers to any more; only names of our own making are touched.
void sweep_evidence(const Survey& survey, const fs::path& folder) {
  std::set<std::string> wanted;
  for (const SurveyMarking& m : survey.markings) wanted.insert({m.evidence_photo, m.evidence_plan, m.evidence_loss});
  static const std::regex ours(R"((M\d{3,}|P\d{4}-\d{3})-(photo\.jpg|plan\.jpg|loss\.png))");
  std::error_code ignored;
  for (const auto& entry : fs::directory_iterator(folder / "evidence", ignored)) {
    const std::string name = entry.path().filename().string();
    if (std::regex_match(name, ours) && !wanted.contains("evidence/" + name)) fs::remove(entry.path(), ignored);
  }
}

}  // namespace

CLI::App* add_assess(CLI::App& app, AssessOptions& options) {
  CLI::App* command = app.add_subcommand("assess", "Find and measure every marking in a folder of photos");
  command->add_option("photos", options.photos, "Photo files and folders (JPEG, PNG, HEIC)")->required();
  command->add_option("-o,--survey", options.survey, "Survey folder to write; what a person decided in it is kept")->capture_default_str();
  command->add_option("--site", options.site, "Name of the site, for the report");
  command->add_option("--client", options.client, "Who the report is for");
  command->add_option("--address", options.address, "Address of the site");
  command->add_option("--policy", options.policy, "Action policy (JSON) in place of the built-in one");
  command->add_option("--sketch", options.sketch, "Folder for one picture a stage: how the answer came about");
  command->add_option("--threads", options.threads, "Photos worked on at once; 0: one per processor core")->capture_default_str();
  command->add_flag("--quiet", options.quiet, "No progress lines");
  command->footer("Examples:\n  lotwear assess walk-2026-04-11 -o survey\n"
                  "  lotwear assess IMG_0412.jpg IMG_0413.HEIC -o survey --site \"Juniper Yard\"");
  return command;
}

void assess(const AssessOptions& options, std::ostream& progress) {
  const fs::path models_at = models_folder();
  const fs::path policy_at = options.policy.empty() ? models_at / "policy.json" : options.policy;
  const PhotoList list = list_photos(options.photos);
  const Models models{shapes_and_words(models_at), load_policy(policy_at), read_file(policy_at, std::size_t{1} << 20),
                      CoatReader(models_at), list.files.size() > 1};
  // a mistyped folder must not replace a good survey by an empty one
  if (list.files.empty()) {
    throw Failure(list.problems.empty() ? "no photos found: name JPEG, PNG or HEIC files, or a folder that holds some"
                                        : fmt::format("{}: {}", list.problems.front().file, list.problems.front().what));
  }
  std::optional<Survey> before;
  if (fs::exists(options.survey / "survey.json")) before = load_survey(options.survey);
  if (!before) set_journal_aside(options.survey);
  std::error_code error;
  fs::create_directories(options.survey / "evidence", error);
  if (error) throw Failure(fmt::format("{}: the survey folder cannot be made ({})", options.survey.string(), error.message()));
  if (!options.sketch.empty()) fs::create_directories(options.sketch, error);

  const unsigned threads = options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
  // one photo: OpenCV may spread its loops; several: a photo a thread is the better use of the same cores
  cv::setNumThreads(list.files.size() > 1 ? 1 : static_cast<int>(threads));
  const WorkingPictures working(options.survey / "evidence");
  FinderShelf finders(models_at);
  std::vector<PhotoFindings> all(list.files.size());
  std::mutex speak;
  std::size_t done = 0;
  parallel_for(list.files.size(), threads, [&](std::size_t i) {
    all[i] = assess_file(list.files[i], i, finders, models, options);
    const std::lock_guard lock(speak);
    ++done;
    if (options.quiet) return;
    fmt::print(progress, "[{}/{}] {}: {} marking{}\n", done, list.files.size(), list.files[i].filename().string(),
               all[i].markings.size(), all[i].markings.size() == 1 ? "" : "s");
    progress.flush();
  });

  const std::vector<SeenPhoto> seen = seen_photos(all);
  if (const std::size_t pairs = near_pairs(seen).size(); pairs > 0 && !options.quiet) {
    fmt::print(progress, "looking in {} pair{} of photos taken near each other for markings seen twice\n", pairs, pairs == 1 ? "" : "s");
    progress.flush();
  }
  const Overlaps overlaps = find_overlaps(seen, threads);
  join_parts(all, overlaps.parts);
  hold_by_overlap(all, overlaps.spots);
  hold_by_walk(all);
  Survey survey = compose(std::move(all), overlaps.again, options, models);
  survey.problems.insert(survey.problems.begin(), list.problems.begin(), list.problems.end());
  if (before) {
    if (!survey.site.name) survey.site.name = before->site.name;
    if (!survey.site.client) survey.site.client = before->site.client;
    if (!survey.site.address) survey.site.address = before->site.address;
    survey = keep_person(std::move(survey), *before);
  }
  for (SurveyMarking& marking : survey.markings) {
    name_evidence(marking, options.survey);
    marking.decision = decision_of(marking, models.policy);
  }
  save_survey(survey, options.survey);
  save_photo_folders(options.survey, list.files);
  sweep_evidence(survey, options.survey);
  for (const Problem& problem : survey.problems) fmt::print(progress, "{}: {}\n", problem.file, problem.what);
  const auto repeated = std::count_if(survey.markings.begin(), survey.markings.end(), [](const SurveyMarking& m) { return repeats(m).has_value(); });
  fmt::print(progress, "{} markings in {} photos{}: {}\n", survey.markings.size(), survey.photos.size(),
             repeated > 0 ? fmt::format(", {} of them seen again in another photo and counted once", repeated) : "",
             (options.survey / "survey.json").string());
}

}  // namespace lotwear
