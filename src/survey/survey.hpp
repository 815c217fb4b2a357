#pragma once
// The survey folder: survey.json and evidence/. The format is the contract between all commands; see DEVELOPERS.md.

#include <array>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/condition.hpp"
#include "base/geometry.hpp"
#include "base/trouble.hpp"
#include "policy/policy.hpp"

namespace lotwear {

struct SurveySite { std::optional<std::string> name, client, address; };

struct SurveyPhoto {
  std::string file, sha256;
  int width = 0, height = 0;
  std::optional<std::string> taken;
  struct Place { double lat = 0, lon = 0; std::optional<double> error_m; };
  std::optional<Place> position;
  double sharpness = 0, clipped_percent = 0;
  std::vector<std::string> advice;
  struct Plane {
    std::string source;
    std::array<double, 9> image_to_ground{};        ///< row-major, photo pixels -> ground millimetres
    std::optional<double> scale_error_percent;
  };
  std::optional<Plane> plane;
};

struct SurveyMarking {
  std::string id, photo;
  Kind kind = Kind::other;
  double kind_confidence = 0;
  std::string words;                         ///< of a legend, as far as they were read
  std::vector<ImageRing> outline;
  Condition condition;                       ///< colour, surface, size, paint, loss, appearance, flaking grade
  Decision decision;
  std::optional<std::string> same_as;
  std::optional<double> same_as_confidence;  ///< 0..1, where assess found that it repeats another
  std::string person_json = "null";          ///< the `person` object as text, "null" when nobody said anything: kept verbatim
  std::string evidence_photo, evidence_plan, evidence_loss;  ///< relative to the survey folder, may be empty

  PersonSays person() const;                 ///< parsed from person_json; throws Failure naming the marking and the field
};

struct Survey {
  std::string made_by_version;
  long revision = 0;                         ///< of what people decided: one more for every change made in `review`
  SurveySite site;
  std::string policy_json = "null";          ///< the policy in force, whole
  std::vector<SurveyPhoto> photos;
  std::vector<SurveyMarking> markings;
  std::vector<Problem> problems;
};

/// survey.json of a survey folder (or the file itself), with what a review wrote into its journal and had no time left to
/// write into the survey. Throws Failure naming the file, the field and what to do.
Survey load_survey(const std::filesystem::path& folder_or_file);
/// The exact bytes of survey.json; same survey, same bytes.
std::string survey_text(const Survey& survey);
/// One marking as it stands in the file, and back. Throws Failure naming the field.
std::string marking_text(const SurveyMarking& marking);
SurveyMarking marking_from(const std::string& text, const std::string& name);
/// The condition's part of a marking, for `person.measured`.
std::string condition_text(const Condition& condition);
/// Writes survey.json atomically.
void save_survey(const Survey& survey, const std::filesystem::path& folder);

/// Values after what a person said: kind, colour, action and so on. What estimate and report read.
Kind kind_of(const SurveyMarking& marking);
std::string words_of(const SurveyMarking& marking);  ///< empty where it is no legend
Colour colour_of(const SurveyMarking& marking);
std::vector<ImageRing> outline_of(const SurveyMarking& marking);
/// As measured within the outline that holds: the person's, where one was drawn.
Condition condition_of(const SurveyMarking& marking);
/// A person found no marking here.
bool is_false_alarm(const SurveyMarking& marking);
/// Pictures of the outline that holds, relative to the survey folder; empty names where there are none.
struct EvidenceNames { std::string photo, plan, loss; };
EvidenceNames evidence_of(const SurveyMarking& marking);
/// Decision with the person's word in it, by the policy stored in the survey. As it was stored when nobody said anything.
Decision decision_of(const SurveyMarking& marking, const Policy& policy);
/// The marking that this one repeats, by the person's word first. A person who names the marking itself says that it is
/// one of its own.
std::optional<std::string> repeats(const SurveyMarking& marking);
/// Size as measured, or by the plane of its photo where a person corrected the outline. Nothing without scale.
std::optional<Size> size_of(const SurveyMarking& marking, const Survey& survey);
/// The policy stored in the survey; the defaults where it holds none. Throws Failure when it cannot be read.
Policy policy_of(const Survey& survey);

/// Carries `person`, ids and the site from an older survey of the same photos into a fresh one: matched by photo hash and
/// outline overlap. A person's marking that found no partner is kept as it was, with a line in `problems`. Fresh markings
/// without a partner never take an id that the older survey used. Call it before evidence is named after the ids.
Survey keep_person(Survey fresh, const Survey& before);

}  // namespace lotwear
