#include "views/report_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "tally/units.hpp"

namespace lotwear {

namespace {

bool is_day(const std::string& iso) {
  if (iso.size() < 10 || iso[4] != '-' || iso[7] != '-') return false;
  for (const std::size_t i : {0U, 1U, 2U, 3U, 5U, 6U, 8U, 9U}) {
    if (iso[i] < '0' || iso[i] > '9') return false;
  }
  return true;
}

}  // namespace

// A clause without a number, since nobody has measured one.
std::string harm(Kind kind) {
  switch (kind) {
    case Kind::stop_line:
      return "drivers lose the mark that tells them where to stop";
    case Kind::yield_line:
      return "drivers lose the mark that tells them where to give way";
    case Kind::crosswalk:
      return "drivers no longer see where people on foot cross";
    case Kind::accessible_symbol:
      return "the space can no longer be told from an ordinary one, and gets blocked";
    case Kind::hatching:
      return "the area that has to stay clear gets parked on";
    case Kind::legend:
      return "its words can no longer be read";
    case Kind::curb:
      return "the curb no longer says where stopping is not allowed";
    case Kind::line:
      return "cars stop keeping to their spaces and lanes";
    case Kind::other:
      return "what it says can no longer be seen";
    default:
      return "drivers lose the direction of travel";
  }
}

std::string task_words(Task task) {
  switch (task) {
    case Task::set_up:
      return "Setting up";
    case Task::grind:
      return "Grinding";
    case Task::collect:
      return "Collecting dust";
    case Task::clean:
      return "Cleaning";
    case Task::dry:
      return "Drying pavement";
    case Task::mask:
      return "Masking";
    case Task::prime:
      return "Priming";
    case Task::paint:
      return "Painting";
    case Task::wait:
      return "Paint drying";
    case Task::pack_up:
      return "Packing up";
  }
  return "";
}

std::string option_title(BidOption option) {
  switch (option) {
    case BidOption::safety_only:
      return "Safety only";
    case BidOption::needs_work:
      return "All that needs work";
    case BidOption::full_lot:
      return "The full lot";
  }
  return "";
}

std::string option_meaning(BidOption option) {
  switch (option) {
    case BidOption::safety_only:
      return "Worn markings whose absence can hurt somebody: where to stop, where people cross, which way traffic "
             "goes, "
             "accessible spaces, fire lanes.";
    case BidOption::needs_work:
      return "Every marking that is worn, faded or letting go.";
    case BidOption::full_lot:
      return "The same, and a fresh coat on every marking that is still sound, so that the whole lot looks alike.";
  }
  return "";
}

std::string marking_title(const SurveyMarking& marking) {
  const std::string words = words_of(marking), title = kind_title(kind_of(marking));
  return words.empty() ? title : title + " \u201c" + words + "\u201d";
}

std::string kind_title(Kind kind) {
  switch (kind) {
    case Kind::line:
      return "Line";
    case Kind::stop_line:
      return "Stop line";
    case Kind::crosswalk:
      return "Crosswalk";
    case Kind::arrow_straight:
      return "Straight arrow";
    case Kind::arrow_left:
      return "Left-turn arrow";
    case Kind::arrow_right:
      return "Right-turn arrow";
    case Kind::arrow_straight_left:
      return "Straight and left arrow";
    case Kind::arrow_straight_right:
      return "Straight and right arrow";
    case Kind::arrow_left_right:
      return "Left and right arrow";
    case Kind::accessible_symbol:
      return "Accessible symbol";
    case Kind::hatching:
      return "Hatching";
    case Kind::legend:
      return "Legend";
    case Kind::yield_line:
      return "Yield line";
    case Kind::curb:
      return "Curb";
    case Kind::other:
      return "Other marking";
  }
  return "Marking";
}

std::string action_title(Action action) {
  switch (action) {
    case Action::no_action:
      return "Leave as it is";
    case Action::repaint:
      return "Repaint";
    case Action::grind_and_repaint:
      return "Grind and repaint";
  }
  return "";
}

std::string action_meaning(Action action) {
  switch (action) {
    case Action::no_action:
      return "Sound and visible: no work this time.";
    case Action::repaint:
      return "Worn or faded, but what is left holds: a new coat can go on top.";
    case Action::grind_and_repaint:
      return "The old coat is letting go: it has to be ground off first, or the new paint comes off with it.";
  }
  return "";
}

std::string if_it_waits(Kind kind, Action action) {
  switch (action) {
    case Action::no_action:
      return "Nothing is lost by waiting. Look again on the next yearly walk.";
    case Action::repaint:
      return fmt::format("It keeps wearing, and in the end {}. As long as the coat holds, a new coat is all it takes.",
                         harm(kind));
    case Action::grind_and_repaint:
      return fmt::format("More of the old coat lets go, and {}. A coat painted over it now would come off with it.",
                         harm(kind));
  }
  return "";
}

std::string plane_words(const std::string& source) {
  static constexpr std::array<std::array<const char*, 2>, 5> words = {
      {{"scale-sheet", "Scale sheet in the photo"},
       {"stripe-width", "Usual width of a line"},
       {"shape", "Usual size of a marking"},
       {"focal-length", "Edges of markings; size by guess"},
       {"assumed", "Usual way to hold a phone; size by guess"}}};
  for (const auto& [word, meaning] : words) {
    if (source == word) return meaning;
  }
  return source;
}

std::string loss_words(Spot spot) {
  switch (spot) {
    case Spot::paint:
      return "paint left";
    case Spot::abraded:
      return "worn off";
    case Spot::flaked:
      return "flaked off";
    case Spot::cracked:
      return "cracked";
    case Spot::older_coat:
      return "older coat in sight";
    case Spot::soiled:
      return "paint under dirt";
    default:
      return "not seen";
  }
}

std::string number(double value, int decimals) {
  std::string digits = fmt::format("{:.{}f}", std::abs(value), decimals);
  const bool negative = value < 0 && digits.find_first_of("123456789") != std::string::npos;
  const std::size_t whole = std::min(digits.find('.'), digits.size());
  for (std::size_t at = whole; at > 3; at -= 3)
    digits.insert(at - 3, ",");
  return (negative ? "\u2212" : "") + digits;
}

std::string percent_words(double percent) { return number(percent, 0) + "\u00a0%"; }

std::string length_words(double metres, Units units) {
  if (units == Units::metric) {
    return metres < 0.6 ? number(metres * 1000, 0) + "\u00a0mm" : number(metres, 2) + "\u00a0m";
  }
  return metres < 2 * kMetresPerFoot ? number(metres / kMetresPerInch, 1) + "\u00a0in"
                                     : number(metres / kMetresPerFoot, 1) + "\u00a0ft";
}

std::string area_words(double square_metres, Units units) {
  if (units == Units::metric) return number(square_metres, 2) + "\u00a0m\u00b2";
  return number(square_metres / kSquareMetresPerSquareFoot, 1) + "\u00a0sq\u00a0ft";
}

std::string volume_words(double litres, Units units) {
  return units == Units::metric ? number(litres, 1) + "\u00a0l" : number(litres / kLitresPerGallon, 2) + "\u00a0gal";
}

std::string money_words(std::int64_t cents, const std::string& currency) {
  const std::uint64_t size = cents < 0 ? 0U - static_cast<std::uint64_t>(cents) : static_cast<std::uint64_t>(cents);
  std::string units = std::to_string(size / 100);
  for (std::size_t at = units.size(); at > 3; at -= 3)
    units.insert(at - 3, ",");
  const std::string amount = fmt::format("{}.{:02}", units, size % 100);
  const char* sign = cents < 0 ? "\u2212" : "";
  return currency == "USD" ? fmt::format("{}${}", sign, amount) : fmt::format("{}{}\u00a0{}", sign, currency, amount);
}

std::string date_words(const std::string& iso) {
  static constexpr std::array months = {"January", "February", "March",     "April",   "May",      "June",
                                        "July",    "August",   "September", "October", "November", "December"};
  if (!is_day(iso)) return iso;
  const int month = std::stoi(iso.substr(5, 2)), day = std::stoi(iso.substr(8, 2));
  if (month < 1 || month > 12 || day < 1 || day > 31) return iso;
  return fmt::format("{} {} {}", day, months.at(static_cast<std::size_t>(month - 1)), iso.substr(0, 4));
}

std::string time_words(const std::string& iso) {
  if (!is_day(iso) || iso.size() < 16 || iso[10] != 'T') return iso;
  return iso.substr(0, 10) + "\u00a0" + iso.substr(11, 5);
}

std::string duration_words(double hours) {
  if (hours >= 1.5) return number(hours, 1) + "\u00a0hours";
  return counted(static_cast<int>(std::lround(hours * 60)), "minute", "minutes");
}

std::string counted(int count, const std::string& one, const std::string& many) {
  return fmt::format("{}\u00a0{}", count, count == 1 ? one : many);
}

std::string listed(const std::vector<std::string>& words) {
  std::string all;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) all += i + 1 == words.size() ? " and " : ", ";
    all += words[i];
  }
  return all;
}

}  // namespace lotwear
