#include <fmt/format.h>

#include <array>
#include <limits>
#include <nlohmann/json.hpp>
#include <set>

#include "base/files.hpp"
#include "policy/fields.hpp"
#include "survey/journal.hpp"
#include "survey/survey.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kLargestFile = std::size_t{256} << 20;
constexpr std::size_t kMostPhotos = 100000, kMostMarkings = 100000, kMostProblems = 1000000, kMostPoints = 1000000;
constexpr int kMostPixels = 1 << 20;  // a side
constexpr double kAnything = std::numeric_limits<double>::infinity();
constexpr double kLargestM = 1e5;  // no lot is a hundred kilometres long
constexpr double kFarthestPx = 1e9;

Fraction share(const Fields& from, std::string_view name) { return {from.number(name, 0, 100) / 100}; }
Fraction share_or(const Fields& from, std::string_view name, Fraction otherwise) {
  const auto given = from.number_if(name, 0, 100);
  return given ? Fraction{*given / 100} : otherwise;
}

/// An interval whose ends may be missing: then they lie on the value.
Interval interval(const Fields& from, std::string_view value_name, std::string_view low_name,
                  std::string_view high_name, Fraction value) {
  const Interval read{share_or(from, low_name, value), value, share_or(from, high_name, value)};
  if (read.low > value || read.high < value) {
    from.refuse(value_name, fmt::format("must lie from {} to {}", low_name, high_name));
  }
  return read;
}

template <class Enum, std::size_t N>
Enum worded(const Fields& from, std::string_view name, const std::array<std::string_view, N>& words) {
  const std::string said = from.text(name);
  if (const auto found = from_word<Enum>(words, said)) return *found;
  from.refuse(name, fmt::format("must be one of {}, not \"{}\"", fmt::join(words, ", "), said));
}

template <class Enum, std::size_t N>
std::optional<Enum> worded_if(const Fields& from, std::string_view name, const std::array<std::string_view, N>& words) {
  if (!from.has(name)) return std::nullopt;
  return worded<Enum>(from, name, words);
}

std::vector<ImageRing> read_outline(const Fields& from) {
  std::vector<ImageRing> outline;
  for (const auto& ring : from.rings("outline", kMostPoints)) {
    ImageRing& read = outline.emplace_back();
    read.reserve(ring.size());
    for (const auto& [x, y] : ring) {
      if (!(std::abs(x) <= kFarthestPx && std::abs(y) <= kFarthestPx))
        from.refuse("outline", "lies far outside the photo");
      read.push_back({x, y});
    }
  }
  return outline;
}

Condition read_condition(const Fields& from);

PersonSays read_person(const Fields& from) {
  PersonSays said;
  said.kind = worded_if<Kind>(from, "kind", kKindWords);
  said.colour = worded_if<Colour>(from, "colour", kColourWords);
  said.action = worded_if<Action>(from, "action", kActionWords);
  if (from.has("outline")) said.outline = read_outline(from);
  said.coats = from.whole_if("coats", 0, 1000);
  said.adhesion = from.whole_if("adhesion", 0, 5);
  said.incompatible_below = from.flag_if("incompatible_below");
  said.build_up_mm = from.number_if("build_up_mm", 0, 1000);
  said.build_up_sound = from.flag_if("build_up_sound");
  said.note = from.text_if("note");
  said.same_as = from.text_if("same_as");
  said.confirmed = from.flag_if("confirmed");
  said.false_alarm = from.flag_if("false_alarm");
  said.added = from.flag_if("added");
  if (const auto measured = from.object_if("measured")) said.measured = read_condition(*measured);
  return said;
}

