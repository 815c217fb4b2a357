#pragma once
// Words and numbers as an owner reads them. No locale: a point for decimals, a comma between thousands.

#include <cstdint>
#include <optional>
#include <string>

#include "base/condition.hpp"
#include "base/kinds.hpp"
#include "measure/measure.hpp"
#include "survey/survey.hpp"
#include "tally/tally.hpp"

namespace lotwear {

std::string kind_title(Kind kind);        ///< "Stop line"
std::string marking_title(const SurveyMarking& marking);  ///< the same, a legend with its words
std::string action_title(Action action);  ///< "Grind and repaint"
/// What the action means for the owner, one sentence.
std::string action_meaning(Action action);
/// What happens to this marking when nothing is done this year.
std::string if_it_waits(Kind kind, Action action);
/// "the plane of the scale sheet" and so on, from the words of `plane.source`.
std::string plane_words(const std::string& source);
/// "flaked off" and so on.
std::string loss_words(Spot spot);
/// "Grinding", "Waiting for paint to dry" and so on.
std::string task_words(Task task);
/// What an option takes, "Only what is a safety matter" and so on.
std::string option_title(BidOption option);
std::string option_meaning(BidOption option);
/// What its absence does, as a clause.
std::string harm(Kind kind);

/// Rounded to `decimals`, thousands apart: "1,234.5"; never "-0".
std::string number(double value, int decimals);
std::string percent_words(double percent);  ///< "63 %"
std::string length_words(double metres,
                         Units units);  ///< "18.0 ft", "4.0 in" below 2 ft; "5.49 m", "102 mm" below 0.6 m
std::string area_words(double square_metres, Units units);
std::string volume_words(double litres, Units units);
/// "$1,234.50"; other currencies by their code: "EUR 1,234.50".
std::string money_words(std::int64_t cents, const std::string& currency);
/// "11 April 2026" from "2026-04-11" or longer; anything else as it is.
std::string date_words(const std::string& iso);
/// "2026-04-11 09:02"; anything else as it is.
std::string time_words(const std::string& iso);
/// "25 minutes", from an hour and a half on "1.8 hours".
std::string duration_words(double hours);
/// "1 marking", "2 markings".
std::string counted(int count, const std::string& one, const std::string& many);
/// "a, b and c".
std::string listed(const std::vector<std::string>& words);

}  // namespace lotwear
