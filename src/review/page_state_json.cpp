#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <nlohmann/json.hpp>

#include "policy/fields.hpp"
#include "review/page_state.hpp"
#include "review/template.hpp"
#include "views/site_plan.hpp"

namespace lotwear {

namespace {

using nlohmann::ordered_json;

constexpr std::size_t kMostPoints = 20000;

std::string dumped(const ordered_json& value) {
  return value.dump(-1, ' ', false, ordered_json::error_handler_t::replace);
}

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}

double tenth(double value) { return std::round(value * 10) / 10; }

ordered_json json_of(const std::vector<ImageRing>& outline) {
  ordered_json rings = ordered_json::array();
  for (const ImageRing& ring : outline) {
    ordered_json points = ordered_json::array();
    for (const ImagePoint& p : ring)
      points.push_back({tenth(p.x), tenth(p.y)});
    rings.push_back(std::move(points));
  }
  return rings;
}

ordered_json json_of(const Decision& decision) {
  return {{"action", word(decision.action)},
          {"confidence", decision.action_confidence},
          {"reasons", decision.reasons},
          {"needs_review", decision.needs_review},
          {"priority", decision.priority}};
}

ordered_json size_of(const std::optional<Size>& size) {
  if (!size) return nullptr;
  return {{"area_m2", size->area_m2},
          {"length_m", size->length_m},
          {"width_m", size->width_m},
          {"error_percent", tenth(percent(size->error))}};
}

/// The measured numbers, and what the policy alone would say of them.
ordered_json measured_of(const SurveyMarking& marking, const Policy& policy) {
  const Decision alone = decide(marking.condition, marking.kind, policy);
  return {{"kind", word(marking.kind)},
          {"kind_confidence", marking.kind_confidence},
          {"colour", word(marking.condition.colour)},
          {"remaining", tenth(percent(marking.condition.remaining.value))},
          {"decision", json_of(alone)}};
}

ordered_json json_of(const SurveyMarking& marking, const std::map<std::string, std::size_t>& photos,
                     const Policy& policy) {
  const PersonSays said = marking.person();
  const Condition& seen = said.measured ? *said.measured : marking.condition;
  const EvidenceNames pictures = evidence_of(marking);
  ordered_json out;
  out["id"] = marking.id;
  const auto photo = photos.find(marking.photo);
  out["photo"] = photo == photos.end() ? ordered_json(nullptr) : ordered_json(photo->second);
  out["kind"] = word(said.kind.value_or(marking.kind));
  if (const std::string words = words_of(marking); !words.empty()) out["words"] = words;
  out["colour"] = word(said.colour.value_or(seen.colour));
  out["surface"] = word(seen.surface);
  out["outline"] = json_of(said.outline ? *said.outline : marking.outline);
  out["remaining"] = {tenth(percent(seen.remaining.low)), tenth(percent(seen.remaining.value)),
                      tenth(percent(seen.remaining.high))};
  out["loss"] = {{"abraded", tenth(percent(seen.loss.abraded))}, {"flaked", tenth(percent(seen.loss.flaked))},
                 {"cracked", tenth(percent(seen.loss.cracked))}, {"older", tenth(percent(seen.older_coat.value))},
                 {"faded", tenth(percent(seen.faded.value))},    {"soiled", tenth(percent(seen.appearance.soiled))}};
  out["older_colour"] = seen.older_colour ? ordered_json(word(*seen.older_colour)) : ordered_json(nullptr);
  out["unmeasured"] = seen.seen.value == 0;
  out["size"] = size_of(said.measured || !said.outline ? seen.size : std::nullopt);
  out["decision"] = json_of(marking.decision);
  out["same_as"] = or_null(repeats(marking));
  out["person"] = ordered_json::parse(marking.person_json.empty() ? "null" : marking.person_json);
  if (out["person"].is_object()) {  // long, and told above
    for (const char* name : {"outline", "measured", "evidence"})
      out["person"].erase(name);
  }
  out["redrawn"] = said.outline.has_value() && !said.added.value_or(false);
  out["measured"] = measured_of(marking, policy);
  out["pictures"] = {{"photo", pictures.photo}, {"plan", pictures.plan}, {"loss", pictures.loss}};
  return out;
}

ordered_json json_of(const SurveyPhoto& photo, const SurveyPhoto* first, const std::optional<std::string>& trouble) {
  ordered_json out = {{"file", photo.file},
                      {"width", photo.width},
                      {"height", photo.height},
                      {"taken", or_null(photo.taken)},
                      {"plane", photo.plane.has_value()},
                      {"advice", photo.advice},
                      {"trouble", or_null(trouble)},
                      {"place", nullptr}};
  if (photo.position && first != nullptr) {
    const EastNorth at = east_north(*first->position, *photo.position);
    out["place"] = {tenth(at.east_m), tenth(at.north_m)};
  }
  return out;
}

template <std::size_t N>
ordered_json words_of(const std::array<std::string_view, N>& words) {
  ordered_json list = ordered_json::array();
  for (const std::string_view one : words)
    list.push_back(std::string(one));
  return list;
}

std::map<std::string, std::size_t> places_of(const Survey& survey) {
  std::map<std::string, std::size_t> places;
  for (std::size_t i = 0; i < survey.photos.size(); ++i)
    places.emplace(survey.photos[i].file, i);
  return places;
}

void add_head(ordered_json& out, const Session::View& view) {
  out["revision"] = view.survey.revision;
  out["undo"] = or_null(view.undo);
  out["redo"] = or_null(view.redo);
}

}  // namespace

