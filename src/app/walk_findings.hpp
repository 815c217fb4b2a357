#pragma once
// What photos of one walk say to each other, when all are in: one hand's height, one scale of one ground, the parts of
// a marking too long for one photo.

#include <optional>
#include <vector>

#include "ground/walk.hpp"
#include "overlap/seen_again.hpp"
#include "survey/survey.hpp"

namespace lotwear {

/// One photo's part of the survey; ids are given when all photos are in.
struct PhotoFindings {
  SurveyPhoto photo;
  std::vector<SurveyMarking> markings;
  std::vector<Problem> problems;
  WalkPhoto walk;
  std::optional<CameraHeight> height_assumed;  ///< what the scale rests on, where that is all it rests on
  SeenPhoto seen;                              ///< for photos that show the same ground; markings as in `markings`
};

/// Photos in their order, as `overlap` wants them; takes their looks at the ground. Copies of a photo under another
/// name repeat nothing: they are left out.
std::vector<SeenPhoto> seen_photos(std::vector<PhotoFindings>& all);

/// What all photos of a marking together say of its size, said with the one that shows it best.
void join_parts(std::vector<PhotoFindings>& all, const std::vector<SeenInParts>& parts);

/// A photo takes its scale from one of the same ground that knows it far better: the sheet lay in one of the two.
void hold_by_overlap(std::vector<PhotoFindings>& all, const std::vector<SameSpot>& spots);

/// A photo whose scale rests on how high a hand holds a phone takes that height from the walk's other photos.
void hold_by_walk(std::vector<PhotoFindings>& all);

/// Two photos of one marking that do not say the same: the one that counts asks for a person.
void compare_views(SurveyMarking& counted, const SurveyMarking& other);

}  // namespace lotwear