SurveyPhoto read_photo(const Fields& from) {
  SurveyPhoto photo;
  photo.file = from.text("file");
  photo.sha256 = from.text("sha256");
  photo.width = from.whole("width", 1, kMostPixels);
  photo.height = from.whole("height", 1, kMostPixels);
  photo.taken = from.text_if("taken");
  if (const auto position = from.object_if("position")) {
    photo.position = {position->number("lat", -90, 90), position->number("lon", -180, 180),
                      position->number_if("error_m", 0, kAnything)};
  }
  const Fields quality = from.object("quality");
  photo.sharpness = quality.number("sharpness", 0, kAnything);
  photo.clipped_percent = quality.number("clipped_percent", 0, 100);
  photo.advice = quality.texts("advice");
  if (const auto plane = from.object_if("plane")) {
    photo.plane.emplace();
    photo.plane->source = plane->text("source");
    const std::vector<double> map = plane->grid("image_to_ground", 3, 3);
    std::copy(map.begin(), map.end(), photo.plane->image_to_ground.begin());
    photo.plane->scale_error_percent = plane->number_if("scale_error_percent", 0, kAnything);
  }
  return photo;
}

std::optional<Size> read_size(const Fields& from) {
  const auto size = from.object_if("size");
  if (!size) return std::nullopt;
  return Size{size->number("area_m2", 0, kLargestM * kLargestM),
              size->number("length_m", 0, kLargestM),
              size->number("width_m", 0, kLargestM),
              size->number("perimeter_m", 0, kLargestM),
              {size->number("error_percent", 0, kAnything) / 100}};
}

Condition read_condition(const Fields& from) {
  Condition seen;
  seen.colour = worded<Colour>(from, "colour", kColourWords);
  seen.surface = worded<Surface>(from, "surface", kSurfaceWords);
  seen.size = read_size(from);

  const Fields paint = from.object("paint");
  seen.remaining = interval(paint, "remaining_percent", "low", "high", share(paint, "remaining_percent"));
  seen.any_coat = share_or(paint, "any_coat_percent", seen.remaining.value);
  seen.seen = share_or(paint, "seen_percent", {1.0});

  const Fields loss = from.object("loss");
  seen.loss = {share(loss, "abraded_percent"), share(loss, "flaked_percent"), share(loss, "cracked_percent")};
  seen.flaked = interval(loss, "flaked_percent", "flaked_low", "flaked_high", seen.loss.flaked);
  seen.older_coat = interval(loss, "older_coat_percent", "older_coat_low", "older_coat_high",
                             share_or(loss, "older_coat_percent", {0}));
  seen.older_colour = worded_if<Colour>(loss, "older_coat_colour", kColourWords);

  const Fields appearance = from.object("appearance");
  seen.appearance.contrast = appearance.number_if("contrast", 0, kAnything);
  seen.appearance.faded = share_or(appearance, "faded_percent", {0});
  seen.appearance.soiled = share_or(appearance, "soiled_percent", {0});
  seen.faded = interval(appearance, "faded_percent", "faded_low", "faded_high", seen.appearance.faded);

  if (const auto grade = from.object_if("flaking_grade")) {
    seen.flaking_grade = FlakingGrade{grade->whole("density", 0, 5), grade->whole("size", 0, 5)};
  }
  seen.in_doubt = from.flag_if("in_doubt").value_or(false);
  seen.doubts = from.texts("doubts");
  return seen;
}