std::string whole_state(const Session::View& view, const std::vector<Shape>& shapes,
                        const std::vector<std::optional<std::string>>& photo_trouble) {
  const Survey& survey = view.survey;
  const Policy policy = policy_of(survey);
  ordered_json out;
  add_head(out, view);
  out["site"] = {{"name", or_null(survey.site.name)},
                 {"client", or_null(survey.site.client)},
                 {"address", or_null(survey.site.address)}};
  out["kinds"] = words_of(kKindWords);
  out["colours"] = words_of(kColourWords);
  out["actions"] = words_of(kActionWords);
  out["sure_from"] = kSureFrom;
  out["repaint_below"] = tenth(percent(policy.repaint_below));
  out["grind_adhesion"] = policy.grind_adhesion_class;
  out["shapes"] = ordered_json::array();
  for (const Shape& shape : shapes)
    out["shapes"].push_back({{"name", shape.name}, {"kind", word(shape.kind)}, {"hint", two_clicks(shape.kind)}});
  const auto first = std::find_if(survey.photos.begin(), survey.photos.end(),
                                  [](const SurveyPhoto& photo) { return photo.position.has_value(); });
  out["photos"] = ordered_json::array();
  for (std::size_t i = 0; i < survey.photos.size(); ++i) {
    out["photos"].push_back(json_of(survey.photos[i], first == survey.photos.end() ? nullptr : &*first,
                                    i < photo_trouble.size() ? photo_trouble[i] : std::nullopt));
  }
  const auto places = places_of(survey);
  out["markings"] = ordered_json::array();
  for (const SurveyMarking& marking : survey.markings)
    out["markings"].push_back(json_of(marking, places, policy));
  return dumped(out);
}

std::string changed_state(const Session::View& view, const Outcome& outcome, double measured_ms) {
  const Survey& survey = view.survey;
  const Policy policy = policy_of(survey);
  const auto places = places_of(survey);
  ordered_json out;
  add_head(out, view);
  out["what"] = outcome.what;
  out["measured_ms"] = tenth(measured_ms);
  out["markings"] = ordered_json::array();
  out["gone"] = ordered_json::array();
  for (const std::string& id : outcome.ids) {
    const auto at = std::find_if(survey.markings.begin(), survey.markings.end(),
                                 [&](const SurveyMarking& marking) { return marking.id == id; });
    if (at == survey.markings.end()) {
      out["gone"].push_back(id);
    } else {
      out["markings"].push_back(json_of(*at, places, policy));
    }
  }
  return dumped(out);
}

std::string trouble_text(const std::string& what) { return dumped({{"trouble", what}}); }

namespace {

template <class Enum, std::size_t N>
Enum word_in(const Fields& from, std::string_view name, const std::array<std::string_view, N>& words, Enum otherwise) {
  const std::optional<std::string> said = from.text_if(name);
  if (!said) return otherwise;
  const std::optional<Enum> found = from_word<Enum>(words, *said);
  if (!found) from.refuse(name, "is no word of the survey");
  return *found;
}

ImagePoint point_in(const Fields& from, std::string_view name) {
  constexpr double kFar = 1e7;
  const Fields point = from.object(name);
  return {point.number("x", -kFar, kFar), point.number("y", -kFar, kFar)};
}

std::vector<ImageRing> outline_in(const Fields& from) {
  std::vector<ImageRing> outline;
  for (const auto& ring : from.rings("outline", kMostPoints)) {
    ImageRing& read = outline.emplace_back();
    for (const auto& [x, y] : ring)
      read.push_back({x, y});
  }
  return outline;
}

}  // namespace

Wish read_wish(const std::string& body) {
  constexpr std::array<std::string_view, 6> kWishWords = {"say", "draw", "add", "lay", "undo", "redo"};
  const Fields from = Fields::of_text(body, "the change");
  Wish wish;
  const std::string is = from.text("is");
  const auto found = from_word<Wish::Is>(kWishWords, is);
  if (!found) from.refuse("is", "is no change that can be made here");
  wish.is = *found;
  wish.revision = from.whole("revision", 0, std::numeric_limits<int>::max());
  wish.id = from.text_if("id").value_or("");
  if (wish.is == Wish::Is::say || wish.is == Wish::Is::draw) wish.id = from.text("id");
  if (wish.is == Wish::Is::say) {
    from.object("fields");
    wish.fields = from.verbatim("fields");
  }
  if (from.has("outline")) wish.outline = outline_in(from);
  if (wish.is == Wish::Is::add && !wish.outline) from.refuse("outline", "is missing");
  if (wish.is == Wish::Is::add || wish.is == Wish::Is::lay) {
    wish.photo = static_cast<std::size_t>(from.whole("photo", 0, std::numeric_limits<int>::max()));
    wish.kind = word_in(from, "kind", kKindWords, Kind::other);
    wish.colour = word_in(from, "colour", kColourWords, Colour::other);
  }
  if (wish.is == Wish::Is::lay) {
    wish.shape = from.text("shape");
    wish.from = point_in(from, "from");
    wish.to = point_in(from, "to");
  }
  return wish;
}

std::string text_in(const std::string& body, const char* name) {
  return Fields::of_text(body, "the message").text(name);
}

std::size_t number_in(const std::string& body, const char* name) {
  return static_cast<std::size_t>(Fields::of_text(body, "the message").whole(name, 0, std::numeric_limits<int>::max()));
}

}  // namespace lotwear
