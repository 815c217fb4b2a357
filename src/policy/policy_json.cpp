#include <algorithm>

#include "base/files.hpp"
#include "base/trouble.hpp"
#include "policy/fields.hpp"
#include "policy/policy.hpp"

namespace lotwear {

namespace {

constexpr std::size_t kLargestPolicy = 1 << 20;
constexpr double kThickestMm = 100;

Fraction share(const Fields& from, std::string_view name) { return {from.number(name, 0, 100) / 100}; }

bool is_consequence_word(const std::string& name) {
  return kind_from(name).has_value() || name == "arrow" || name == "fire-lane";
}

std::map<std::string, double> read_consequence(const Fields& from) {
  std::map<std::string, double> consequence;
  for (const std::string& name : from.names()) {
    if (!is_consequence_word(name)) from.refuse(name, "is no kind of marking, nor `arrow` or `fire-lane`");
    consequence[name] = from.number(name, 0, 1);
  }
  if (!consequence.contains("other")) from.refuse("other", "is missing; every kind that is not listed needs it");
  return consequence;
}

}  // namespace

Policy read_policy(const std::string& text, const std::string& name) {
  const Fields root = Fields::of_text(text, name);
  root.allow_only({"format", "version", "grind", "repaint", "priority"});
  if (root.text("format") != "lotwear-policy") root.refuse("format", "must be \"lotwear-policy\"");
  root.whole("version", 1, 1);

  const Fields grind = root.object("grind");
  grind.allow_only(
      {"flaked_percent", "older_coat_percent", "tape_pull_class", "build_up_mm", "build_up_cracked_percent"});
  const Fields repaint = root.object("repaint");
  repaint.allow_only({"remaining_below_percent", "faded_over_percent"});
  const Fields priority = root.object("priority");
  priority.allow_only({"severity_full_at_percent", "severity_of_grind", "consequence"});

  Policy policy;
  policy.grind_flaked = share(grind, "flaked_percent");
  policy.grind_older_coat = share(grind, "older_coat_percent");
  policy.grind_adhesion_class = grind.whole("tape_pull_class", 0, 5);
  policy.grind_build_up_mm = grind.number("build_up_mm", 0, kThickestMm);
  policy.grind_build_up_cracked = share(grind, "build_up_cracked_percent");
  policy.repaint_below = share(repaint, "remaining_below_percent");
  policy.repaint_faded = share(repaint, "faded_over_percent");
  policy.severity_full_at = {priority.number("severity_full_at_percent", 0, 99) / 100};
  policy.severity_of_grind = priority.number("severity_of_grind", 0, 1);
  policy.consequence = read_consequence(priority.object("consequence"));
  return policy;
}

Policy load_policy(const std::filesystem::path& file) {
  return read_policy(read_file(file, kLargestPolicy), file.filename().string());
}

}  // namespace lotwear
