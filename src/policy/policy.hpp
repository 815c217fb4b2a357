#pragma once
// Condition -> Decision by the action policy (models/policy.json): the first rule that applies decides, the reasons say
// which numbers decided, and a number whose interval spans its threshold asks for a person.

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/condition.hpp"
#include "base/kinds.hpp"

namespace lotwear {

/// Defaults as in models/policy.json, which is the file users change.
struct Policy {
  Fraction grind_flaked{0.10};
  Fraction grind_older_coat{0.05};
  int grind_adhesion_class = 2;            ///< this ASTM D3359 method B class or worse
  double grind_build_up_mm = 1.0;          ///< UFGS 02761N: 40 mil
  Fraction repaint_below{0.85};            ///< between ASTM D913 reference photographs 92 and 77
  Fraction repaint_faded{0.25};
  Fraction severity_full_at{0.20};         ///< remaining paint at which severity reaches 1
  double severity_of_grind = 0.6;
  std::map<std::string, double> consequence;  ///< by kind word or usage; see models/policy.json
};

/// What a person recorded; wins over what was measured.
struct PersonSays {
  std::optional<Kind> kind;
  std::optional<Colour> colour;
  std::optional<Action> action;
  std::optional<int> coats;
  std::optional<int> adhesion;             ///< tape-pull class 0..5, ASTM D3359 method B
  std::optional<bool> incompatible_below;
  std::optional<double> build_up_mm;
  std::optional<bool> build_up_sound;
  std::optional<std::string> note;
  std::optional<std::string> same_as;
  std::optional<bool> confirmed;
};

struct Decision {
  Action action = Action::no_action;
  double action_confidence = 0;            ///< below 0.7 when a deciding interval spans its threshold
  std::vector<std::string> reasons;        ///< in the owner's words
  bool needs_review = false;
  double priority = 0;                     ///< severity x consequence, 0..1
};

Decision decide(const Condition& condition, Kind kind, const Policy& policy, const PersonSays& person = {});

/// Throws Failure naming the file and the field.
Policy load_policy(const std::filesystem::path& file);

}  // namespace lotwear
