#include "scoring/score.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <set>

#include "base/kinds.hpp"
#include "scoring/match.hpp"

namespace lotwear::scoring {

namespace {

constexpr double kFoundFrom = 0.5, kAlarmBelow = 0.3;

MarkingScore of_truth(const rendering::MarkingTruth& t, const std::string& scene, bool sheet) {
  MarkingScore s;
  s.scene = scene;
  s.truth_id = t.id;
  s.kind = t.kind;
  s.colour = t.colour;
  s.surface = t.surface;
  s.action = t.action;
  s.near_threshold = t.near_threshold;
  s.sheet = sheet;
  s.whole = t.share_in_frame >= 0.98;
  s.remaining = 100 * t.remaining;
  s.abraded = 100 * t.abraded;
  s.flaked = 100 * t.flaked;
  s.cracked = 100 * t.cracked;
  s.faded = 100 * t.faded;
  s.area_m2 = t.area_m2;
  return s;
}

/// Photo points as a lens without distortion would have them, for laying them on the true plane.
ImageRing straightened(const ImageRing& ring, const rendering::SceneTruth& truth) {
  const ImagePoint middle{truth.width / 2.0, truth.height / 2.0};
  ImageRing straight;
  for (const ImagePoint& p : ring) {
    const ImagePoint off = p - middle;
    double scale = 1;
    for (int i = 0; i < 6; ++i) {
      const double r2 = dot(off, off) * scale * scale / (truth.focal_px * truth.focal_px);
      scale = 1 / (1 + truth.distortion * std::min(r2, 1.5));
    }
    straight.push_back(middle + off * scale);
  }
  return straight;
}

double area_on(const GroundFromImage& plane, const std::vector<ImageRing>& rings) {
  double mm2 = 0;
  for (const ImageRing& ring : rings)
    mm2 += area(plane(ring));
  return mm2 * 1e-6;
}

/// Whose error it is: the same area with either the outline or the plane as it truly is.
void add_split(MarkingScore& s, const SurveyMarking& m, const rendering::MarkingTruth& t,
               const rendering::SceneTruth& truth, const Survey& survey) {
  std::vector<ImageRing> outline;
  for (const ImageRing& ring : m.outline)
    outline.push_back(straightened(ring, truth));
  s.area_by_outline_m2 = area_on(truth.ground_from_image, outline);
  const auto photo = std::find_if(survey.photos.begin(), survey.photos.end(),
                                  [&](const SurveyPhoto& p) { return p.file == truth.photo; });
  if (photo == survey.photos.end() || !photo->plane) return;
  s.area_by_plane_m2 = area_on(GroundFromImage(photo->plane->image_to_ground), t.footprint);
}

void add_measured(MarkingScore& s, const SurveyMarking& m, double overlap) {
  s.found = true;
  s.survey_id = m.id;
  s.counted_as = m.same_as.value_or(m.id);
  s.overlap = overlap;
  s.kind_said = m.kind;
  s.colour_said = m.condition.colour;
  s.surface_said = m.condition.surface;
  s.action_said = m.decision.action;
  s.remaining_said = percent(m.condition.remaining.value);
  s.low = percent(m.condition.remaining.low);
  s.high = percent(m.condition.remaining.high);
  s.abraded_said = percent(m.condition.loss.abraded);
  s.flaked_said = percent(m.condition.loss.flaked);
  s.cracked_said = percent(m.condition.loss.cracked);
  s.faded_said = percent(m.condition.appearance.faded);
  if (!m.condition.size) return;
  s.area_m2_said = m.condition.size->area_m2;
  s.size_error = m.condition.size->error.value;
}

}  // namespace

SceneScore score_scene(const rendering::SceneTruth& truth, const std::string& scene, const Survey& survey) {
  const cv::Size photo(truth.width, truth.height);
  SceneScore score;
  score.scene = scene;
  score.tier = std::string(rendering::kTierWords[static_cast<std::size_t>(truth.tier)]);
  score.lot = score.tier + "-" + std::to_string(truth.seed);
  std::vector<Cover> counted, all, measured;
  std::vector<const rendering::MarkingTruth*> truths;
  for (const rendering::MarkingTruth& t : truth.markings) {
    all.emplace_back(t.footprint, photo);
    if (!t.count) continue;
    counted.push_back(all.back());
    truths.push_back(&t);
  }
  std::vector<const SurveyMarking*> markings;
  for (const SurveyMarking& m : survey.markings) {
    if (m.photo != truth.photo) continue;
    markings.push_back(&m);
    measured.emplace_back(m.outline, photo);
  }
  const std::vector<Pair> pairs = match(counted, measured, kFoundFrom);
  for (std::size_t t = 0; t < truths.size(); ++t) {
    score.markings.push_back(of_truth(*truths[t], scene, truth.sheet));
    for (const Pair& p : pairs) {
      if (p.truth != t) continue;
      add_measured(score.markings.back(), *markings[p.marking], p.overlap);
      add_split(score.markings.back(), *markings[p.marking], *truths[t], truth, survey);
    }
  }
  const std::vector<std::size_t> alarms = false_alarms(all, measured, pairs, kAlarmBelow);
  for (std::size_t m = 0; m < markings.size(); ++m) {
    const bool matched = std::any_of(pairs.begin(), pairs.end(), [&](const Pair& p) { return p.marking == m; });
    if (matched || markings[m]->same_as) continue;
    const bool alarm = std::find(alarms.begin(), alarms.end(), m) != alarms.end();
    (alarm ? score.alarm_ids : score.piece_ids).push_back(markings[m]->id);
  }
  return score;
}

Spread spread(std::vector<double> absolute) {
  Spread s;
  s.n = static_cast<int>(absolute.size());
  if (absolute.empty()) return s;
  std::sort(absolute.begin(), absolute.end());
  s.mean = std::accumulate(absolute.begin(), absolute.end(), 0.0) / static_cast<double>(absolute.size());
  s.p90 = absolute[std::min(absolute.size() - 1, static_cast<std::size_t>(0.9 * static_cast<double>(absolute.size())))];
  s.worst = absolute.back();
  return s;
}

namespace {

void add_repeats(const std::vector<SceneScore>& scenes, Totals& t) {
  std::map<std::pair<std::string, std::string>, std::vector<const MarkingScore*>> seen;  // lot and truth
  std::map<std::pair<std::string, std::string>, std::set<std::string>> joined;           // tier and counted marking
  for (const SceneScore& scene : scenes) {
    for (const MarkingScore& m : scene.markings) {
      if (!m.found || m.counted_as.empty()) continue;
      seen[{scene.lot, m.truth_id}].push_back(&m);
      joined[{scene.tier, m.counted_as}].insert(scene.lot + " " + m.truth_id);
    }
  }
  for (const auto& [which, views] : seen) {
    for (std::size_t i = 1; i < views.size(); ++i)
      ++t.twice, t.counted_once += views[i]->counted_as == views[0]->counted_as;
  }
  for (const auto& [which, truths] : joined)
    t.wrongly_joined += static_cast<int>(truths.size()) - 1;
}

}  // namespace

Totals total(const std::vector<SceneScore>& scenes) {
  Totals t;
  add_repeats(scenes, t);
  std::vector<double> errors;
  struct {
    std::vector<double> said, by_plane, by_outline;
    double inside = 0;
  } areas[2];
  double inside = 0, width = 0, cause = 0, flaked = 0, faded = 0;
  for (const SceneScore& scene : scenes) {
    ++t.photos;
    t.alarms += static_cast<int>(scene.alarm_ids.size());
    t.pieces += static_cast<int>(scene.piece_ids.size());
    for (const MarkingScore& m : scene.markings) {
      ++t.truths;
      const bool grind = m.action == Action::grind_and_repaint;
      t.grinds += grind;
      if (!m.found) continue;
      ++t.found;
      errors.push_back(std::abs(m.remaining_said - m.remaining));
      inside += m.remaining >= m.low && m.remaining <= m.high ? 1 : 0;
      width += m.high - m.low;
      cause += (std::abs(m.abraded_said - m.abraded) + std::abs(m.flaked_said - m.flaked) +
                std::abs(m.cracked_said - m.cracked)) /
               3;
      flaked += std::abs(m.flaked_said - m.flaked);
      faded += std::abs(m.faded_said - m.faded);
      if (m.area_m2_said && m.whole && m.area_m2 > 0) {
        auto& group = areas[m.sheet ? 1 : 0];
        const auto off = [&](double said) { return 100 * std::abs(said / m.area_m2 - 1); };
        group.said.push_back(off(*m.area_m2_said));
        if (m.area_by_plane_m2) group.by_plane.push_back(off(*m.area_by_plane_m2));
        if (m.area_by_outline_m2) group.by_outline.push_back(off(*m.area_by_outline_m2));
        // an area's error is twice its lengths'; 1.645 of it either way are 90 %
        group.inside += std::abs(std::log(*m.area_m2_said / m.area_m2)) <= 1.645 * 2 * m.size_error ? 1 : 0;
      }
      const bool same = m.action_said == m.action, said_grind = m.action_said == Action::grind_and_repaint;
      t.same_action += same;
      t.clear_cases += !m.near_threshold;
      t.same_action_clear += same && !m.near_threshold;
      t.grinds_missed += grind && !said_grind;
      t.grinds_false += said_grind && !grind;
      t.same_kind += m.kind_said == m.kind;
      t.same_colour += m.colour_said == m.colour;
      t.same_surface += m.surface_said == m.surface;
    }
  }
  t.remaining = spread(errors);
  for (const bool sheet : {false, true}) {
    const auto& group = areas[sheet ? 1 : 0];
    Totals::Areas& shown = sheet ? t.with_sheet : t.without_sheet;
    shown.said = spread(group.said), shown.by_plane = spread(group.by_plane),
    shown.by_outline = spread(group.by_outline);
    if (!group.said.empty()) shown.inside = group.inside / static_cast<double>(group.said.size());
  }
  if (t.found > 0) {
    t.inside_interval = inside / t.found;
    t.interval_width = width / t.found;
    t.cause_error = cause / t.found;
    t.flaked_error = flaked / t.found;
    t.faded_error = faded / t.found;
  }
  return t;
}

}  // namespace lotwear::scoring
