#pragma once
// A survey against the truth of its scenes, in numbers.

#include <optional>
#include <string>
#include <vector>

#include "rendering/render.hpp"
#include "survey/survey.hpp"

namespace lotwear::scoring {

/// One counted truth and what the survey says of it.
struct MarkingScore {
  std::string scene, truth_id, survey_id;
  std::string counted_as;  ///< the survey marking it is counted as: its own, or the one that it repeats
  Kind kind = Kind::other, kind_said = Kind::other;
  Colour colour = Colour::other, colour_said = Colour::other;
  Surface surface = Surface::other, surface_said = Surface::other;
  Action action = Action::no_action, action_said = Action::no_action;
  bool found = false, near_threshold = false, sheet = false, whole = false;
  double overlap = 0;
  double remaining = 0, remaining_said = 0, low = 0, high = 0;  ///< percent
  double abraded = 0, abraded_said = 0, flaked = 0, flaked_said = 0, cracked = 0, cracked_said = 0;
  double faded = 0, faded_said = 0;
  double area_m2 = 0;
  std::optional<double> area_m2_said;
  double size_error = 0;                     ///< stated, one standard deviation of lengths as a share
  std::optional<double> area_by_plane_m2;    ///< the true outline laid on the survey's plane
  std::optional<double> area_by_outline_m2;  ///< the survey's outline laid on the true plane
};

struct SceneScore {
  std::string scene, tier;
  std::string lot;                     ///< the same for two photos of one lot
  std::vector<std::string> alarm_ids;  ///< markings that lie on nothing
  std::vector<std::string> piece_ids;  ///< markings on a truth that are not its outline: parts, neighbours run together
  std::vector<MarkingScore> markings;
};

struct Scores {
  std::string made_by;
  double seconds_per_photo = 0;
  std::vector<SceneScore> scenes;
};

/// Scores one photo; `photo_name` as the survey calls it.
SceneScore score_scene(const rendering::SceneTruth& truth, const std::string& scene, const Survey& survey);

struct Spread {
  int n = 0;
  double mean = 0, p90 = 0, worst = 0;
};
Spread spread(std::vector<double> absolute);

/// Everything the table shows.
struct Totals {
  int photos = 0, truths = 0, found = 0, alarms = 0, pieces = 0;
  Spread remaining;                                ///< error in points
  double inside_interval = 0, interval_width = 0;  ///< share; points
  /// Of one group of photos, errors in percent: as said; what the plane alone and what the outline alone would do.
  struct Areas {
    Spread said, by_plane, by_outline;
    double inside = 0;  ///< share of true areas in the stated 90 % interval
  };
  Areas with_sheet, without_sheet;
  int same_action = 0, clear_cases = 0, same_action_clear = 0, grinds = 0, grinds_missed = 0, grinds_false = 0;
  int same_kind = 0, same_colour = 0, same_surface = 0;
  double cause_error = 0, flaked_error = 0, faded_error = 0;  ///< mean points
  /// Markings found in two photos of one lot, those counted once; and found markings counted together with another one.
  int twice = 0, counted_once = 0, wrongly_joined = 0;
};
Totals total(const std::vector<SceneScore>& scenes);

std::string scene_table(const Scores& result);
std::string total_table(const Scores& result);
/// Each marking: measured beside true.
std::string marking_table(const Scores& result);
/// Scene by scene and paired.
std::string comparison(const Scores& before, const Scores& after);

std::string result_text(const Scores& result);
Scores result_from_text(const std::string& text, const std::string& file);

}  // namespace lotwear::scoring
