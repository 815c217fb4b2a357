#pragma once
// Where the markings lie, by the positions of the photos they were measured in: north up, with a scale bar. No map
// tiles: the drawing needs no network and claims no more than the phone knew.

#include <optional>
#include <string>
#include <vector>

#include "survey/survey.hpp"
#include "tally/tally.hpp"
#include "views/drawing.hpp"

namespace lotwear {

/// One marking to be numbered on the plan, in the order of the work.
struct PlanMark {
  std::string id;
  std::string photo;
  Action action = Action::no_action;
};

struct SitePlan {
  Drawing drawing;
  std::string caption;
  std::vector<std::string> without_position;  ///< ids of markings whose photos do not know where they were taken
};

/// Nothing when no photo with a marking has a position.
std::optional<SitePlan> site_plan(const Survey& survey, const std::vector<PlanMark>& marks, Units units);

/// Metres east and north of the first, on a plane that touches the earth (WGS 84) at its latitude; a lot is small.
struct EastNorth {
  double east_m = 0, north_m = 0;
};
EastNorth east_north(const SurveyPhoto::Place& from, const SurveyPhoto::Place& to);

}  // namespace lotwear