SurveyMarking read_marking(const Fields& from) {
  SurveyMarking marking;
  marking.id = from.text("id");
  if (marking.id.empty()) from.refuse("id", "must not be empty");
  marking.photo = from.text("photo");
  marking.kind = worded<Kind>(from, "kind", kKindWords);
  marking.kind_confidence = from.number("kind_confidence", 0, 1);
  marking.words = from.text_if("words").value_or("");
  marking.outline = read_outline(from);
  marking.condition = read_condition(from);
  marking.decision.action = worded<Action>(from, "action", kActionWords);
  marking.decision.action_confidence = from.number("action_confidence", 0, 1);
  marking.decision.reasons = from.texts("reasons");
  marking.decision.needs_review = from.flag_if("needs_review").value_or(false);
  marking.decision.priority = from.number("priority", 0, 1);
  marking.same_as = from.text_if("same_as");
  marking.same_as_confidence = from.number_if("same_as_confidence", 0, 1);
  if (const auto person = from.object_if("person")) {
    read_person(*person);  // so that a wrong field is named now, with its line, and not in the middle of an estimate
    marking.person_json = from.verbatim("person");
  }
  if (const auto evidence = from.object_if("evidence")) {
    marking.evidence_photo = evidence->text_if("photo").value_or("");
    marking.evidence_plan = evidence->text_if("plan").value_or("");
    marking.evidence_loss = evidence->text_if("loss").value_or("");
  }
  return marking;
}

Survey read_survey(const Fields& root) {
  if (root.text("format") != "lotwear-survey")
    root.refuse("format", "must be \"lotwear-survey\"; is this another file?");
  if (root.whole("version", 1, std::numeric_limits<int>::max()) != 1) {
    root.refuse("version", "is newer than this program reads; use the lotwear that made the survey");
  }
  Survey survey;
  survey.revision = root.whole_if("revision", 0, std::numeric_limits<int>::max()).value_or(0);
  if (const auto made_by = root.object_if("made_by")) survey.made_by_version = made_by->text_if("version").value_or("");
  if (const auto site = root.object_if("site")) {
    survey.site = {site->text_if("name"), site->text_if("client"), site->text_if("address")};
  }
  if (root.object_if("policy")) survey.policy_json = root.verbatim("policy");
  for (const Fields& photo : root.objects("photos", kMostPhotos))
    survey.photos.push_back(read_photo(photo));
  std::set<std::string> ids;
  for (const Fields& marking : root.objects("markings", kMostMarkings)) {
    survey.markings.push_back(read_marking(marking));
    if (!ids.insert(survey.markings.back().id).second)
      marking.refuse("id", "stands twice; every marking needs its own");
  }
  for (const Fields& problem : root.objects("problems", kMostProblems)) {
    survey.problems.push_back({problem.text_if("file").value_or(""), problem.text("what")});
  }
  return survey;
}

}  // namespace

PersonSays SurveyMarking::person() const {
  if (person_json.empty() || person_json == "null") return {};
  return read_person(Fields::of_text(person_json, id + ": person"));
}

EvidenceNames evidence_of(const SurveyMarking& marking) {
  if (!marking.person_json.empty() && marking.person_json != "null") {
    const Fields person = Fields::of_text(marking.person_json, marking.id + ": person");
    if (const auto own = person.object_if("evidence")) {
      return {own->text_if("photo").value_or(""), own->text_if("plan").value_or(""), own->text_if("loss").value_or("")};
    }
  }
  return {marking.evidence_photo, marking.evidence_plan, marking.evidence_loss};
}

SurveyMarking marking_from(const std::string& text, const std::string& name) {
  return read_marking(Fields::of_text(text, name));
}

Policy policy_of(const Survey& survey) {
  if (survey.policy_json.empty() || survey.policy_json == "null") return {};
  return read_policy(survey.policy_json, "the policy in the survey");
}

Survey load_survey(const std::filesystem::path& folder_or_file) {
  std::error_code unreadable;
  const bool is_folder = std::filesystem::is_directory(folder_or_file, unreadable);
  const std::filesystem::path file = is_folder ? folder_or_file / "survey.json" : folder_or_file;
  if (!std::filesystem::exists(file, unreadable) && !unreadable)
    throw Failure(fmt::format("{}: there is no survey; name the folder that assess wrote", file.string()));
  Survey survey = read_survey(Fields::of_text(read_file(file, kLargestFile), file.string()));
  // a copy under another name is a survey of its own
  if (file.filename() == "survey.json") catch_up(survey, file.parent_path());
  return survey;
}

}  // namespace lotwear
