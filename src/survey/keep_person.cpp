#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

#include "survey/overlap.hpp"
#include "survey/survey.hpp"

namespace lotwear {

namespace {

// A stripe ten pixels wide, found three pixels off, still shares half; neighbours share nothing.
constexpr double kSameMarking = 0.3;

using HashOfPhoto = std::map<std::string, std::string>;

HashOfPhoto hashes(const Survey& survey) {
  HashOfPhoto hashes;
  for (const SurveyPhoto& photo : survey.photos)
    hashes[photo.file] = photo.sha256;
  return hashes;
}

/// The photo's content, or its name where no content is known.
std::string content(const HashOfPhoto& hashes, const std::string& photo) {
  const auto at = hashes.find(photo);
  return at == hashes.end() || at->second.empty() ? "name " + photo : "hash " + at->second;
}

struct Pair {
  double shared = 0;
  bool same_name = false;
  std::size_t before = 0, fresh = 0;
};

/// Best overlap first; ties by photo name, then by order, so that the answer never depends on chance.
std::vector<Pair> candidates(const Survey& fresh, const Survey& before) {
  const HashOfPhoto fresh_hashes = hashes(fresh), before_hashes = hashes(before);
  std::multimap<std::string, std::size_t> fresh_by_content;
  for (std::size_t i = 0; i < fresh.markings.size(); ++i) {
    fresh_by_content.emplace(content(fresh_hashes, fresh.markings[i].photo), i);
  }
  std::vector<Pair> pairs;
  for (std::size_t j = 0; j < before.markings.size(); ++j) {
    const SurveyMarking& old = before.markings[j];
    const auto [from, to] = fresh_by_content.equal_range(content(before_hashes, old.photo));
    for (auto at = from; at != to; ++at) {
      const SurveyMarking& found = fresh.markings[at->second];
      // a better reading may lie nearer to what the person drew than to what was found before
      double shared = shared_share(found.outline, old.outline);
      if (const auto drawn = old.person().outline) shared = std::max(shared, shared_share(found.outline, *drawn));
      if (shared >= kSameMarking) pairs.push_back({shared, found.photo == old.photo, j, at->second});
    }
  }
  std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) {
    return std::tuple(-a.shared, !a.same_name, a.before, a.fresh) <
           std::tuple(-b.shared, !b.same_name, b.before, b.fresh);
  });
  return pairs;
}

bool said_something(const SurveyMarking& marking) {
  return !marking.person_json.empty() && marking.person_json != "null";
}

/// Ids that a person named as the same paint seen elsewhere.
std::set<std::string> named_by_persons(const Survey& survey) {
  std::set<std::string> named;
  for (const SurveyMarking& marking : survey.markings) {
    if (const auto other = marking.person().same_as) named.insert(*other);
  }
  return named;
}

/// Ids nobody has used yet, in the form M001.
class FreeIds {
 public:
  explicit FreeIds(std::set<std::string> taken) : taken_(std::move(taken)) {}
  std::string keep_or_make(const std::string& wish) {
    if (taken_.insert(wish).second) return wish;
    for (;;) {
      std::string made = fmt::format("M{:03}", next_++);
      if (taken_.insert(made).second) return made;
    }
  }

 private:
  std::set<std::string> taken_;
  std::size_t next_ = 1;
};

void keep_lost_marking(Survey& fresh, const Survey& before, SurveyMarking lost) {
  const HashOfPhoto fresh_hashes = hashes(fresh), before_hashes = hashes(before);
  const std::string shown = content(before_hashes, lost.photo);
  const auto holds_the_same = [&](const SurveyPhoto& photo) { return content(fresh_hashes, photo.file) == shown; };
  const auto here = std::find_if(fresh.photos.begin(), fresh.photos.end(), holds_the_same);
  std::string why = "was not found again";
  if (here != fresh.photos.end()) {
    lost.photo = here->file;
  } else if (fresh_hashes.contains(lost.photo)) {
    why = "was seen in another photo of this name, which has been replaced";
  } else {
    why = "lies in a photo that was not assessed this time";
    const auto at = std::find_if(before.photos.begin(), before.photos.end(),
                                 [&](const SurveyPhoto& photo) { return photo.file == lost.photo; });
    if (at != before.photos.end()) fresh.photos.push_back(*at);
  }
  // nobody expects to find again what a person drew by hand, or struck out
  const PersonSays said = lost.person();
  const bool expected = here != fresh.photos.end() && (said.added.value_or(false) || said.false_alarm.value_or(false));
  if (!expected) {
    fresh.problems.push_back(
        {lost.photo, fmt::format("{} {}; a person worked on it, so it is kept as it was", lost.id, why)});
  }
  fresh.markings.push_back(std::move(lost));
}

}  // namespace

Survey keep_person(Survey fresh, const Survey& before) {
  fresh.revision = before.revision;
  if (!fresh.site.name) fresh.site.name = before.site.name;
  if (!fresh.site.client) fresh.site.client = before.site.client;
  if (!fresh.site.address) fresh.site.address = before.site.address;

  std::vector<const SurveyMarking*> partner(fresh.markings.size(), nullptr);
  std::vector<bool> found_again(before.markings.size(), false);
  for (const Pair& pair : candidates(fresh, before)) {
    if (partner[pair.fresh] != nullptr || found_again[pair.before]) continue;
    partner[pair.fresh] = &before.markings[pair.before];
    found_again[pair.before] = true;
  }

  std::set<std::string> used_before;
  for (const SurveyMarking& old : before.markings)
    used_before.insert(old.id);
  FreeIds ids(std::move(used_before));
  std::map<std::string, std::string> renamed;
  for (std::size_t i = 0; i < fresh.markings.size(); ++i) {
    SurveyMarking& marking = fresh.markings[i];
    const std::string id = partner[i] != nullptr ? partner[i]->id : ids.keep_or_make(marking.id);
    renamed[marking.id] = id;
    marking.id = id;
    if (partner[i] != nullptr) marking.person_json = partner[i]->person_json;
  }
  for (SurveyMarking& marking : fresh.markings) {
    const auto at = marking.same_as ? renamed.find(*marking.same_as) : renamed.end();
    if (at != renamed.end()) marking.same_as = at->second;
  }
  const std::set<std::string> named = named_by_persons(before);
  for (std::size_t j = 0; j < before.markings.size(); ++j) {
    const SurveyMarking& old = before.markings[j];
    if (!found_again[j] && (said_something(old) || named.contains(old.id))) keep_lost_marking(fresh, before, old);
  }
  return fresh;
}

}  // namespace lotwear
