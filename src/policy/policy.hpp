#pragma once
// Condition -> Decision by the action policy (models/policy.json): the first rule that applies decides, the reasons say
// which numbers decided, and a number whose interval spans its threshold asks for a person.

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/condition.hpp"
#include "base/geometry.hpp"
#include "base/kinds.hpp"

namespace lotwear {

/// Harm done by the marking's absence, 0..1, by kind word or usage; see models/policy.json.
std::map<std::string, double> usual_consequence();

/// Defaults as in models/policy.json, which is the file users change.
struct Policy {
  Fraction grind_flaked{0.10};
  Fraction grind_older_coat{0.05};
  int grind_adhesion_class = 2;            ///< this ASTM D3359 method B class or worse
  double grind_build_up_mm = 1.0;          ///< UFGS 02761N: 40 mil
  Fraction grind_build_up_cracked{0.01};   ///< a build-up cracked over this share is not sound, whatever was recorded
  Fraction repaint_below{0.85};            ///< between ASTM D913 reference photographs 92 and 77
  Fraction repaint_faded{0.25};
  Fraction severity_full_at{0.20};         ///< remaining paint at which severity reaches 1
  double severity_of_grind = 0.6;
  std::map<std::string, double> consequence = usual_consequence();
};

/// What a person recorded; wins over what was measured.
struct PersonSays {
  std::optional<Kind> kind;
  std::optional<Colour> colour;
  std::optional<Action> action;
  std::optional<std::vector<ImageRing>> outline;  ///< photo pixels
  std::optional<int> coats;
  std::optional<int> adhesion;             ///< tape-pull class 0..5, ASTM D3359 method B
  std::optional<bool> incompatible_below;
  std::optional<double> build_up_mm;
  std::optional<bool> build_up_sound;
  std::optional<std::string> note;
  std::optional<std::string> same_as;
  std::optional<bool> confirmed;
  std::optional<bool> false_alarm;         ///< there is no marking here: it stays in the survey and counts nowhere
  std::optional<bool> added;               ///< drawn by hand where `assess` had found nothing
  std::optional<Condition> measured;       ///< measured again within `outline`
};

/// An answer is sure from here on; below it a person is asked.
inline constexpr double kSureFrom = 0.7;

struct Decision {
  Action action = Action::no_action;
  double action_confidence = 0;            ///< chance that the action is right; below kSureFrom when a deciding interval
                                           ///< spans its threshold
  std::vector<std::string> reasons;        ///< in the owner's words
  bool needs_review = false;
  double priority = 0;                     ///< severity x consequence, 0..1
};

/// What a person said wins over what was measured. Shares are compared as the survey prints them, to a tenth of a percent,
/// so a decision can be made again from the file and comes out the same.
Decision decide(const Condition& condition, Kind kind, const Policy& policy, const PersonSays& person = {});

/// 0..1. Red curbs, lines and legends count as fire lanes.
double consequence_of(Kind kind, Colour colour, const Policy& policy);

/// Throws Failure naming the file, the field and its line.
Policy load_policy(const std::filesystem::path& file);
/// The same from text, as a survey carries it; `name` stands in messages.
Policy read_policy(const std::string& text, const std::string& name);

}  // namespace lotwear
