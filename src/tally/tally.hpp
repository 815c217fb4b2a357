#pragma once
// Survey + Rates -> Estimate: quantities, hours, price. Money is integer cents; rounding is half away from zero, once a
// line; totals are sums of rounded lines, so they add up on paper.
// 1. leave out markings that repeat another; take the person's word for kind, colour, outline and action
// 2. sort by kind, colour, surface and action; add up sizes and, by the rates, masking, paint, grinding and hours
// 3. price every line that needs work, then paint, beads and the journey; raise it to the minimum; add tax

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/kinds.hpp"
#include "survey/survey.hpp"
#include "tally/rates.hpp"

namespace lotwear {

enum class Units { us_customary, metric };

/// Markings of one kind, colour, surface and action. Without size a marking is counted; its sizes are missing from the
/// sums.
struct QuantityLine {
  Kind kind = Kind::other;
  Colour colour = Colour::other;
  Surface surface = Surface::other;
  Action action = Action::no_action;
  std::vector<std::string> markings;  ///< ids it came from
  int count = 0;
  double length_m = 0, area_m2 = 0, perimeter_m = 0;
  double masking_m = 0;                                      ///< outline to mask, for kinds that are masked
  double paint_l = 0, beads_kg = 0;                          ///< to bring, waste included
  double grind_m2 = 0;                                       ///< area with its margin, once, however many passes
  double clean_h = 0, mask_h = 0, grind_h = 0, paint_h = 0;  ///< hours of one person, by sizes
  int without_size = 0;                                      ///< markings counted whose sizes are missing from the sums
  std::vector<std::string> ids_without_size;
};

struct PriceLine {
  std::string what;     ///< in the owner's words
  double quantity = 0;  ///< rounded to hundredths: amount = quantity x unit price, to the cent
  std::string unit;
  std::int64_t unit_price_cents = 0, amount_cents = 0;
  std::string formula;  ///< which rate and which markings
};

struct PaintLine {
  Colour colour = Colour::other;
  double paint_l = 0, beads_kg = 0;
};

struct Estimate {
  Units units = Units::us_customary;  ///< of everything a person reads; the numbers here stay metric
  std::string rates_name, currency = "USD";
  std::vector<QuantityLine> quantities;
  std::vector<PaintLine> paint;
  std::vector<PriceLine> prices;
  std::int64_t subtotal_cents = 0, tax_cents = 0, total_cents = 0;
  double drying_h = 0;             ///< waiting for paint, all coats
  double person_h = 0;             ///< hours of all tasks, one person each
  double crew_h = 0;               ///< on site: set-up and the tasks shared evenly by the crew; drying not in it
  std::vector<std::string> notes;  ///< assumptions and what is missing, one sentence each
};

/// Throws Failure when a price goes beyond any job.
Estimate estimate(const Survey& survey, const Rates& rates, Units units);

/// estimate.json; same estimate, same bytes.
std::string estimate_text(const Estimate& estimate);
/// estimate.csv: RFC 4180. A text cell that a spreadsheet would take for a formula begins with an apostrophe.
std::string estimate_csv(const Estimate& estimate);

/// "1234.50"
std::string money_text(std::int64_t cents);

}  // namespace lotwear
